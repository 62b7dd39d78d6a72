"""Why a candidate is as it is: where torque, voltage and loss come from, and what a step changes.

Everything is evaluated, nothing estimated: the steps to neighbouring designs are designs of their
own, put through the same model.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from models.control.faults import open_circuit_flux
from models.evaluate import perform_design
from models.machine import ParameterValue
from models.nomenclature import PARAMETERS
from models.performance.drive import air_gap_torque
from models.performance.summary import Performance
from optim.export.drive_tables import shaft_envelope
from optim.export.plots.loss_split import LossCase, loss_split_data
from optim.service.designs import Assessment, Design, assess
from optim.store.contract import Store
from optim.study.model import Study

Array = NDArray[np.float64]

ANGLES = 10
"""Current angles shown, over a quarter turn."""
SPEED_SHARES = (0.1, 0.25, 0.5, 0.75, 1.0)
"""Speeds shown, over top speed."""


@dataclass(frozen=True, eq=False)
class TorqueParts:
    """Air-gap torque [N*m] over current angle [rad] at the largest current.

    The angle runs from the q axis to the d axis, on the side where the machine works (negative d
    where magnets lie on it). The torque of a cage has no such parts: they are None.
    """

    angle: Array
    total: Array
    magnet: Array | None

    @property
    def reluctance(self) -> Array | None:
        """What the magnets do not give [N*m]."""
        return None if self.magnet is None else self.total - self.magnet


@dataclass(frozen=True, eq=False)
class SpeedLine:
    """The envelope over speed at nominal DC voltage.

    Attributes
    ----------
    speed : ndarray, shape (n,)
        [rad/s].
    back_emf : ndarray
        Open-circuit line voltage, peak, rated magnets [V].
    current : ndarray
        Phase current at the envelope [A rms].
    field_current : ndarray
        Its part on the d axis [A peak], negative where it weakens the field.
    torque : ndarray
        At the shaft [N*m].
    """

    speed: Array
    back_emf: Array
    current: Array
    field_current: Array
    torque: Array


@dataclass(frozen=True, eq=False)
class Step:
    """One step away from a design.

    Attributes
    ----------
    name : str
        What it is, as in `+1 turn a coil`.
    changed : mapping of str to parameter value
        What it sets.
    result : Assessment
        The design there.
    """

    name: str
    changed: Mapping[str, ParameterValue]
    result: Assessment


@dataclass(frozen=True, eq=False)
class Explanation:
    """What `pick` says of the causes behind a candidate's numbers; `base` is the candidate."""

    base: Assessment
    torque: TorqueParts
    speeds: SpeedLine
    losses: tuple[LossCase, ...]
    steps: tuple[Step, ...]


def explain(result: Assessment, study: Study, store: Store | None = None) -> Explanation:
    """Explain a design under a study's duty.

    Parameters
    ----------
    result : Assessment
        A design that is a machine.
    study : Study
        Duty, limits and prices.
    store : Store or None
        Spares the evaluation of neighbours that are known.
    """
    design = result.design
    performance = perform_design(
        design.parameters, study.duty, family=design.family, model=design.model
    )
    return Explanation(
        base=result,
        torque=_torque_parts(performance),
        speeds=_speed_line(performance),
        losses=loss_split_data(performance),
        steps=tuple(
            Step(name, changed, assess(_changed(design, name, changed), study, store))
            for name, changed in steps_from(design).items()
        ),
    )


def steps_from(design: Design) -> dict[str, dict[str, ParameterValue]]:
    """Return the steps that a design can take: name to the parameters it sets.

    A pole pair comes with the slots of its poles, and with the parallel paths that its winding
    can have. Steps beyond a parameter's range are left out.
    """
    table = design.parameters
    poles, slots, paths = (int(table[n]) for n in ("poles", "slots", "parallel_paths"))
    more = poles + 2
    steps: dict[str, dict[str, ParameterValue]] = {}
    if (slots * more) % poles == 0:
        # Every pole is alike in the usual windings: paths that divide the poles are balanced.
        # Those are taken that leave the series turns of a phase nearest to what they were.
        fitting = min(
            (a for a in range(1, more + 1) if more % a == 0),
            key=lambda a: (abs(more / a - poles / paths), a),
        )
        steps["+1 pole pair"] = {
            "poles": more, "slots": slots * more // poles, "parallel_paths": fitting,
        }  # fmt: skip
    steps["+1 turn a coil"] = {"turns_per_coil": int(table["turns_per_coil"]) + 1}
    for name, words in (
        ("magnet_axial_segments", "+1 magnet piece along"),
        ("magnet_width_segments", "+1 magnet piece across"),
        ("bars", "+1 bar"),
    ):
        if name in table and PARAMETERS[name].kind == "integer":
            steps[words] = {name: int(table[name]) + 1}
    return {name: changed for name, changed in steps.items() if _is_allowed(changed)}


def _is_allowed(changed: Mapping[str, ParameterValue]) -> bool:
    return all(PARAMETERS[n].low <= float(v) <= PARAMETERS[n].high for n, v in changed.items())


def _changed(design: Design, name: str, changed: Mapping[str, ParameterValue]) -> Design:
    return replace(design, label=name, parameters={**design.parameters, **changed})


def _torque_parts(performance: Performance) -> TorqueParts:
    """Return torque over current angle at the inverter's current, in its parts."""
    table = performance.drive.table
    angle = np.linspace(0.0, 0.5 * pi, ANGLES)
    # Field weakening lies on the side of the d axis that the map covers.
    axis = performance.drive.maps.i_d
    side = float(np.sign(axis[np.argmax(np.abs(axis))]))
    i_d, i_q = side * table.current_peak * np.sin(angle), table.current_peak * np.cos(angle)
    total = air_gap_torque(performance.drive, i_d, i_q)
    if table.cage_loss is not None:
        return TorqueParts(angle=angle, total=total, magnet=None)
    temperature = performance.drive.maps.magnet_temperature
    magnet = [
        performance.model.magnet_torque(i_d=float(d), i_q=float(q), magnet_temperature=temperature)
        for d, q in zip(i_d, i_q)
    ]
    return TorqueParts(angle=angle, total=total, magnet=np.array(magnet))


def _speed_line(performance: Performance) -> SpeedLine:
    duty, drive = performance.duty, performance.drive
    speed = duty.top_speed * np.array(SPEED_SHARES)
    limit = shaft_envelope(drive, speed, duty.supply.dc_voltage)
    electrical = speed * performance.machine.pole_pairs
    return SpeedLine(
        speed=speed,
        back_emf=sqrt(3.0) * electrical * open_circuit_flux(drive.table),
        current=np.hypot(limit.i_d, limit.i_q) / sqrt(2.0),
        field_current=limit.i_d,
        torque=limit.torque,
    )
