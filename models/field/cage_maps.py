"""Flux maps of a cage machine by finite elements, in rotor-flux axes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.field.cage_field import CageField, cage_field
from models.field.factor import Factor
from models.field.machine_field import dq_values
from models.field.march import averaging_positions
from models.field.solve import Problem, at_angle, responses, solve_points
from models.flux_maps import FluxMaps, rotor_flux_axes
from models.geometry.sector import sector_of
from models.induction.circuit import CageCircuit
from models.induction.leakage import ring_linkage
from models.induction.model import CageModel, skew_changes, straight_circuit
from models.induction.rotor_flux import state_of_currents
from models.machine import Machine, rotor_as
from models.magnetics import Point

Array = NDArray[np.float64]

D_POINTS, Q_POINTS = 7, 5


@dataclass(frozen=True, eq=False)
class RotorFluxPoint:
    """One point of the map, the mean over rotor positions.

    Attributes
    ----------
    psi_d, psi_q : float
        Stator linkages [Wb].
    rotor_current : float
        Referred rotor current along q [A].
    torque : float
        From the air gap [N*m].
    potentials : tuple of ndarray, shape (size + 1,)
        Vector potential at every position [Wb/m].
    """

    psi_d: float
    psi_q: float
    rotor_current: float
    torque: float
    potentials: tuple[Array, ...]


def solve_rotor_flux(
    field: CageField,
    circuit: CageCircuit,
    i_d: float,
    i_q: float,
    *,
    factor: Factor,
    start: tuple[Array, ...] = (),
) -> RotorFluxPoint:
    """Solve for the bar current that leaves the rotor no linkage across its flux.

    Parameters
    ----------
    field : CageField
    circuit : CageCircuit
        Gives the first guess and the rings' leakage.
    i_d, i_q : float
        Stator currents in rotor-flux axes [A].
    factor : Factor
        Kept between calls.
    start : tuple of ndarray
        Potentials near the solution, one per position, from a neighbouring point.

    Notes
    -----
    One solution at the circuit's bar current, one where its tangent says the linkage vanishes, and
    a straight line between both for what is left. The mean of rotor positions over one phase belt
    that see the stator's slots differently (`averaging_positions`).
    """
    guess = float(state_of_currents(circuit, np.array([i_d]), np.array([i_q])).rotor_current[0])
    ring = ring_linkage(circuit.machine)
    per_ampere = field.rotor_source(0.0, 1.0)
    system = field.system
    angles = averaging_positions(sector_of(field.machine).passings).tolist()
    linear = [at_angle(system, field.mechanical_angle(angle)) for angle in angles]
    potentials: list[Array | None] = list(start) if start else [None] * len(angles)
    currents = [guess] * len(angles)
    rows: list[list[Array]] = [[] for _ in angles]
    while True:
        problems = [
            Problem(
                linear[n],
                field.stator_source(i_d, i_q, angle) + currents[n] * per_ampere,
                potentials[n],
            )
            for n, angle in enumerate(angles)
        ]
        solved = [s.potential for s in solve_points(system, problems, factor=factor)]
        for n, (angle, potential) in enumerate(zip(angles, solved)):
            error = field.rotor_linkages(potential)[1] + ring * currents[n]
            psi = dq_values(field.phase_linkages(potential), angle)
            rows[n].append(np.array([error, *psi, currents[n], field.torque(potential, angle)]))
        if i_q == 0.0 or len(rows[0]) == 2:
            break
        moved = responses(
            system, linear, np.array(solved), [per_ampere] * len(angles), factor=factor
        )
        for n, response in enumerate(moved):
            step = -rows[n][-1][0] / (field.rotor_linkages(response)[1] + ring)
            currents[n] += step
            potentials[n] = solved[n] + step * response
    mean = np.mean([_at_root(found) for found in rows], axis=0)
    psi_d, psi_q, current, torque = mean[1:].tolist()
    return RotorFluxPoint(psi_d, psi_q, current, torque, tuple(solved))


def _at_root(rows: list[Array]) -> Array:
    """Return the row at which the first column vanishes on the line through two rows."""
    if len(rows) == 1 or rows[0][0] == rows[1][0]:
        return rows[-1]
    share = rows[0][0] / (rows[0][0] - rows[1][0])
    return np.asarray(rows[0] + share * (rows[1] - rows[0]))


@dataclass(frozen=True, eq=False)
class CageFieldModel:
    """Field model of a cage machine; `magnet_temperature` is the cage's temperature.

    Iron loss and flux densities are the circuit's at the same currents, scaled to the field's
    linkages. A field in two dimensions knows no skew: what skew changes in linkages and bar
    current is taken from the circuit with and without it.
    """

    machine: Machine
    field: CageField
    circuits: CageModel

    @classmethod
    def of(cls, machine: Machine) -> "CageFieldModel":
        """Mesh and assemble a machine with a cage."""
        rotor_as(machine, CageRotor)
        return cls(machine, cage_field(machine), CageModel.of(machine))

    @property
    def name(self) -> str:
        """Name of the model."""
        return "field"

    def flux_maps(self, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
        """Return flux maps up to a current amplitude [A] at a cage temperature [degC]."""
        axes = rotor_flux_axes(current_peak, d_points=D_POINTS, q_points=Q_POINTS)
        circuit = self.circuits.circuit(magnet_temperature)
        straight = straight_circuit(circuit)
        maps = self.circuits.maps_over(axes, temperature=magnet_temperature).maps
        factor = Factor(self.field.system.columns, self.field.system.rows, self.field.system.plan)
        shape = maps.psi_d.shape
        psi_d, psi_q, rotor = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        first: tuple[Array, ...] = ()  # of the row before
        for i, i_d in enumerate(axes[0].tolist()):
            start = first
            for j, i_q in enumerate(axes[1].tolist()):
                if i_d == 0.0 and i_q == 0.0:
                    continue
                point = solve_rotor_flux(self.field, straight, i_d, i_q, factor=factor, start=start)
                start = point.potentials
                if j == 0:
                    first = start
                psi_d[i, j], psi_q[i, j] = point.psi_d, point.psi_q
                rotor[i, j] = point.rotor_current
        if circuit.rotor.skew != 0.0:
            more = skew_changes(circuit, axes)
            psi_d, psi_q, rotor = psi_d + more[0], psi_q + more[1], rotor + more[3]
        psi_d[0, :] = 0.0
        psi_q[:, 0] = 0.0
        return scaled(maps, circuit, psi_d, psi_q, rotor)

    def solve_ahead(self, points: Sequence[Point]) -> None:
        """Do nothing: points cost the same one by one."""

    def lowest_magnet_fields(
        self, i_d: tuple[float, ...], *, magnet_temperature: float
    ) -> tuple[float, ...]:
        """Return the same for several currents."""
        return tuple(
            self.lowest_magnet_field(i_d=x, magnet_temperature=magnet_temperature) for x in i_d
        )

    def lowest_magnet_field(self, *, i_d: float, magnet_temperature: float) -> float:
        """Return the grade's remanence [T]: there is nothing to demagnetise."""
        return self.circuits.lowest_magnet_field(i_d=i_d, magnet_temperature=magnet_temperature)

    def magnet_torque(self, *, i_d: float, i_q: float, magnet_temperature: float) -> float:
        """Return the torque that is not reluctance torque [N*m]: all, the rotor being round."""
        circuit = self.circuits.circuit(magnet_temperature)
        factor = Factor(self.field.system.columns, self.field.system.rows, self.field.system.plan)
        point = solve_rotor_flux(self.field, circuit, i_d, i_q, factor=factor)
        return 1.5 * self.machine.pole_pairs * (point.psi_d * i_q - point.psi_q * i_d)


def scaled(
    maps: FluxMaps, circuit: CageCircuit, psi_d: Array, psi_q: Array, rotor_current: Array
) -> FluxMaps:
    """Return the circuit's maps with the field's linkages and rotor currents.

    Cage loss goes with the square of the rotor current; iron loss with the linkage to the sheet's
    exponent near saturation, two.
    """
    old, new = np.hypot(maps.psi_d, maps.psi_q), np.hypot(psi_d, psi_q)
    ratio = np.divide(new, old, out=np.ones_like(new), where=old > 1e-12)
    resistance = circuit.cage_resistance(np.zeros(1))[0]
    return replace(
        maps,
        psi_d=psi_d,
        psi_q=psi_q,
        iron_hysteresis=maps.iron_hysteresis * ratio**2,
        iron_classical=maps.iron_classical * ratio**2,
        iron_excess=maps.iron_excess * ratio**1.5,
        tooth_peak=maps.tooth_peak * ratio,
        yoke_peak=maps.yoke_peak * ratio,
        cage_loss=1.5 * resistance * rotor_current**2,
    )
