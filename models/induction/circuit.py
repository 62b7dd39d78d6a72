"""The cage machine's T circuit with saturating parts, assembled from its dimensions.

Flux meets, from the stator's side: stator iron, stator slot leakage, gap, rotor slot leakage,
rotor iron; harmonic, ring and end-winding leakage go round the iron. See
`docs/decisions/013-cage-machine.md`.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.constants import MU0
from models.errors import InvalidInputError
from models.geometry.air_gap import carter_factor
from models.geometry.slot_leakage import stator_slot_permeance
from models.geometry.winding import differential_leakage
from models.induction.bar_skin import bar_impedance
from models.induction.leakage import (
    bar_current_ratio,
    bridge_gap_factor,
    cage_harmonic_leakage,
    opening_inductance,
    referral,
    ring_inductance,
    ring_resistance,
    ring_share,
    skew_factor,
)
from models.induction.magnetising import IronCurves, iron_curves
from models.machine import Machine

Array = NDArray[np.float64]

SLIP_FREQUENCIES = 2.0 * pi * np.concatenate([[0.0], np.geomspace(0.5, 500.0, 15)])
"""Angular slip frequencies at which bars are solved [rad/s]; between them values interpolate."""


@dataclass(frozen=True, eq=False)
class CageCircuit:
    """T circuit of one phase in peak values; rotor quantities referred to the stator.

    Attributes
    ----------
    machine : Machine
    rotor : CageRotor
    curves : IronCurves
        Of stator and rotor iron.
    flux_per_density : float
        Linkage over the fundamental of gap flux density, N k_w D L / p [Wb/T].
    current_per_mmf : float
        Phase current over magnetomotive force, pi p / (3 N k_w) [A/A].
    skew_factor : float
        sin(x) / x.
    stator_gap : float
        Air gap with the stator's Carter factor [m].
    gap_inductance : float
        Magnetising inductance of gap and Carter's factors alone, unskewed [H].
    stator_slot, stator_harmonic : float
        Stator leakage in the slots, and of harmonics and skew with unsaturated iron [H].
    rotor_harmonic, ring : float
        Rotor leakage of harmonics with unsaturated iron, and of the rings [H].
    bar_factor : float
        From an inductance per length of bar to the stator [m].
    bar_current : float
        Bar current over referred rotor current.
    bar_inductance, resistance : ndarray, shape (n,)
        Referred slot leakage below the opening [H] and cage resistance, bars and rings [ohm], at
        `SLIP_FREQUENCIES`.
    temperature : float
        Cage temperature of the resistances [degC].
    """

    machine: Machine
    rotor: CageRotor
    curves: IronCurves
    flux_per_density: float
    current_per_mmf: float
    skew_factor: float
    stator_gap: float
    gap_inductance: float
    stator_slot: float
    stator_harmonic: float
    rotor_harmonic: float
    ring: float
    bar_factor: float
    bar_current: float
    bar_inductance: Array
    resistance: Array
    temperature: float

    @property
    def magnetising_inductance(self) -> float:
        """Unsaturated magnetising inductance common to both sides, iron left out [H]."""
        return self.skew_factor**2 * self.gap_inductance

    def gap_factor(self, linkage: Array, rotor_current: Array) -> Array:
        """Return by how much saturated bridges lengthen the gap; 1 of open rotor slots.

        Parameters
        ----------
        linkage : ndarray, shape (n,)
            Amplitude of the linkage in the gap, referred [Wb].
        rotor_current : ndarray, shape (n,)
            Referred amplitude [A].
        """
        if self.rotor.opening_width > 0.0:
            return np.ones_like(linkage)
        return bridge_gap_factor(
            self.rotor,
            linkage / (self.skew_factor * self.flux_per_density),
            self.bar_current * rotor_current,
            gap=self.stator_gap,
            table=self.machine.lamination.magnetisation,
        )

    def slot_leakage(self, rotor_current: Array, slip_frequency: Array) -> Array:
        """Return the rotor's slot leakage at referred current amplitude [A] and slip [rad/s]."""
        opening = opening_inductance(
            self.rotor,
            self.bar_current * np.abs(rotor_current),
            self.machine.lamination.magnetisation,
        )
        inner = np.interp(slip_frequency, SLIP_FREQUENCIES, self.bar_inductance)
        return np.asarray(inner + self.bar_factor * opening)

    def cage_resistance(self, slip_frequency: Array) -> Array:
        """Return the referred cage resistance [ohm] at an angular slip frequency [rad/s]."""
        return np.asarray(np.interp(slip_frequency, SLIP_FREQUENCIES, self.resistance))

    def saturation_factor(self, linkage: Array) -> Array:
        """Return magnetomotive force over that of the gap alone at a linkage amplitude [Wb].

        The fields of harmonics and skew cross the same teeth as the main flux: their leakage is
        a share of the saturated magnetising inductance (textbook practice).
        """
        linkage = np.maximum(linkage, 1e-9)
        iron = self.stator_iron_current(linkage) + self.rotor_iron_current(linkage)
        return np.asarray(1.0 + iron * self.magnetising_inductance / linkage)

    def stator_iron_current(self, linkage: Array) -> Array:
        """Return the current [A] that the stator's iron takes at a linkage amplitude [Wb]."""
        density = linkage / self.flux_per_density
        return self.current_per_mmf * _beyond(density, self.curves, self.curves.stator)

    def rotor_iron_current(self, linkage: Array) -> Array:
        """Return the current [A] that the rotor's iron takes at a referred linkage [Wb]."""
        density = linkage / (self.skew_factor * self.flux_per_density)
        drop = _beyond(density, self.curves, self.curves.rotor)
        return self.current_per_mmf / self.skew_factor * drop


def _beyond(density: Array, curves: IronCurves, drop: Array) -> Array:
    """Interpolate a curve, continued straight past its end."""
    b = curves.gap_flux_density
    slope = (drop[-1] - drop[-2]) / (b[-1] - b[-2])
    return np.asarray(np.interp(density, b, drop) + np.maximum(density - b[-1], 0.0) * slope)


def assemble_cage(machine: Machine, *, temperature: float) -> CageCircuit:
    """Assemble the circuit of a cage machine.

    Parameters
    ----------
    machine : Machine
        With a `CageRotor`.
    temperature : float
        Cage temperature [degC].

    Returns
    -------
    CageCircuit

    Raises
    ------
    InvalidInputError
        For another kind of rotor.
    """
    rotor = machine.rotor
    if not isinstance(rotor, CageRotor):
        raise InvalidInputError(f"cage circuit: the rotor is {type(rotor).__name__}, not a cage")
    s, w, p = machine.stator, machine.winding, machine.pole_pairs
    length = machine.stack_length
    turns = w.series_turns * w.winding_factor
    mean_radius = 0.5 * (s.bore_radius + rotor.outer_radius)
    stator_gap = machine.air_gap * carter_factor(
        s.slot_opening, machine.air_gap, s.slot_pitch * s.bore_radius
    )
    gap = stator_gap * carter_factor(
        rotor.opening_width, machine.air_gap, rotor.slot_pitch * rotor.outer_radius
    )
    flux_per_density = turns * 2.0 * mean_radius * length / p
    current_per_mmf = pi * p / (3.0 * turns)
    gap_inductance = flux_per_density * MU0 / gap / current_per_mmf
    skew = skew_factor(rotor.skew, p)
    effective = turns * skew
    factor = referral(rotor.bars, effective_turns=effective)
    bar_length = length / np.cos(np.arctan(rotor.skew * rotor.ring_radius / length))
    resistance, inductance = bar_impedance(rotor, SLIP_FREQUENCIES, temperature)
    ring = ring_share(rotor.bars, p)
    rings = factor * ring
    liner = float(machine.parameters["liner_thickness"])
    slot = 12.0 / s.slots * w.series_turns**2 * MU0 * length * stator_slot_permeance(s, liner)
    return CageCircuit(
        machine=machine,
        rotor=rotor,
        curves=iron_curves(machine, rotor, effective_gap=gap),
        flux_per_density=flux_per_density,
        current_per_mmf=current_per_mmf,
        skew_factor=skew,
        stator_gap=stator_gap,
        gap_inductance=gap_inductance,
        stator_slot=slot,
        stator_harmonic=gap_inductance * (differential_leakage(w.slot_phases, p) + 1.0 - skew**2),
        rotor_harmonic=skew**2 * gap_inductance * cage_harmonic_leakage(rotor.bars, p),
        ring=rings * ring_inductance(rotor),
        bar_factor=factor * bar_length,
        bar_current=bar_current_ratio(rotor.bars, effective_turns=effective),
        bar_inductance=factor * bar_length * inductance,
        resistance=factor * bar_length * resistance + rings * ring_resistance(rotor, temperature),
        temperature=temperature,
    )
