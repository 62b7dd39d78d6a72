"""How much the pocket's corner at a magnet's end raises the opposing field there.

The network knows the mean field of a magnet third. Demagnetisation begins at the end of the magnet
where the pocket turns away to the outer barrier: the field crowds around the convex iron corner.
"""

from math import atan2, exp, hypot, pi

import numpy as np
from scipy.optimize import brentq

from models.circuit.network import Array
from models.machine import InteriorRotor, Machine, rotor_as

_ALONG, _ACROSS = 80, 24
_LEAST_TURN = 0.01
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)
# Substitution t = 1 - u^4 on (0, 1): tames the integrable singularity at t = 1.
_U = 0.5 * (_POINTS + 1.0)
_T, _DT = 1.0 - _U**4, 2.0 * _U**3 * _WEIGHTS


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
    turn, turn_opposite = _turns(rotor)
    if turn < _LEAST_TURN:
        return 1.0
    a = exp(brentq(lambda x: _offset(exp(x), x, turn, turn_opposite), -12.0, 12.0, xtol=1e-4))
    length = rotor.magnet_width / rotor.magnet_thickness
    ratio, area, place = _channel(a, turn, turn_opposite, length)
    corner = float(np.sum(_DT * _near_profile(a, turn, turn_opposite)))
    inside = place <= corner
    order = np.argsort(-ratio[inside], kind="stable")
    reached = np.cumsum(area[inside][order])
    # areas are in units of (h / pi)^2
    wanted = share * length * pi**2
    return max(1.0, float(np.interp(wanted, reached, ratio[inside][order])))


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


def _near_profile(a: float, turn: float, opposite: float) -> Array:
    """Integrand of the place of the near corner along the channel, from w = 0 to -1."""
    return np.asarray(((1.0 - _T) ** turn * (1.0 + _T / a) ** -opposite - 1.0) / _T)


def _offset(a: float, log_a: float, turn: float, opposite: float) -> float:
    """Return how far the near corner lies beyond the opposite one, in units of h / pi."""
    far_profile = ((1.0 + a * _T) ** turn * (1.0 - _T) ** -opposite - 1.0) / _T
    near = np.sum(_DT * _near_profile(a, turn, opposite))
    return float(near - log_a - np.sum(_DT * far_profile))


def _channel(
    a: float, turn: float, opposite: float, length: float
) -> tuple[Array, Array, Array]:  # fmt: skip
    """Return field ratio, area and place along the channel on a grid of ln w."""
    low, high = -pi * (min(length, 2.0) + 0.3), 1.5
    step = (high - low) / _ALONG
    along = low + (np.arange(_ALONG) + 0.5) * step
    across = (np.arange(_ACROSS) + 0.5) * pi / _ACROSS
    w = np.exp(along[:, None] + 1j * across)
    slope = (1.0 + w) ** turn * (1.0 - w / a) ** -opposite
    place = low + step * (np.cumsum(slope.real, axis=0) - 0.5 * slope.real)
    area = np.abs(slope) ** 2 * step * (pi / _ACROSS)
    return (1.0 / slope).real, area, place
