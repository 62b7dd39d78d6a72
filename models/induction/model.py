"""The cage machine's circuit as a `MagneticModel`: flux maps in rotor-flux axes."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.flux_maps import FluxMaps
from models.geometry.slot_leakage import end_inductance
from models.geometry.stator import slot_corners
from models.induction.circuit import CageCircuit, assemble_cage
from models.induction.rotor_flux import RotorFluxState, state_of_currents
from models.losses.iron import loss_coefficients
from models.machine import Machine, rotor_as
from models.magnetics import Point

Array = NDArray[np.float64]

D_POINTS, Q_POINTS = 13, 9
D_SPACING = 1.6
"""Exponent of the i_d spacing: linkage bends at a small part of the largest current."""


@dataclass(frozen=True)
class CageModel:
    """Circuit of one cage machine.

    `magnet_temperature` of the interface is the cage's temperature here.
    """

    machine: Machine
    _circuits: dict[float, CageCircuit] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def of(cls, machine: Machine) -> "CageModel":
        """Return the model of a machine with a cage."""
        rotor_as(machine, CageRotor)
        return cls(machine)

    @property
    def name(self) -> str:
        """Name of the model."""
        return "circuit"

    def circuit(self, temperature: float) -> CageCircuit:
        """Return the circuit at a cage temperature [degC]."""
        if temperature not in self._circuits:
            self._circuits[temperature] = assemble_cage(self.machine, temperature=temperature)
        return self._circuits[temperature]

    def flux_maps(self, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
        """Return linkages, iron-loss coefficients and cage loss up to a current amplitude [A]."""
        return cage_maps(self.circuit(magnet_temperature), current_peak=current_peak)

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
        del i_d
        return self.machine.magnet.remanence(magnet_temperature)

    def magnet_torque(self, *, i_d: float, i_q: float, magnet_temperature: float) -> float:
        """Return the torque that is not reluctance torque [N*m]: all, the rotor being round."""
        circuit = self.circuit(magnet_temperature)
        state = state_of_currents(circuit, np.array([i_d]), np.array([i_q]))
        torque = 1.5 * self.machine.pole_pairs * (state.psi_d * i_q - state.psi_q * i_d)
        return float(torque[0])


def current_axes(current_peak: float) -> tuple[Array, Array]:
    """Return i_d (closer near zero) and i_q of a map up to a current amplitude [A]."""
    return (
        current_peak * np.linspace(0.0, 1.0, D_POINTS) ** D_SPACING,
        np.linspace(0.0, current_peak, Q_POINTS),
    )


def cage_maps(
    circuit: CageCircuit, *, current_peak: float, axes: tuple[Array, Array] | None = None
) -> FluxMaps:
    """Return the flux maps of a cage circuit.

    Parameters
    ----------
    circuit : CageCircuit
    current_peak : float
        Largest current amplitude [A].
    axes : tuple of 2 ndarray, optional
        i_d and i_q of the map [A]; `current_axes` if not given.

    Returns
    -------
    FluxMaps
        Over i_d >= 0 in rotor-flux axes, with `cage_loss`; the parts that depend on magnets are
        zero. End-winding leakage is left to the table, as for every machine.
    """
    i_d, i_q = axes or current_axes(current_peak)
    grid_d, grid_q = np.meshgrid(i_d, i_q, indexing="ij")
    state = state_of_currents(circuit, grid_d.ravel(), grid_q.ravel())
    shape = grid_d.shape
    psi_d, psi_q = state.psi_d.reshape(shape).copy(), state.psi_q.reshape(shape).copy()
    psi_d[0, :] = 0.0  # by symmetry; Newton's method leaves rounding only
    psi_q[:, 0] = 0.0
    cage_loss = state.cage_loss.reshape(shape).copy()
    cage_loss[:, 0] = 0.0
    iron, tooth, yoke = _iron(circuit, state)
    zero = np.zeros(shape)
    return FluxMaps(
        i_d=i_d,
        i_q=i_q,
        psi_d=psi_d,
        psi_q=psi_q,
        psi_d_per_remanence=zero,
        psi_q_per_remanence=zero,
        remanence=0.0,
        magnet_temperature=circuit.temperature,
        end_inductance=end_inductance(circuit.machine.stator, circuit.machine.winding),
        iron_hysteresis=iron[0].reshape(shape),
        iron_classical=iron[1].reshape(shape),
        iron_excess=iron[2].reshape(shape),
        # what harmonics lose in rotor surface and bars is in the stray load loss
        rotor_hysteresis=zero,
        rotor_classical=zero,
        rotor_excess=zero,
        magnet_ripple=zero,
        magnet_slot_ripple=zero,
        tooth_peak=tooth.reshape(shape),
        yoke_peak=yoke.reshape(shape),
        cage_loss=cage_loss,
    )


def _iron(
    circuit: CageCircuit, state: RotorFluxState
) -> tuple[tuple[Array, Array, Array], Array, Array]:
    """Return iron-loss coefficients, tooth and yoke peaks at the states' stator linkages.

    Every tooth sees the wave of the gap, every part of the yoke the wave of the yoke: two cells.
    """
    curves, machine = circuit.curves, circuit.machine
    waves = np.stack([curves.tooth_waves, curves.yoke_waves], axis=1)
    parts = loss_coefficients(waves, _iron_masses(machine), machine.lamination)
    density = state.stator_iron / circuit.flux_per_density

    def at(values: Array) -> Array:
        return np.asarray(np.interp(density, curves.gap_flux_density, values))

    tooth, yoke = np.abs(waves).max(axis=2).T
    return (at(parts[0]), at(parts[1]), at(parts[2])), at(tooth), at(yoke)


def _iron_masses(machine: Machine) -> Array:
    """Return the mass of the stator's teeth and yoke [kg]."""
    s = machine.stator
    return _masses_of(
        s.slots, s.bore_radius, s.slot_bottom_radius, s.outer_radius, slot_corners(s),
        machine.lamination.density * machine.stacking_factor * machine.stack_length,
    )  # fmt: skip


@lru_cache(maxsize=64)
def _masses_of(
    slots: int, bore: float, bottom: float, outer: float,
    corners: tuple[tuple[float, float], ...], density: float,
) -> Array:  # fmt: skip
    half = sum(0.5 * (y0 + y1) * (x1 - x0) for (x0, y0), (x1, y1) in itertools.pairwise(corners))
    teeth = np.pi * (bottom**2 - bore**2) - 2.0 * slots * half
    yoke = np.pi * (outer**2 - bottom**2)
    return density * np.array([teeth, yoke])
