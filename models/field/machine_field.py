"""A machine as field equations: media, winding, currents, flux linkages, torque."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import InvalidInputError
from models.field.assemble import System, assemble
from models.field.domain import mesh_section
from models.field.factor import Factor
from models.field.families import ROTOR_MEDIA
from models.field.media import AIR, Medium
from models.field.sizing import OVER_POLES, Resolution
from models.field.solve import Solution, at_angle, solve
from models.geometry.build import sector_section
from models.geometry.section import Region, Section
from models.geometry.sector import Sector, sector_of_winding
from models.machine import Machine
from models.materials.reluctivity import stacked

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FieldModel:
    """Field equations of a machine.

    Attributes
    ----------
    system : System
        Equations of one sector.
    sector : Sector
        What they cover.
    stack_length : float
        Length [m].
    phase_source : ndarray, shape (3, size + 1)
        Right-hand side per ampere of phase current [1/m].
    axis : float
        Electrical angle of the phase-1 axis in the section's axes, counted from the d axis of the
        section's north pole [rad].
    remanence : float
        Remanence that `system.magnet_source` was built with [T].
    """

    system: System
    sector: Sector
    stack_length: float
    phase_source: Array
    axis: float
    remanence: float

    @property
    def pole_pairs(self) -> int:
        """Pole pairs."""
        return self.sector.pole_pairs

    def mechanical_angle(self, rotor_angle: float) -> float:
        """Return the mechanical angle of the rotor in the section's axes [rad].

        Parameters
        ----------
        rotor_angle : float
            Electrical angle of the rotor d axis from the phase-1 axis [rad].
        """
        return (self.axis + rotor_angle) / self.pole_pairs

    def source(self, i_d: float, i_q: float, rotor_angle: float, remanence: float) -> Array:
        """Return the right-hand side for dq currents [A], electrical angle [rad] and Br [T]."""
        if not np.isfinite(i_d + i_q + rotor_angle + remanence):
            raise InvalidInputError(
                f"field model: currents ({i_d!r}, {i_q!r}) A, angle {rotor_angle!r} rad and "
                f"remanence {remanence!r} T must be finite numbers"
            )
        out: Array = phase_values(i_d, i_q, rotor_angle) @ self.phase_source
        if self.remanence > 0.0:
            out = out + (remanence / self.remanence) * self.system.magnet_source
        return out

    def linkages(self, potential: Array, rotor_angle: float) -> tuple[float, float]:
        """Return psi_d and psi_q [Wb], stack only, of a field at an electrical angle [rad]."""
        phases: Array = self.sector.repeats * self.stack_length * (self.phase_source @ potential)
        return dq_values(phases, rotor_angle)

    def torque(self, potential: Array, rotor_angle: float) -> float:
        """Return air-gap torque on the rotor [N*m] from the annulus energy."""
        s = self.system
        per_length = s.gap.torque(
            potential[s.gap_rotor], potential[s.gap_stator], self.mechanical_angle(rotor_angle)
        )
        return self.sector.repeats * self.stack_length * per_length


@dataclass(frozen=True, eq=False)
class FieldPoint:
    """Result of one operating point and rotor position.

    Attributes
    ----------
    psi_d, psi_q : float
        Flux linkages without end winding [Wb].
    torque : float
        Air-gap torque at this position [N*m].
    solution : Solution
        The field.
    """

    psi_d: float
    psi_q: float
    torque: float
    solution: Solution


def phase_values(d: float, q: float, angle: float) -> Array:
    """Return the three phase values of dq values, amplitude-invariant."""
    place = angle - 2.0 * pi / 3.0 * np.arange(3)
    out: Array = d * np.cos(place) - q * np.sin(place)
    return out


def dq_values(phases: Array, angle: float) -> tuple[float, float]:
    """Return the dq values of three phase values, amplitude-invariant."""
    place = angle - 2.0 * pi / 3.0 * np.arange(3)
    return (
        float(2.0 / 3.0 * np.sum(phases * np.cos(place))),
        float(-2.0 / 3.0 * np.sum(phases * np.sin(place))),
    )


def field_model(
    machine: Machine, *, magnet_temperature: float = 20.0, resolution: Resolution | None = None
) -> FieldModel:
    """Build the field equations of a machine.

    Parameters
    ----------
    machine : Machine
        The design.
    magnet_temperature : float
        Sets the remanence the equations are built with [degC].
    resolution : Resolution, optional
        Mesh resolution; over several poles `OVER_POLES` if not given.

    Returns
    -------
    FieldModel

    Raises
    ------
    InfeasibleDesignError
        The section cannot be meshed.
    """
    section, winding = sector_section(machine), machine.winding
    iron = Medium(stacked(machine.lamination.magnetisation, machine.stacking_factor))
    remanence = machine.magnet.remanence(magnet_temperature)
    media = {"stator_core": iron, **ROTOR_MEDIA[machine.family](machine, iron, remanence)}
    return model_of_section(
        section,
        media=media,
        slot_phases=winding.slot_phases,
        conductors=winding.conductors_per_slot / winding.parallel_paths,
        stack_length=machine.stack_length,
        remanence=remanence,
        resolution=resolution or (OVER_POLES if section.poles > 1 else None),
    )


def model_of_section(
    section: Section,
    *,
    media: Mapping[str, Medium],
    slot_phases: ArrayLike,
    conductors: float,
    stack_length: float,
    remanence: float,
    resolution: Resolution | None = None,
) -> FieldModel:
    """Build the field equations of any section.

    Parameters
    ----------
    section : Section
        The sector of the winding: one pole where slots per pole and phase are whole.
    media : mapping
        Medium by part name; parts not named are air.
    slot_phases : array_like, shape (3, slots)
        Signed share of each slot's conductors by phase; all slots of the machine.
    conductors : float
        Conductors per slot over parallel paths.
    stack_length : float
        [m].
    remanence : float
        Remanence of the magnets' medium [T] (0 without magnets).
    resolution : Resolution, optional
        Mesh resolution.

    Returns
    -------
    FieldModel
    """
    pole_pairs = section.pole_pairs
    shares = np.asarray(slot_phases, dtype=float)
    one, two, three = (tuple(row) for row in shares.tolist())
    sector = sector_of_winding((one, two, three), pole_pairs)
    if section.poles != sector.poles:
        raise InvalidInputError(
            f"a section of {section.poles} poles: the winding of {sector.all_slots} slots and "
            f"{2 * pole_pairs} poles repeats over {sector.poles}"
        )
    domain = mesh_section(section, resolution, poles=section.poles)

    def medium_of(region: Region) -> Medium:
        return media.get(region.part, AIR)

    system = assemble(domain, medium_of)
    count = shares.shape[1]
    place = -section.half_angle + (np.arange(count) + 0.5) * 2.0 * pi / count
    # the field of a belt of positive conductors points 90 electrical degrees behind it
    star = shares @ np.exp(1j * pole_pairs * place)
    axis = float(np.angle(star[0])) - 0.5 * pi - pole_pairs * section.north_axis
    if abs(np.angle(star[1] / star[0] * np.exp(-2j * pi / 3.0))) > 1e-6:
        raise InvalidInputError(
            "winding: phase 2 must follow phase 1 by 120 electrical degrees along the bore"
        )
    slots = slot_vectors(system, sector.slots)
    return FieldModel(
        system=system,
        sector=sector,
        stack_length=stack_length,
        phase_source=conductors * shares[:, : sector.slots] @ slots,
        axis=axis,
        remanence=remanence,
    )


def slot_vectors(system: System, slots: int, *, part: str = "slot_conductors") -> Array:
    """Return the mean over each slot's conductors as weights of unknowns, (slots, size + 1)."""
    out = np.zeros((slots, system.size + 1))
    nodal = np.einsum("mq,qi->mi", system.elements.weight, system.elements.value)
    for k in range(slots):
        members = [n for n, r in enumerate(system.regions) if r.part == part and r.slot == k]
        index = np.nonzero(np.isin(system.region, members))[0]
        if len(index) == 0:
            raise InvalidInputError(f"the section has no {part} in slot {k}")
        nodes = system.element_nodes[index]
        share = nodal[index] * system.sign[nodes] / system.elements.area[index].sum()
        np.add.at(out[k], system.unknown[nodes], share)
        out[k, system.size] = 0.0
    return out


def solve_point(
    model: FieldModel,
    i_d: float,
    i_q: float,
    *,
    rotor_angle: float = 0.0,
    remanence: float | None = None,
    start: Array | None = None,
    factor: Factor | None = None,
) -> FieldPoint:
    """Solve one operating point at one rotor position.

    Parameters
    ----------
    model : FieldModel
        From `field_model`.
    i_d, i_q : float
        Peak dq currents [A].
    rotor_angle : float
        Electrical angle of the rotor d axis from the phase-1 axis [rad].
    remanence : float, optional
        Remanence [T]; that of the model if not given.
    start : ndarray, optional
        Potential to start from.
    factor : Factor, optional
        Kept between calls.

    Returns
    -------
    FieldPoint
    """
    linear = at_angle(model.system, model.mechanical_angle(rotor_angle))
    solution = solve(
        model.system,
        linear,
        source=model.source(
            i_d, i_q, rotor_angle, model.remanence if remanence is None else remanence
        ),
        start=start,
        factor=factor,
    )
    psi_d, psi_q = model.linkages(solution.potential, rotor_angle)
    return FieldPoint(psi_d, psi_q, model.torque(solution.potential, rotor_angle), solution)
