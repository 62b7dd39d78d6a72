"""Eddy-current loss of segmented magnets by the exact solution for a rectangular block."""

from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import MU0
from models.machine import Machine

Array = NDArray[np.float64]
_ODD = np.arange(1.0, 40.0, 2.0)


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
    return np.asarray(rate**2 / (2.0 * resistivity) * torsion_constant(*sides) / 4.0 * height)


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


def magnet_loss(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> Array:
    """Return the eddy-current loss of all magnets.

    Parameters
    ----------
    machine : Machine
        The machine; pieces along the stack and across the leg count.
    ripple : array_like
        Peak flux-density ripple in the magnets at six times electrical frequency [T].
    frequency : array_like
        Electrical frequency [Hz], broadcast with `ripple`.

    Returns
    -------
    ndarray
        Loss [W].

    Notes
    -----
    One harmonic (6 f, uniform over each piece): phase-belt ripple of an
    integral-slot winding; converter harmonics are not in it. Pieces are insulated from each
    other. Skin effect by `skin_reduction` with the width w l / sqrt(w^2 + l^2), which is the
    shorter side of a slender piece. From memory: simple forms of this kind lie within 5-15 % of
    three-dimensional finite elements.
    """
    r, magnet = machine.rotor, machine.magnet
    f = 6.0 * np.asarray(frequency, dtype=float)
    width = r.magnet_width / r.magnet_width_segments
    length = machine.stack_length / r.magnet_axial_segments
    pieces = 4 * machine.pole_pairs * r.magnet_width_segments * r.magnet_axial_segments
    block = block_loss(
        (width, length), r.magnet_thickness,
        amplitude=ripple, frequency=f, resistivity=magnet.resistivity,
    )  # fmt: skip
    permeability = MU0 * magnet.recoil_permeability
    delta_inverse = np.sqrt(pi * f * permeability / magnet.resistivity)
    scale = width * length / np.hypot(width, length)
    return np.asarray(pieces * block * skin_reduction(scale * delta_inverse))
