"""Round strands in a slot: skin effect, slot field, and currents that circulate among strands."""

from math import pi
from typing import Any

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import MU0
from models.losses.rectangular import coil_side_coupling, proximity_function, skin_function
from models.machine import Machine

Array = NDArray[np.float64]
SLOT_SAMPLES = 24
"""Heights at which the slot field is sampled for round strands (midpoint rule)."""


def _wave_number(diameter: float, frequency: Array, resistivity: float) -> NDArray[Any]:
    """Return z = k a = (1 - j) a / delta of a round wire, kept away from zero."""
    delta_inverse = np.sqrt(pi * np.maximum(frequency, 1e-3) * MU0 / resistivity)
    return np.asarray((1.0 - 1.0j) * 0.5 * diameter * delta_inverse)


def bessel_ratio(z: NDArray[Any]) -> NDArray[Any]:
    """Return J1(z) / J0(z) of complex arguments away from the zeros of J0, any shape.

    By its continued fraction 1 / (2 / z - 1 / (4 / z - ...)): Abramowitz and Stegun, 9.1.73.
    """
    out = _bessel_ratio(np.ascontiguousarray(z, dtype=np.complex128).reshape(-1))
    return np.asarray(out).reshape(np.shape(z))


@numba.njit(cache=True, error_model="numpy")
def _bessel_ratio(z: NDArray[Any]) -> NDArray[Any]:
    out = np.empty_like(z)
    for k in range(z.shape[0]):
        inverse = 1.0 / z[k]
        ratio = 0.0 * inverse
        # Terms beyond the argument's size fall off faster than any power.
        for order in range(int(abs(z[k])) + 25, 0, -1):
            ratio = 1.0 / (2.0 * order * inverse - ratio)
        out[k] = ratio
    return out


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
    return np.asarray(np.real(0.5 * z / bessel_ratio(z)), dtype=float)


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
    shape = np.abs(np.imag(2.0 / z * bessel_ratio(z)))  # J2 = 2 J1 / z - J0
    return np.asarray(pi * (0.5 * diameter) ** 2 * 2.0 * pi * f * MU0 * field**2 * shape)


def round_slot_ratio(machine: Machine, frequency: ArrayLike, resistivity: float) -> Array:
    """Return R_ac/R_dc of round strands in the slot: own skin effect and the slot field.

    Parameters
    ----------
    machine : Machine
        A machine with round strands.
    frequency : array_like, shape (...)
        Electrical frequency [Hz].
    resistivity : float
        [ohm m].

    Notes
    -----
    The mean square of the slot field H(y) = I_below(y) / b_s(y) over the slot's area acts on
    every strand; all strands carry the same current.
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


def circulating_ratio(machine: Machine, frequency: ArrayLike, resistivity: float) -> Array:
    """Return the loss of currents that circulate among parallel strands, over the DC loss.

    Parameters
    ----------
    machine : Machine
        A machine with round strands that keep their place in the conductor (not transposed).
    frequency : array_like, shape (...)
        Electrical frequency [Hz].
    resistivity : float
        [ohm m].

    Returns
    -------
    ndarray, shape (...)
        To be added to R_ac/R_dc of the whole phase, >= 0; zero for a single strand.

    Notes
    -----
    The conductors lie one above the other in the slot, each a bundle of strands in parallel from
    one end of the coil to the other. A strand at height u (0 to 1) of its bundle links, in turn p
    of m, a flux in proportion to (p - 1) u + u^2 / 2; the mean over turns drives the circulating
    current through slots and end turns. For a bar of the bundle's height and copper this is
    Field's solution with (m^2 - 1) / 4 for p (p - 1), and a reduced height lowered by
    sqrt(L / (L + l_end)) because the end turns add resistance but no voltage. Exact where the
    current is limited by resistance. It is the worst case: twisting removes it, and strands that
    lie at random lie in between.

    References
    ----------
    A. B. Field, 1905; P. L. Dowell, Proc. IEE 113(8) 1387, 1966, for the bar; the mean over
    turns is derived in `tests/unit/test_winding_loss_parts.py`. That the loss falls with the
    square of the conductor's whole length: T. El Hajji, A. Lehikoinen, A. Belahcen, arXiv
    2411.07235, 2024 (abstract read).
    """
    w, s = machine.winding, machine.stator
    f = np.asarray(frequency, dtype=float)
    if w.strands < 2:
        return np.zeros_like(f)
    m = w.conductors_per_slot
    height = s.body_height / m
    fill = w.conductor_area / (height * 0.5 * (s.slot_width_inner + s.slot_width_outer))
    in_slot = machine.stack_length / (machine.stack_length + w.end_turn_length)
    xi = height * np.sqrt(pi * f * MU0 * fill * in_slot / resistivity)
    return np.asarray(skin_function(xi) - 1.0 + 0.25 * (m**2 - 1) * proximity_function(xi))
