"""Rectangular conductors in a slot: the one-dimensional field solution, layer by layer."""

from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import MU0
from models.machine import Machine, Winding

Array = NDArray[np.float64]


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


@lru_cache(maxsize=64)
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


def opening_share(ratios: Array, height_share: float) -> Array:
    """Return the share of a slot's winding loss in the conductors nearest to the slot opening.

    Parameters
    ----------
    ratios : ndarray, shape (..., m)
        R_ac/R_dc of each conductor, slot bottom first (`layer_ratios`).
    height_share : float
        Share of the conductors' height counted from the opening, 0 to 1; a conductor cut by it
        counts in proportion.

    Returns
    -------
    ndarray, shape (...)
        At least `height_share`: the field grows towards the opening.
    """
    m = ratios.shape[-1]
    weight = np.clip(np.arange(1, m + 1) - m * (1.0 - height_share), 0.0, 1.0)
    return np.asarray(ratios @ weight / ratios.sum(axis=-1))
