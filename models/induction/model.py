"""The cage machine's circuit as a `MagneticModel`: flux maps in rotor-flux axes."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import copysign

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from models.cage_rotor import CageRotor
from models.circuit.cage_network import CageNetwork, assemble_cage_network, solve_cage
from models.circuit.waveforms import stator_waveforms
from models.flux_maps import FluxMaps, rotor_flux_axes
from models.geometry.slot_leakage import end_inductance
from models.induction.circuit import CageCircuit, assemble_cage
from models.induction.leakage import ring_linkage
from models.induction.rotor_flux import slip_frequency, state_of_currents
from models.losses.iron import loss_coefficients_of_components
from models.machine import Machine, rotor_as
from models.magnetics import Point

Array = NDArray[np.float64]

D_POINTS, Q_POINTS = 7, 8


@dataclass(frozen=True, eq=False)
class CageMaps:
    """Flux maps of a cage machine and what goes with them, arrays of shape (n_d, n_q).

    Attributes
    ----------
    maps : FluxMaps
    rotor_current : ndarray
        Referred rotor current along q [A].
    """

    maps: FluxMaps
    rotor_current: Array


@dataclass(frozen=True)
class CageModel:
    """Network of one cage machine; its T circuit gives resistance with skin effect, and skew.

    `magnet_temperature` of the interface is the cage's temperature here.
    """

    machine: Machine
    _circuits: dict[float, CageCircuit] = field(default_factory=dict, repr=False, compare=False)
    _maps: dict[float, FluxMaps] = field(default_factory=dict, repr=False, compare=False)

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
        """Return the T circuit at a cage temperature [degC]."""
        if temperature not in self._circuits:
            self._circuits[temperature] = assemble_cage(self.machine, temperature=temperature)
        return self._circuits[temperature]

    @cached_property
    def network(self) -> CageNetwork:
        """Network of the machine, skew left out."""
        w = self.machine.winding
        return assemble_cage_network(
            self.machine,
            ring_inductance=ring_linkage(self.machine),
            effective_turns=w.series_turns * w.winding_factor,
        )

    def flux_maps(self, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
        """Return linkages, iron-loss coefficients and cage loss up to a current amplitude [A]."""
        axes = rotor_flux_axes(current_peak, d_points=D_POINTS, q_points=Q_POINTS)
        found = self.maps_over(axes, temperature=magnet_temperature).maps
        self._maps[magnet_temperature] = found
        return found

    def maps_over(self, axes: tuple[Array, Array], *, temperature: float) -> CageMaps:
        """Return the flux maps over i_d and i_q [A], both ascending from 0.

        Parameters
        ----------
        axes : tuple of 2 ndarray
            i_d and i_q [A].
        temperature : float
            Cage temperature [degC].

        Notes
        -----
        In rotor-flux axes, with `cage_loss`; the parts that depend on magnets are zero.
        End-winding leakage is left to the table, as for every machine. The network knows no skew:
        what skew changes in linkages and rotor current is taken from the T circuit with and
        without it. Bars with skin effect: resistance at each point's slip.
        """
        machine, (i_d, i_q) = self.machine, axes
        circuit = self.circuit(temperature)
        states = solve_cage(self.network, i_d, i_q)
        psi_d, psi_q, flux, current = (
            states.psi_d.copy(), states.psi_q.copy(), states.rotor_flux, states.rotor_current,
        )  # fmt: skip
        if circuit.rotor.skew != 0.0:
            more = skew_changes(circuit, axes)
            psi_d, psi_q = psi_d + more[0], psi_q + more[1]
            flux, current = flux + more[2], current + more[3]
        psi_d[0, :] = 0.0  # by symmetry; Newton's method leaves rounding only
        psi_q[:, 0] = 0.0
        slip = slip_frequency(circuit, flux, current)
        cage_loss = 1.5 * circuit.cage_resistance(slip) * current**2
        cage_loss[:, 0] = 0.0
        waves = stator_waveforms(self.network.circuit, states.solution)
        hysteresis, classical, excess = loss_coefficients_of_components(
            waves.first, waves.second, waves.masses, machine.lamination, is_half=True
        )
        zero = np.zeros_like(psi_d)
        maps = FluxMaps(
            i_d=i_d,
            i_q=i_q,
            psi_d=psi_d,
            psi_q=psi_q,
            psi_d_per_remanence=zero,
            psi_q_per_remanence=zero,
            remanence=0.0,
            magnet_temperature=temperature,
            end_inductance=end_inductance(machine.stator, machine.winding),
            iron_hysteresis=hysteresis,
            iron_classical=classical,
            iron_excess=excess,
            # what harmonics lose in rotor surface and bars is in the stray load loss
            rotor_hysteresis=zero,
            rotor_classical=zero,
            rotor_excess=zero,
            magnet_ripple=zero,
            magnet_slot_ripple=zero,
            tooth_peak=waves.largest[..., waves.is_tooth].max(axis=-1),
            yoke_peak=waves.largest[..., waves.is_yoke].max(axis=-1),
            cage_loss=cage_loss,
        )
        return CageMaps(maps, current)

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
        """Return the torque that is not reluctance torque [N*m]: all, the rotor being round.

        From the last map at this temperature, cubic between its points.
        """
        maps = self._maps.get(magnet_temperature)
        if maps is None or max(i_d, abs(i_q)) > maps.i_q[-1] * (1.0 + 1e-9):
            amplitude = float(np.hypot(i_d, i_q))
            maps = self.flux_maps(current_peak=amplitude, magnet_temperature=magnet_temperature)
        psi_d, psi_q = (
            float(RectBivariateSpline(maps.i_d, maps.i_q, psi).ev(i_d, abs(i_q)))
            for psi in (maps.psi_d, maps.psi_q)
        )
        return 1.5 * self.machine.pole_pairs * (psi_d * i_q - copysign(psi_q, i_q) * i_d)


def straight_circuit(circuit: CageCircuit) -> CageCircuit:
    """Return the T circuit of the same machine without skew."""
    rotor = circuit.rotor
    if rotor.skew == 0.0:
        return circuit
    straight = replace(circuit.machine, rotor=replace(rotor, skew=0.0))
    return assemble_cage(straight, temperature=circuit.temperature)


def skew_changes(
    circuit: CageCircuit, axes: tuple[Array, Array]
) -> tuple[Array, Array, Array, Array]:
    """Return what skew adds to psi_d, psi_q, rotor flux [Wb] and rotor current [A] by T circuit.

    Parameters
    ----------
    circuit : CageCircuit
        Of the skewed machine.
    axes : tuple of 2 ndarray, shapes (n_d,), (n_q,)
        i_d and i_q [A].

    Returns
    -------
    tuple of 4 ndarray, shape (n_d, n_q)
        Zero without skew.
    """
    shape = (len(axes[0]), len(axes[1]))
    grid = [g.ravel() for g in np.meshgrid(*axes, indexing="ij")]
    skewed, straight = (state_of_currents(c, *grid) for c in (circuit, straight_circuit(circuit)))
    psi_d, psi_q, flux, current = (
        (getattr(skewed, name) - getattr(straight, name)).reshape(shape)
        for name in ("psi_d", "psi_q", "rotor_flux", "rotor_current")
    )
    return psi_d, psi_q, flux, current
