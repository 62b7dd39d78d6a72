"""Compiled loops over elements: stiffness, the iron's force and tangent, a symmetric product."""

import numba
import numpy as np
from numpy.typing import NDArray

from models.materials.reluctivity import reluctivity_at

Array = NDArray[np.float64]


@numba.njit(cache=True, error_model="numpy")
def add_linear(
    stored: Array, place: NDArray[np.int32], sign: Array, gradient: Array, weight: Array
) -> None:
    """Add the stiffness of elements with constant reluctivity (included in `weight`)."""
    for e in range(place.shape[0]):
        m = 0
        for i in range(6):
            for j in range(i, 6):
                total = 0.0
                for q in range(3):
                    total += weight[e, q] * (
                        gradient[e, q, 0, i] * gradient[e, q, 0, j]
                        + gradient[e, q, 1, i] * gradient[e, q, 1, j]
                    )
                stored[place[e, m]] += sign[e, i] * sign[e, j] * total
                m += 1


@numba.njit(cache=True, error_model="numpy")
def add_iron_force(
    a: Array,
    force: Array,
    unknown: NDArray[np.int32],
    sign: Array,
    gradient: Array,
    weight: Array,
    step: float,
    nu: Array,
    slope: Array,
) -> None:
    """Add the iron's internal force at potential `a` (size + 1)."""
    local = np.empty(6)
    inner = np.empty(6)
    for e in range(unknown.shape[0]):
        for i in range(6):
            local[i] = sign[e, i] * a[unknown[e, i]]
            inner[i] = 0.0
        for q in range(3):
            gx, gy = 0.0, 0.0
            for i in range(6):
                gx += local[i] * gradient[e, q, 0, i]
                gy += local[i] * gradient[e, q, 1, i]
            value, _ = reluctivity_at(gx * gx + gy * gy, step, nu, slope)
            hx, hy = weight[e, q] * value * gx, weight[e, q] * value * gy
            for i in range(6):
                inner[i] += hx * gradient[e, q, 0, i] + hy * gradient[e, q, 1, i]
        for i in range(6):
            force[unknown[e, i]] += sign[e, i] * inner[i]


@numba.njit(cache=True, error_model="numpy")
def add_iron_tangent(
    a: Array,
    stored: Array,
    unknown: NDArray[np.int32],
    sign: Array,
    place: NDArray[np.int32],
    gradient: Array,
    weight: Array,
    step: float,
    nu: Array,
    slope: Array,
    slope_share: float,
) -> None:
    """Add the iron's tangent stiffness at potential `a`; with `slope_share` 0 the secant."""
    local = np.empty(6)
    along = np.empty(6)
    matrix = np.empty(21)
    for e in range(unknown.shape[0]):
        for i in range(6):
            local[i] = sign[e, i] * a[unknown[e, i]]
        matrix[:] = 0.0
        for q in range(3):
            gx, gy = 0.0, 0.0
            for i in range(6):
                gx += local[i] * gradient[e, q, 0, i]
                gy += local[i] * gradient[e, q, 1, i]
            value, derivative = reluctivity_at(gx * gx + gy * gy, step, nu, slope)
            w = weight[e, q] * value
            w2 = 2.0 * slope_share * weight[e, q] * derivative
            for i in range(6):
                along[i] = gx * gradient[e, q, 0, i] + gy * gradient[e, q, 1, i]
            m = 0
            for i in range(6):
                px, py = w * gradient[e, q, 0, i], w * gradient[e, q, 1, i]
                s = w2 * along[i]
                for j in range(i, 6):
                    matrix[m] += (
                        px * gradient[e, q, 0, j] + py * gradient[e, q, 1, j] + s * along[j]
                    )
                    m += 1
        m = 0
        for i in range(6):
            for j in range(i, 6):
                stored[place[e, m]] += sign[e, i] * sign[e, j] * matrix[m]
                m += 1


@numba.njit(cache=True, error_model="numpy")
def symmetric_product(
    columns: NDArray[np.int32], rows: NDArray[np.int32], stored: Array, a: Array, out: Array
) -> None:
    """Write the product of a symmetric matrix (upper triangle by columns) with `a` to `out`."""
    n = columns.shape[0] - 1
    for i in range(n):
        out[i] = 0.0
    for j in range(n):
        total = 0.0
        x = a[j]
        for k in range(columns[j], columns[j + 1]):
            i = rows[k]
            if i == j:
                total += stored[k] * x
            else:
                out[i] += stored[k] * x
                total += stored[k] * a[i]
        out[j] += total
