"""Skin effect in a bar of any profile: resistance and slot leakage over slip frequency."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.cage_rotor import CageRotor
from models.constants import MU0
from models.geometry.cage import bar_area

Array = NDArray[np.float64]

LAYERS = 24
"""Layers that a profile is cut into; a rectangle needs one (each layer is solved exactly)."""
LOWEST_FREQUENCY = 1e-3
"""Angular frequency that stands for direct current [rad/s]."""


def layered_impedance(
    widths: Array, heights: Array, frequency: ArrayLike, resistivity: float
) -> NDArray[np.complex128]:
    """Return the impedance of a bar in a slot of infinitely permeable iron.

    Parameters
    ----------
    widths, heights : ndarray, shape (k,)
        Layers from the slot bottom to the opening [m].
    frequency : array_like, shape (...)
        Angular frequency [rad/s], >= 0.
    resistivity : float
        [ohm m].

    Returns
    -------
    ndarray of complex, shape (...)
        Per length [ohm/m]: E at the bar's top over its current. The real part is the resistance,
        the imaginary part over the frequency the leakage inductance inside the bar.

    Notes
    -----
    In a layer of width b the field H = i / b, with i the current below, obeys
    H'' = j w mu0 / rho H; E = rho H' and i are continuous from layer to layer. For one layer this
    is A. B. Field's solution, rho gamma / b coth(gamma h) (Trans. AIEE 24, 1905, from memory).
    """
    w = np.maximum(np.asarray(frequency, dtype=float), LOWEST_FREQUENCY)
    gamma = np.sqrt(1j * w * MU0 / resistivity)
    field = np.ones(w.shape, dtype=complex)
    current = np.zeros(w.shape, dtype=complex)
    for width, height in zip(widths, heights):
        u = gamma * height
        cosh, sinh = np.cosh(u), np.sinh(u)
        field, current = (
            field * cosh + current * (resistivity * gamma / width) * sinh,
            current * cosh + field * (width / (resistivity * gamma)) * sinh,
        )
    return np.asarray(field / current)


def bar_layers(rotor: CageRotor) -> tuple[Array, Array]:
    """Return widths and heights of the layers of a bar [m], its area kept exactly."""
    if rotor.is_rectangle:
        return np.array([2.0 * rotor.top_radius]), np.array([rotor.bar_height])
    edges = np.linspace(rotor.bar_bottom, rotor.bar_top, LAYERS + 1)
    # the mean of three places stands for a layer, so that round ends keep a width
    step = edges[1] - edges[0]
    inside = edges[:-1, None] + step * np.array([1.0, 3.0, 5.0]) / 6.0
    widths = rotor.width(inside.ravel()).reshape(LAYERS, 3).mean(axis=1)
    heights = np.full(LAYERS, step)
    return widths * (bar_area(rotor) / float(widths @ heights)), heights


def bar_impedance(
    rotor: CageRotor, frequency: ArrayLike, temperature: float
) -> tuple[Array, Array]:
    """Return resistance [ohm/m] and inner leakage inductance [H/m] of one bar.

    Parameters
    ----------
    rotor : CageRotor
        Bar profile and material.
    frequency : array_like, shape (...)
        Angular slip frequency [rad/s]; its sign does not matter.
    temperature : float
        Bar temperature [degC].

    Returns
    -------
    resistance, inductance : ndarray, shape (...)
    """
    w = np.maximum(np.abs(np.asarray(frequency, dtype=float)), LOWEST_FREQUENCY)
    widths, heights = bar_layers(rotor)
    z = layered_impedance(widths, heights, w, rotor.material.resistivity(temperature))
    return np.asarray(z.real), np.asarray(z.imag / w)
