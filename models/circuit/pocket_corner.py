"""How much the pocket's corner at a magnet's end raises the opposing field there.

The network knows the mean field of a magnet third. Demagnetisation begins at the end of the magnet
where the pocket turns away to the outer barrier: the field crowds around the convex iron corner.
"""

from functools import lru_cache
from math import atan2, hypot, pi

import numba
import numpy as np

from models.circuit.network import Array
from models.machine import InteriorRotor, Machine, rotor_as

_ALONG, _ACROSS = 64, 30
"""Points of the grid over ln w."""
_HIGH = 1.5
"""Its end, beyond the corner at ln |w| = 0."""
_WIDEST = 12.0
"""Largest |ln a| looked at."""
_LEAST_TURN = 0.01
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)
# Substitution t = 1 - u^4 on (0, 1): tames the integrable singularity at t = 1.
_U = 0.5 * (_POINTS + 1.0)
_T, _DT = 1.0 - _U**4, 2.0 * _U**3 * _WEIGHTS
CORNER_NODES = (_T, _DT)
"""Places and weights on (0, 1) for integrands with a power of 1 - t."""

LOW_SHARE = 0.02
"""Area share of the lowest magnet field, as in the field model."""


def lowest_field_at_pocket_corner(machine: Machine, field: Array, remanence: float) -> float:
    """Return the flux density along the magnetisation that 2 % of the magnets lie below [T].

    Parameters
    ----------
    machine : Machine
    field : ndarray
        Mean of every magnet segment at every position [T].
    remanence : float
        [T].

    Notes
    -----
    The network gives the mean of each magnet third; the opposing field at the end of the magnet
    is higher by the pocket's corner.
    """
    lowest = float(field.min())
    opposing = max(0.0, remanence - lowest)
    rotor = rotor_as(machine, InteriorRotor)
    return lowest - opposing * (corner_amplification(rotor, LOW_SHARE) - 1.0)


def corner_amplification(rotor: InteriorRotor, share: float) -> float:
    """Return the field, over that far from the corner, exceeded on a share of the magnet's area.

    Parameters
    ----------
    rotor : InteriorRotor
        Pocket with walls of high permeability.
    share : float
        Share of the area of a magnet leg, 0..1.

    Returns
    -------
    float
        At least 1: ratio of the field component along the magnetisation.

    Notes
    -----
    The pocket is a channel of two equipotential walls that turn by the angles pi b (gap side,
    away from the magnet's end) and pi b' (shaft side), at corners opposite each other. It is the
    image of a half plane w by the Schwarz-Christoffel map

        dz/dw = h / (pi w) (1 + w)^b (1 - w / a)^(-b')

    with the corners at w = -1 and w = a, and the magnet towards w = 0. The field over that in the
    straight channel is (1 + w)^(-b) (1 - w / a)^(b'). `a` follows from the corners' places. No
    number is fitted.

    Valid for a magnet that ends at the corner, recoil permeability near 1, walls that are not
    saturated, and barriers that are long against the magnet's thickness.

    References
    ----------
    K. J. Binns, P. J. Lawrenson, C. W. Trowbridge, The Analytical and Numerical Solution of
    Electric and Magnetic Fields, Wiley 1992 (from memory: the method, not this case).
    """
    turn, opposite = _turns(rotor)
    length = rotor.magnet_width / rotor.magnet_thickness
    return channel_amplification(turn, opposite, length=length, share=share)


@lru_cache(maxsize=64)
def channel_amplification(
    turn: float, opposite: float, *, length: float, share: float, ahead: float = 0.0,
    gap: float = 0.0,
) -> float:  # fmt: skip
    """Return the field ratio of `corner_amplification` for a channel with these turns.

    Parameters
    ----------
    turn, opposite : float
        Turns of the gap-side and the shaft-side wall over pi.
    length : float
        Magnet width over thickness.
    share : float
        Share of the magnet's area, 0..1.
    ahead : float
        How far the gap-side corner lies beyond the opposite one, over thickness.
    gap : float
        Air between the magnet's end and the gap-side corner, over thickness.
    """
    if turn < _LEAST_TURN:
        return 1.0
    place = _opposite_corner(turn, opposite, pi * ahead)
    corner = _near_corner(place, turn, opposite)
    # Only the field near the corner matters: so far along the channel as to hold several times
    # the area asked for, and no further than the magnet.
    reach = min(length, 2.0, 0.6 + 4.0 * share * length)
    ratio, area = _channel(place, turn, opposite, reach + gap, corner - pi * gap)
    if ratio.size == 0:
        return 1.0
    order = np.argsort(-ratio, kind="stable")
    reached = np.cumsum(area[order])
    # areas are in units of (h / pi)^2
    wanted = share * length * pi**2
    return max(1.0, float(np.interp(wanted, reached, ratio[order])))


def _turns(rotor: InteriorRotor) -> tuple[float, float]:
    """Return by what parts of pi the walls turn towards the gap at the magnet's end."""
    gap_in, gap_out, shaft_out, _ = rotor.magnet_corners
    near, far = rotor.barrier_corners
    along = (gap_out[0] - gap_in[0], gap_out[1] - gap_in[1])
    outward = (gap_out[0] - shaft_out[0], gap_out[1] - shaft_out[1])

    def turn(start: tuple[float, float], end: tuple[float, float]) -> float:
        x, y = end[0] - start[0], end[1] - start[1]
        return (
            atan2(
                (x * outward[0] + y * outward[1]) / hypot(*outward),
                (x * along[0] + y * along[1]) / hypot(*along),
            )
            / pi
        )

    return turn(gap_out, near), turn(shaft_out, far)


@numba.njit(cache=True, error_model="numpy")
def _near_corner(a: float, turn: float, opposite: float) -> float:
    """Return the place of the near corner along the channel, in units of h / pi."""
    total = 0.0
    for t, weight in zip(_T, _DT):
        total += weight * ((1.0 - t) ** turn * (1.0 + t / a) ** -opposite - 1.0) / t
    return total


@numba.njit(cache=True, error_model="numpy")
def _offset(log_a: float, turn: float, opposite: float) -> float:
    """Return how far the near corner lies beyond the opposite one, in units of h / pi."""
    a = np.exp(log_a)
    far = 0.0
    for t, weight in zip(_T, _DT):
        far += weight * ((1.0 + a * t) ** turn * (1.0 - t) ** -opposite - 1.0) / t
    return _near_corner(a, turn, opposite) - log_a - far


@numba.njit(cache=True, error_model="numpy")
def _opposite_corner(turn: float, opposite: float, ahead: float) -> float:
    """Return `a`, where the near corner lies `ahead` beyond the other, by bisection (it falls)."""
    low, high = -_WIDEST, _WIDEST
    for _ in range(18):
        middle = 0.5 * (low + high)
        if _offset(middle, turn, opposite) > ahead:
            low = middle
        else:
            high = middle
    at_low = _offset(low, turn, opposite) - ahead
    at_high = _offset(high, turn, opposite) - ahead
    if at_low <= 0.0 or at_high >= 0.0:
        return float(np.exp(low))  # too far apart to act together
    return float(np.exp(low + (high - low) * at_low / (at_low - at_high)))


@numba.njit(cache=True, error_model="numpy")
def _channel(
    a: float, turn: float, opposite: float, reach: float, corner: float
) -> tuple[Array, Array]:
    """Return field ratio and area on a grid of ln w, up to the near corner's place."""
    low = -pi * (reach + 0.5)
    start = np.exp(low) * (turn + opposite / a)
    step = (_HIGH - low) / _ALONG
    ratio, area = np.empty(_ALONG * _ACROSS), np.empty(_ALONG * _ACROSS)
    count = 0
    for j in range(_ACROSS):
        across = (j + 0.5) * pi / _ACROSS
        cosine, sine = np.cos(across), np.sin(across)
        place = low + start * cosine  # the channel's field is not quite even at its start
        for i in range(_ALONG):
            size = np.exp(low + (i + 0.5) * step)
            x, y = size * cosine, size * sine
            # (1 + w)^turn (1 - w / a)^-opposite by modulus and argument
            modulus = ((1.0 + x) ** 2 + y**2) ** (0.5 * turn) * (
                (1.0 - x / a) ** 2 + (y / a) ** 2
            ) ** (-0.5 * opposite)
            angle = turn * np.arctan2(y, 1.0 + x) - opposite * np.arctan2(-y, a - x)
            along = modulus * np.cos(angle)
            place += step * along
            if place - 0.5 * step * along <= corner:
                ratio[count] = np.cos(angle) / modulus
                area[count] = modulus**2 * step * (pi / _ACROSS)
                count += 1
    return ratio[:count], area[:count]
