"""Winding loss: phase resistance and its rise with frequency.

Direct-current resistance covers slots and end turns. At frequency, the slot part follows the
one-dimensional slot field: layer by layer for rectangular conductors, by the exact round-wire
solution for round strands.
"""

from math import pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import jve

from models.constants import MU0
from models.machine import Machine, Winding

Array = NDArray[np.float64]
SLOT_SAMPLES = 24
"""Heights at which the slot field is sampled for round strands (midpoint rule)."""


def winding_shares(machine: Machine) -> tuple[float, float]:
    """Return the shares of conductor length in the slots and in the end turns (sum 1)."""
    length = machine.stack_length + machine.winding.end_turn_length
    return machine.stack_length / length, machine.winding.end_turn_length / length


def phase_resistance(machine: Machine, temperature: float) -> float:
    """Return the direct-current resistance of one phase.

    Parameters
    ----------
    machine : Machine
        The machine.
    temperature : float
        Mean winding temperature [degC].

    Returns
    -------
    float
        Resistance [ohm].

    Notes
    -----
    R = rho(T) 2 N (L + l_end) / (a A_c) with N series turns in `a` parallel paths of conductors
    of area A_c. Exact for uniform current; welds and lead-out are left out (from memory: 1-3 %).

    References
    ----------
    Pyrhönen, Jokinen, Hrabovcová, *Design of Rotating Electrical Machines*, 2nd ed., ch. 5
    (from memory).
    """
    w = machine.winding
    turn = 2.0 * (machine.stack_length + w.end_turn_length)
    rho = machine.conductor.resistivity(temperature)
    return rho * w.series_turns * turn / (w.parallel_paths * w.conductor_area)


def skin_function(xi: ArrayLike) -> Array:
    """Return phi(xi), the resistance ratio of a bar in a slot of its own.

    phi = xi (sinh 2 xi + sin 2 xi) / (cosh 2 xi - cos 2 xi), for reduced height xi >= 0 (any
    shape). Field 1905; Dowell, Proc. IEE 113(8) 1387, 1966.
    """
    x = np.asarray(xi, dtype=float)
    safe = np.maximum(x, 1e-2)
    e = np.exp(-2.0 * safe)
    full = (
        safe
        * (1.0 - e**2 + 2.0 * e * np.sin(2.0 * safe))
        / (1.0 + e**2 - 2.0 * e * np.cos(2.0 * safe))
    )
    # Both forms agree to 1e-12 at the change: there the exact one loses digits.
    return np.asarray(np.where(x < 1e-2, 1.0 + (4.0 / 45.0) * x**4, full))


def proximity_function(xi: ArrayLike) -> Array:
    """Return psi(xi), the weight of the current below a bar.

    psi = 2 xi (sinh xi - sin xi) / (cosh xi + cos xi), for xi >= 0 (any shape); same sources as
    `skin_function`.
    """
    x = np.asarray(xi, dtype=float)
    safe = np.maximum(x, 1e-2)
    e = np.exp(-safe)
    full = (
        2.0 * safe * (1.0 - e**2 - 2.0 * e * np.sin(safe)) / (1.0 + e**2 + 2.0 * e * np.cos(safe))
    )
    return np.where(x < 1e-2, x**4 / 3.0, full)


def coil_side_coupling(winding: Winding) -> float:
    """Return the mean cosine of the angle between the currents of a slot's two coil sides.

    1 where both belong to one phase (single layer, full pitch); a short-pitched winding has
    slots shared by two phases, whose currents are 60 or 120 degrees apart.
    """
    if winding.layers == 1:
        return 1.0
    shares = np.asarray(winding.slot_phases, dtype=float)
    angle = np.exp(-2j * pi * np.arange(3) / 3.0)
    # Net current phasor of a slot of two unit halves: |s|^2 = (2 + 2 cos) / 4.
    net = np.abs(angle @ shares) ** 2
    return float(np.clip(np.mean(2.0 * net - 1.0), -1.0, 1.0))


def layer_ratios(machine: Machine, frequency: ArrayLike, temperature: float) -> Array:
    """Return R_ac/R_dc of each rectangular conductor of a slot, inside the stack.

    Parameters
    ----------
    machine : Machine
        A machine with rectangular conductors.
    frequency : array_like, shape (...)
        Electrical frequency [Hz], >= 0.
    temperature : float
        Winding temperature [degC].

    Returns
    -------
    ndarray, shape (..., conductors per slot)
        Ratios, slot bottom first, mean over the slots.

    Notes
    -----
    For conductor p with current I above a total current I_b:
    k_p = phi(xi) + (|I_b|^2 + Re(I_b I*)) / |I|^2 psi(xi), which is phi + p (p - 1) psi when all
    currents are in phase; xi = h sqrt(omega mu0 b / (2 rho b_s)). The field is taken as straight
    across the slot (unsaturated teeth); near the slot opening finite elements give 15-30 % more
    when teeth saturate (from memory).

    References
    ----------
    A. B. Field, 1905; P. L. Dowell, Proc. IEE 113(8) 1387, 1966; Pyrhönen et al., 2nd ed., ch. 5.
    """
    w = machine.winding
    f = np.asarray(frequency, dtype=float)
    rho = machine.conductor.resistivity(temperature)
    fill = w.conductor_width / machine.stator.slot_width_inner
    xi = w.conductor_height * np.sqrt(pi * f * MU0 * fill / rho)
    m = w.conductors_per_slot
    weight = _current_weights(m, w.layers, coil_side_coupling(w))
    return np.asarray(skin_function(xi)[..., None] + proximity_function(xi)[..., None] * weight)


def _current_weights(conductors: int, layers: int, cosine: float) -> Array:
    """Return (|I_b|^2 + Re(I_b I*)) / |I|^2 for each conductor from the slot bottom."""
    below = np.arange(conductors, dtype=float)
    half = conductors // layers
    top = below - half
    upper = half**2 + 2.0 * half * top * cosine + top**2 + half * cosine + top
    return np.asarray(np.where((layers == 1) | (below < half), below**2 + below, upper))


def resistance_ratio(machine: Machine, frequency: ArrayLike, temperature: float) -> Array:
    """Return R_ac/R_dc of a phase, slots and end turns together.

    Parameters
    ----------
    machine : Machine
        The machine.
    frequency : array_like, shape (...)
        Electrical frequency [Hz], >= 0.
    temperature : float
        Mean winding temperature [degC].

    Returns
    -------
    ndarray, shape (...)
        Ratio, >= 1.

    Notes
    -----
    Slot part: mean of `layer_ratios`, or the round-strand form. End turns: an isolated round
    conductor of the same area (own skin effect only); bundled end turns lose somewhat more.
    Parallel strands and paths are taken to share current equally (transposed); circulating
    currents are not in it.
    """
    f = np.asarray(frequency, dtype=float)
    slot_share, end_share = winding_shares(machine)
    w = machine.winding
    rho = machine.conductor.resistivity(temperature)
    if w.is_rectangular:
        slot = layer_ratios(machine, f, temperature).mean(axis=-1)
        diameter = 2.0 * np.sqrt(w.conductor_area / pi)
        end = round_skin_ratio(diameter, f, rho)
    else:
        slot = _round_slot_ratio(machine, f, rho)
        end = round_skin_ratio(w.conductor_width, f, rho)
    return np.asarray(slot_share * slot + end_share * end)


def _wave_number(diameter: float, frequency: Array, resistivity: float) -> NDArray[Any]:
    """Return z = k a = (1 - j) a / delta of a round wire, kept away from zero."""
    delta_inverse = np.sqrt(pi * np.maximum(frequency, 1e-3) * MU0 / resistivity)
    return np.asarray((1.0 - 1.0j) * 0.5 * diameter * delta_inverse)


def round_skin_ratio(diameter: float, frequency: ArrayLike, resistivity: float) -> Array:
    """Return R_ac/R_dc of an isolated round wire.

    Parameters
    ----------
    diameter : float
        Bare diameter [m].
    frequency : array_like, shape (...)
        Frequency [Hz].
    resistivity : float
        [ohm m].

    Returns
    -------
    ndarray, shape (...)
        Re[z J0(z) / (2 J1(z))], z = (1 - j) d / (2 delta); exact. Any text on skin effect, for
        example J. A. Ferreira, IEEE Trans. Power Electron. 9(1) 127, 1994 (from memory).
    """
    z = _wave_number(diameter, np.asarray(frequency, dtype=float), resistivity)
    return np.asarray(np.real(0.5 * z * jve(0, z) / jve(1, z)), dtype=float)


def round_proximity_loss(
    diameter: float, frequency: ArrayLike, resistivity: float, *, field: float = 1.0
) -> Array:
    """Return the loss per length of a round wire in a uniform transverse field.

    Parameters
    ----------
    diameter : float
        Bare diameter [m].
    frequency : array_like, shape (...)
        Frequency [Hz].
    resistivity : float
        [ohm m].
    field : float
        Peak field strength H [A/m].

    Returns
    -------
    ndarray, shape (...)
        Loss [W/m], pi a^2 omega mu0 H^2 |Im(J2(z)/J0(z))|: exact for a wire far from others;
        pi omega^2 B^2 d^4 / (128 rho) where d is small against the skin depth.
    """
    f = np.maximum(np.asarray(frequency, dtype=float), 1e-3)
    z = _wave_number(diameter, f, resistivity)
    shape = np.abs(np.imag(jve(2, z) / jve(0, z)))
    return np.asarray(pi * (0.5 * diameter) ** 2 * 2.0 * pi * f * MU0 * field**2 * shape)


def _round_slot_ratio(machine: Machine, frequency: Array, resistivity: float) -> Array:
    """Return R_ac/R_dc of round strands in the slot: own skin effect and the slot field.

    The mean square of the slot field H(y) = I_below(y) / b_s(y) over the slot's area acts on
    every strand.
    """
    w, s = machine.winding, machine.stator
    u = (np.arange(SLOT_SAMPLES) + 0.5) / SLOT_SAMPLES  # from slot bottom to gap side
    width = s.slot_width_outer + u * (s.slot_width_inner - s.slot_width_outer)
    area = np.cumsum(width) - 0.5 * width
    below = area / width.sum()
    cosine = coil_side_coupling(w)
    top = below - 0.5
    squared = np.where(below < 0.5, below**2, 0.25 + cosine * top + top**2)
    if w.layers == 1:
        squared = below**2
    strands = w.conductors_per_slot * w.strands
    # Field of one ampere rms per strand; peak field squared is twice the rms value squared.
    mean_square = float(np.sum(squared / width**2 * width) / width.sum())
    field_peak = np.sqrt(2.0 * mean_square) * strands
    d = w.conductor_width
    dc_loss = resistivity / (0.25 * pi * d**2)
    proximity = round_proximity_loss(d, frequency, resistivity, field=float(field_peak)) / dc_loss
    return round_skin_ratio(d, frequency, resistivity) + proximity
