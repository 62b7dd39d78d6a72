"""Leakage of a cage machine beside the slots' own: rings, harmonics, skew, bridges, referral."""

from math import log, pi, sin

import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.constants import MU0
from models.errors import InvalidInputError
from models.geometry.air_gap import carter_factor
from models.geometry.cage import bar_area
from models.machine import Machine, rotor_as
from models.materials.reluctivity import ReluctivityTable

Array = NDArray[np.float64]


def referral(bars: int, *, effective_turns: float) -> float:
    """Return the factor from an impedance of one bar to one stator phase.

    4 m (N k_w k_sq)^2 / Q_r with m = 3 (Pyrhonen, Jokinen, Hrabovcova, Design of Rotating
    Electrical Machines, 2nd ed., section 7.2, from memory).

    Parameters
    ----------
    bars : int
        Number of bars.
    effective_turns : float
        Series turns of a phase times winding and skew factor.
    """
    return 12.0 * effective_turns**2 / bars


def bar_current_ratio(bars: int, *, effective_turns: float) -> float:
    """Return bar current over referred rotor current, 2 m N k_w k_sq / Q_r with m = 3."""
    return 6.0 * effective_turns / bars


def skew_factor(skew: float, pole_pairs: int) -> float:
    """Return sin(x) / x of a skew angle [rad, mechanical], x = p skew / 2."""
    x = 0.5 * pole_pairs * skew
    return sin(x) / x if abs(x) > 1e-9 else 1.0


def ring_share(bars: int, pole_pairs: int) -> float:
    """Return 1 / (2 sin^2(pi p / Q_r)): the rings' part per bar over one ring segment's.

    A ring carries I_bar / (2 sin(pi p / Q_r)); two rings. Exact for a sine wave of bar currents.

    Raises
    ------
    InvalidInputError
        For fewer than two bars per pole pair, or a wave that the bars cannot carry.
    """
    if bars < 2 * pole_pairs or abs(sin(pi * pole_pairs / bars)) < 1e-9:
        raise InvalidInputError(f"{bars} bars cannot carry a wave of {pole_pairs} pole pairs")
    return 1.0 / (2.0 * sin(pi * pole_pairs / bars) ** 2)


def ring_resistance(rotor: CageRotor, temperature: float) -> float:
    """Return the resistance of one segment of one ring [ohm], at its mean radius."""
    length = 2.0 * pi * rotor.ring_radius / rotor.bars
    return rotor.material.resistivity(temperature) * length / rotor.ring_area


def ring_inductance(rotor: CageRotor) -> float:
    """Return the leakage inductance of one segment of one ring [H].

    mu0 D / (4 Q_r) ln(4.7 D / (a + 2 b)) per segment, D mean diameter, a axial and b radial size
    (after Liwschitz, as in I. Boldea, S. A. Nasar, The Induction Machine Handbook, ch. 6, from
    memory). A few per cent of the rotor's leakage; within some 30 %.
    """
    diameter = 2.0 * rotor.ring_radius
    size = rotor.ring_width + 2.0 * rotor.ring_height
    return MU0 * diameter / (4.0 * rotor.bars) * log(max(4.7 * diameter / size, 1.2))


def ring_linkage(machine: Machine) -> float:
    """Return the rings' leakage inductance referred to a stator phase, without skew [H]."""
    rotor, w = rotor_as(machine, CageRotor), machine.winding
    factor = referral(rotor.bars, effective_turns=w.series_turns * w.winding_factor)
    return factor * ring_share(rotor.bars, machine.pole_pairs) * ring_inductance(rotor)


def cage_harmonic_leakage(bars: int, pole_pairs: int) -> float:
    """Return the cage's harmonic leakage over the magnetising inductance.

    (x / sin x)^2 - 1 with x = pi p / Q_r: the exact sum over the slot harmonics k Q_r / p + 1 of a
    stepped wave (Pyrhonen, Jokinen, Hrabovcova, 2nd ed., section 4.3, from memory). With the
    stator's `differential_leakage` it holds the zigzag and belt leakage of the older books.
    """
    x = pi * pole_pairs / bars
    return (x / sin(x)) ** 2 - 1.0


def bridge_flux(current: Array, *, height: float, length: float, table: ReluctivityTable) -> Array:
    """Return the flux along the iron bridge over a closed slot.

    Parameters
    ----------
    current : ndarray, shape (...)
        Amplitude of the bar current [A].
    height, length : float
        Radial height of the bridge and its length along the surface [m].
    table : ReluctivityTable
        Sheet.

    Returns
    -------
    ndarray, shape (...)
        B(H) h with H = i / length [Wb/m]: saturates at a few ampere-turns, so that the bridge's
        inductance falls with current.
    """
    b = np.sqrt(table.step * np.arange(table.nu.size))
    h = table.nu * b
    field = np.abs(np.asarray(current, dtype=float)) / length
    inside = np.interp(field, h, b)
    beyond = np.maximum(field - h[-1], 0.0) * MU0
    return np.asarray((inside + beyond) * height)


def bridge_length(rotor: CageRotor) -> float:
    """Return the length along the surface of the thin part of a closed slot's bridge [m].

    A flat bar: its width. A bridge over a round top is thinnest in the middle: the field
    concentrates over about one radius there (the same place that yields first; common practice,
    no source).
    """
    return 2.0 * rotor.top_radius if rotor.is_rectangle else rotor.top_radius


def bridge_gap_factor(
    rotor: CageRotor, gap_density: Array, current: Array, *, gap: float, table: ReluctivityTable
) -> Array:
    """Return by how much saturated bridges over closed slots lengthen the gap.

    Parameters
    ----------
    rotor : CageRotor
        With closed slots.
    gap_density : ndarray, shape (...)
        Amplitude of the flux density in the gap [T].
    current : ndarray, shape (...)
        Amplitude of the bar current [A].
    gap : float
        Air gap with the stator's Carter factor [m].
    table : ReluctivityTable
        Sheet.

    Returns
    -------
    ndarray, shape (...)
        Carter's factor of the slots: 1 with unsaturated bridges, at most that of open slots as
        wide as the bridges are long.

    Notes
    -----
    A strip of height h and relative permeability mu over an opening w collects the gap's flux like
    a line with the length l = sqrt(mu h g): its potential obeys phi'' = phi / l^2, so of w it
    loses w - 2 l tanh(w / 2 l). mu is that at the strip's end, where it carries the leakage flux
    of the bar current and half of the flux that lands on it.
    """
    w, h = bridge_length(rotor), rotor.opening_height
    b_sheet = np.sqrt(table.step * np.arange(table.nu.size))
    h_sheet = table.nu * b_sheet
    leakage = bridge_flux(np.abs(current), height=h, length=w, table=table) / h
    density = np.maximum(leakage + 0.5 * w * np.abs(gap_density) / h, 1e-6)
    field = np.interp(density, b_sheet, h_sheet)
    field = field + np.maximum(density - b_sheet[-1], 0.0) / MU0
    reach = np.sqrt(np.maximum(density / np.maximum(MU0 * field, 1e-12), 1.0) * h * gap)
    pitch = rotor.slot_pitch * rotor.outer_radius
    lost = w - 2.0 * reach * np.tanh(0.5 * w / reach)
    return np.asarray(np.minimum(pitch / (pitch - lost), carter_factor(w, gap, pitch)))


def opening_inductance(rotor: CageRotor, current: Array, table: ReluctivityTable) -> Array:
    """Return the leakage inductance of a rotor slot's opening or bridge per length [H/m].

    Parameters
    ----------
    rotor : CageRotor
        Slot.
    current : ndarray, shape (...)
        Amplitude of the bar current [A].
    table : ReluctivityTable
        Sheet.

    Returns
    -------
    ndarray, shape (...)
        mu0 h / b of an open slot; flux over current of a closed one, its bridge as long as
        `bridge_length`.
    """
    amps = np.asarray(current, dtype=float)
    if rotor.opening_width > 0.0:
        return np.full(amps.shape, MU0 * rotor.opening_height / rotor.opening_width)
    length = bridge_length(rotor)
    safe = np.maximum(np.abs(amps), 1e-3)
    flux = bridge_flux(safe, height=rotor.opening_height, length=length, table=table)
    return np.asarray(flux / safe)


def bar_current_density(machine: Machine, loss: float, *, temperature: float) -> float:
    """Return the rms current density in the bars [A/m^2] from the loss in bars and rings [W].

    Parameters
    ----------
    machine : Machine
        With a `CageRotor`.
    loss : float
        In all bars and both rings, at a low slip frequency [W].
    temperature : float
        Of the cage [degC].
    """
    rotor = rotor_as(machine, CageRotor)
    area = bar_area(rotor)
    bar = rotor.material.resistivity(temperature) * machine.stack_length / area
    ring = ring_share(rotor.bars, machine.pole_pairs) * ring_resistance(rotor, temperature)
    return float(np.sqrt(max(loss, 0.0) / rotor.bars / (bar + ring))) / area
