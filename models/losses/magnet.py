"""Eddy-current loss of segmented magnets by exact solutions for a rectangular block.

From resistance-limited (eddy currents too weak to matter to the field) to skin-limited (they keep
the field out): one formula covers both, and the way from one to the other.
"""

from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import MU0
from models.machine import InteriorRotor, Machine, rotor_as

Array = NDArray[np.float64]
_ODD = np.arange(1.0, 40.0, 2.0)

BELT_ORDER = 6
"""Order of the lowest field harmonic that the rotor sees with whole slots per pole and phase."""


def torsion_constant(side: ArrayLike, other: ArrayLike) -> Array:
    """Return Saint-Venant's torsion constant J_t of a rectangle [m^4].

    J_t = a b^3 [1/3 - (64/pi^5) (b/a) sum_odd tanh(n pi a / 2 b) / n^5] for a >= b.

    Parameters
    ----------
    side, other : array_like
        Sides [m], any order.

    References
    ----------
    Timoshenko and Goodier, *Theory of Elasticity*, art. 109 (from memory).
    """
    x, y = np.asarray(side, dtype=float), np.asarray(other, dtype=float)
    a, b = np.maximum(x, y), np.minimum(x, y)
    terms = np.tanh(_ODD * pi * (a / b)[..., None] / 2.0) / _ODD**5
    return np.asarray(a * b**3 * (1.0 / 3.0 - 64.0 / pi**5 * (b / a) * terms.sum(axis=-1)))


@lru_cache(maxsize=64)
def _torsion(side: float, other: float) -> float:
    return float(torsion_constant(side, other))


def block_loss(
    sides: tuple[float, float], height: float, *, amplitude: ArrayLike, frequency: ArrayLike,
    resistivity: float,
) -> Array:  # fmt: skip
    """Return the resistance-limited loss of a block in a uniform field along its height.

    Parameters
    ----------
    sides : tuple of 2 float
        Sides across the field [m].
    height : float
        Size along the field [m].
    amplitude : array_like
        Peak flux density [T].
    frequency : array_like
        Frequency [Hz], broadcast with `amplitude`.
    resistivity : float
        [ohm m].

    Returns
    -------
    ndarray
        Loss [W].

    Notes
    -----
    The current stream function obeys the equation of torsion, so
    P = (omega B)^2 / (2 rho) (J_t / 4) h exactly, end turns of the current included. Valid while
    the shorter side is below the skin depth.

    References
    ----------
    W.-Y. Huang et al., IEEE Trans. Energy Convers. 25(2) 381, 2010; D. Ouamara and F. Dubas,
    Math. Comput. Appl. 24(3) 67, 2019, doi:10.3390/mca24030067.
    """
    rate = 2.0 * pi * np.asarray(frequency, dtype=float) * np.asarray(amplitude, dtype=float)
    return np.asarray(rate**2 / (2.0 * resistivity) * _torsion(*sides) / 4.0 * height)


def skin_reduction(ratio: ArrayLike) -> Array:
    """Return the loss over its resistance-limited value when the eddy currents' own field counts.

    Parameters
    ----------
    ratio : array_like
        Width over skin depth, lambda >= 0.

    Returns
    -------
    ndarray
        (6 / lambda^3) (sinh lambda - sin lambda) / (cosh lambda + cos lambda), in (0, 1].

    Notes
    -----
    Plate of that width with the alternating field imposed on both faces (one-dimensional
    diffusion, exact). The field, not the flux, is imposed because the magnet's own reluctance
    is most of its path. Far past the skin depth the loss of a plate no longer depends on its
    width, so cutting a magnet in pieces raises the loss there, as Huang et al. 2010 report.
    """
    x = np.asarray(ratio, dtype=float)
    safe = np.maximum(x, 5e-2)
    e = np.exp(-safe)
    full = (
        6.0
        / safe**3
        * (1.0 - e**2 - 2.0 * e * np.sin(safe))
        / (1.0 + e**2 + 2.0 * e * np.cos(safe))
    )
    # The exact form loses digits below; the next term of the series is 17/420 lambda^4.
    return np.where(x < 5e-2, 1.0 - 17.0 / 420.0 * x**4, full)


def block_reduction(sides: tuple[float, float], skin_depth: ArrayLike) -> Array:
    """Return a block's eddy loss over its resistance-limited value.

    Parameters
    ----------
    sides : tuple of 2 float
        Sides across the field [m].
    skin_depth : array_like, shape (...)
        delta = sqrt(rho / (pi f mu)) [m], > 0.

    Returns
    -------
    ndarray, shape (...)
        In (0, 1].

    Notes
    -----
    Field H along the height, alternating, the same on all four sides: inside it obeys
    laplace H = k^2 H with k^2 = 2j / delta^2. The double sine series of the rectangle a x b is
    summed exactly along the longer side:

        mean(H) / H_0 = 1 - sum_{m odd} 8 / (pi m)^2 (k / g)^2 (1 - tanh(g b / 2) / (g b / 2)),
        g^2 = k^2 + (m pi / a)^2,   loss = -omega mu H_0^2 / 2 Im(mean(H) / H_0) per volume.

    Its low-frequency limit is `block_loss`, its limit for a long block `skin_reduction`. Deep in
    the skin effect the loss follows the perimeter, so cutting a magnet in pieces raises it. Exact
    for blocks tall along the field against the skin depth; the field on the sides is taken as
    given because the magnet's own reluctance is most of its path.

    References
    ----------
    Sine series of the diffusion equation in a rectangle: any text on heat conduction. That
    segmenting can raise the loss: W.-Y. Huang et al., IEEE Trans. Energy Convers. 25(2) 381, 2010.
    """
    long, short = max(sides), min(sides)
    delta = np.asarray(skin_depth, dtype=float)[..., None]
    square = 2.0j / delta**2
    root = np.sqrt(square + (_ODD * pi / short) ** 2)
    half = 0.5 * long * root
    terms = 8.0 / (pi * _ODD) ** 2 * square / root**2 * (1.0 - np.tanh(half) / half)
    volume_factor = 2.0 * long * short / _torsion(long, short)
    return np.asarray(volume_factor * delta[..., 0] ** 2 * terms.imag.sum(axis=-1))


def magnet_skin_depth(machine: Machine, frequency: ArrayLike) -> Array:
    """Return the skin depth of the magnet material [m] at a frequency [Hz] above zero."""
    magnet = machine.magnet
    permeability = MU0 * magnet.recoil_permeability
    f = np.asarray(frequency, dtype=float)
    return np.asarray(np.sqrt(magnet.resistivity / (pi * f * permeability)))


def piece_sides(machine: Machine) -> tuple[float, float]:
    """Return the sides of one magnet piece across the field: width, axial length [m]."""
    r = rotor_as(machine, InteriorRotor)
    return r.magnet_width / r.magnet_width_segments, machine.stack_length / r.magnet_axial_segments


def slot_order(machine: Machine) -> float:
    """Return the order of the lowest slot harmonic seen by the rotor, slots per pole pair."""
    return machine.stator.slots / machine.pole_pairs


def loss_per_ripple(machine: Machine, frequency: ArrayLike, *, order: float = BELT_ORDER) -> Array:
    """Return the eddy-current loss of all magnets for a ripple of 1 T.

    Parameters
    ----------
    machine : Machine
        The machine; pieces along the stack and across the leg count.
    frequency : array_like, shape (...)
        Electrical frequency [Hz], >= 0.
    order : float
        Ripple frequency over electrical frequency.

    Returns
    -------
    ndarray, shape (...)
        Loss over squared ripple amplitude [W/T^2].

    Notes
    -----
    The ripple is uniform over each piece: the iron over a buried magnet spreads it over the leg
    (in the field model the mean over a leg holds 97 to 100 % of the root mean square at 6 f and
    12 f). Pieces are insulated from each other. Converter harmonics are not in it. From memory:
    simple forms of this kind lie within 5-15 % of three-dimensional finite elements.
    """
    r, magnet = rotor_as(machine, InteriorRotor), machine.magnet
    f = order * np.asarray(frequency, dtype=float)
    sides = piece_sides(machine)
    pieces = 4 * machine.pole_pairs * r.magnet_width_segments * r.magnet_axial_segments
    block = block_loss(
        sides, r.magnet_thickness, amplitude=1.0, frequency=f, resistivity=magnet.resistivity,
    )  # fmt: skip
    depth = magnet_skin_depth(machine, np.maximum(f, 1e-3))
    return np.asarray(pieces * block * block_reduction(sides, depth))


def magnet_loss(
    machine: Machine, ripple: ArrayLike, frequency: ArrayLike, *, order: float = BELT_ORDER
) -> Array:
    """Return the eddy-current loss of all magnets [W] from one harmonic of their field.

    Parameters
    ----------
    machine : Machine
        The machine.
    ripple : array_like
        Peak flux-density ripple in the magnets at `order` times electrical frequency [T].
    frequency : array_like
        Electrical frequency [Hz], broadcast with `ripple`.
    order : float
        Six (phase belts), or `slot_order` (slot harmonics); losses of different orders add.

    Returns
    -------
    ndarray
        Loss [W], see `loss_per_ripple`.
    """
    per_square = loss_per_ripple(machine, frequency, order=order)
    return np.asarray(per_square * np.asarray(ripple, dtype=float) ** 2)
