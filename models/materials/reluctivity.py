"""Reluctivity of iron as a function of squared flux density, fast and smooth.

Both models solve for a vector potential, so they need nu(B^2) = H/B and its slope. The table is
uniform in B^2 with cubic Hermite pieces (continuous slope); past its end the material is
saturated and adds mu0 only: H = H_end + (B - B_end) / mu0.
"""

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from models.constants import MU0
from models.errors import InvalidInputError

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ReluctivityTable:
    """nu(B^2) at uniform steps of B^2.

    Attributes
    ----------
    step : float
        Spacing of B^2 [T^2].
    nu : ndarray, shape (n,)
        Reluctivity at B^2 = k step [m/H].
    slope : ndarray, shape (n,)
        d nu / d(B^2) there [m/(H T^2)].
    """

    step: float
    nu: Array
    slope: Array

    def __call__(self, b_squared: Array) -> tuple[Array, Array]:
        """Return reluctivity [m/H] and its slope for squared flux densities [T^2], any shape."""
        b2 = np.ascontiguousarray(b_squared, dtype=float)
        nu, slope = _lookup(b2.ravel(), self.step, self.nu, self.slope)
        return nu.reshape(b2.shape), slope.reshape(b2.shape)


@numba.njit(cache=True, error_model="numpy", inline="always")
def reluctivity_at(b2: float, step: float, nu: Array, slope: Array) -> tuple[float, float]:
    """Return (nu, d nu/d(B^2)) at one squared flux density [T^2]; for compiled loops."""
    n = nu.shape[0]
    s = b2 / step
    k = int(s)
    if k >= n - 1:
        b_end = np.sqrt((n - 1) * step)
        b = np.sqrt(b2)
        h = nu[n - 1] * b_end + (b - b_end) / MU0
        value = h / b
        return value, (1.0 / MU0 - value) / (2.0 * b2)
    t = s - k
    d = nu[k + 1] - nu[k]
    m0 = slope[k] * step
    m1 = slope[k + 1] * step
    c2 = 3.0 * d - 2.0 * m0 - m1
    c3 = m0 + m1 - 2.0 * d
    value = nu[k] + t * (m0 + t * (c2 + t * c3))
    return value, (m0 + t * (2.0 * c2 + 3.0 * t * c3)) / step


@numba.njit(cache=True, error_model="numpy")
def _lookup(b2: Array, step: float, nu: Array, slope: Array) -> tuple[Array, Array]:
    out = np.empty_like(b2)
    out_slope = np.empty_like(b2)
    for i in range(b2.shape[0]):
        out[i], out_slope[i] = reluctivity_at(b2[i], step, nu, slope)
    return out, out_slope


def stacked(table: ReluctivityTable, stacking_factor: float) -> ReluctivityTable:
    """Return the reluctivity of a stack of sheets and thin air spaces side by side.

    Parameters
    ----------
    table : ReluctivityTable
        The solid sheet.
    stacking_factor : float
        Iron length over stack length k, above 0 and at most 1.

    Returns
    -------
    ReluctivityTable
        For the mean flux density of the stack.

    Notes
    -----
    Sheet and space see the same H:  B = k B_iron(H) + (1 - k) mu0 H.
    """
    k = stacking_factor
    if not 0.0 < k <= 1.0:
        raise InvalidInputError(f"stacking factor {k!r} is not in (0, 1]")
    if k == 1.0:
        return table
    return _side_by_side(table, k, table.step * k**2)


def beside(table: ReluctivityTable, share: float) -> ReluctivityTable:
    """Return the reluctivity of iron with wide air beside it, such as a tooth with its slot.

    As `stacked` with `share` for the stacking factor, but up to where the iron reaches the end of
    its own table: past the end of this one, too, only mu0 is added.
    """
    b_end = float(np.sqrt(table.step * (len(table.nu) - 1)))
    end = share * b_end + (1.0 - share) * MU0 * float(table.nu[-1]) * b_end
    return _side_by_side(table, share, end**2 / (len(table.nu) - 1))


def _side_by_side(table: ReluctivityTable, k: float, step: float) -> ReluctivityTable:
    """Return H over the mean flux density of iron, share k, and air, at steps of its square."""
    n = len(table.nu)
    mean = np.sqrt(step * np.arange(n))
    known = np.sqrt(table.step * np.arange(n))
    iron = np.interp(mean, k * known + (1.0 - k) * MU0 * table.nu * known, known)
    for _ in range(60):
        nu, slope = table(iron**2)
        change = (k * iron + (1.0 - k) * MU0 * nu * iron - mean) / (
            k + (1.0 - k) * MU0 * (nu + 2.0 * iron**2 * slope)
        )
        iron = np.maximum(iron - change, 0.0)
        if np.max(np.abs(change)) < 1e-13:
            break
    nu, slope = table(iron**2)
    differential = nu + 2.0 * iron**2 * slope
    mean_differential = differential / (k + (1.0 - k) * MU0 * differential)
    ratio = np.empty(n)
    derivative = np.empty(n)
    ratio[1:] = nu[1:] * iron[1:] / mean[1:]
    derivative[1:] = (mean_differential[1:] - ratio[1:]) / (2.0 * mean[1:] ** 2)
    # limit at B = 0 from the series of H(B)
    start = k + (1.0 - k) * MU0 * nu[0]
    ratio[0] = nu[0] / start
    derivative[0] = slope[0] * k / start**4
    return ReluctivityTable(step, ratio, derivative)
