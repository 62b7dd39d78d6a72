"""Compiled loops over elements: stiffness, the iron's force and tangent, a symmetric product.

The iron is looked at for four fields side by side, see `models.field.lanes`. Gradients carry the
sign of their unknown (`models.field.assemble.Iron`).
"""

import numba
import numpy as np
from numpy.typing import NDArray

from models.field.lanes import COUNT, Row, added, load, plus, scaled, store, times
from models.materials.reluctivity import reluctivity_at

Array = NDArray[np.float64]


@numba.njit(cache=True, error_model="numpy")
def add_linear(stored: Array, place: NDArray[np.int32], gradient: Array, weight: Array) -> None:
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
                stored[place[e, m]] += total
                m += 1


@numba.njit(cache=True, error_model="numpy")
def _slopes(local: Array, gradient: Array, e: int, q: int) -> tuple[Row, Row]:
    """Return dA/dx and dA/dy of nodal values (6, 4) at one integration point."""
    v = load(local, 0)
    gx, gy = scaled(v, gradient[e, q, 0, 0]), scaled(v, gradient[e, q, 1, 0])
    for i in range(1, 6):
        v = load(local, i)
        gx = plus(gx, scaled(v, gradient[e, q, 0, i]))
        gy = plus(gy, scaled(v, gradient[e, q, 1, i]))
    return gx, gy


@numba.njit(cache=True, error_model="numpy")
def add_iron_force(
    a: Array,
    force: Array,
    unknown: NDArray[np.int32],
    gradient: Array,
    weight: Array,
    step: float,
    nu: Array,
    slope: Array,
) -> None:
    """Add the iron's internal force at potentials `a`, both of shape (size + 1, 4)."""
    local, inner = np.empty((6, COUNT)), np.empty((6, COUNT))
    value = np.empty((1, COUNT))
    for e in range(unknown.shape[0]):
        for i in range(6):
            store(local, i, load(a, unknown[e, i]))
        for q in range(3):
            gx, gy = _slopes(local, gradient, e, q)
            store(value, 0, added(times(gx, gx), gy, gy))
            for lane in range(COUNT):
                found, _ = reluctivity_at(value[0, lane], step, nu, slope)
                value[0, lane] = weight[e, q] * found
            hx, hy = times(load(value, 0), gx), times(load(value, 0), gy)
            for i in range(6):
                part = plus(scaled(hx, gradient[e, q, 0, i]), scaled(hy, gradient[e, q, 1, i]))
                store(inner, i, part if q == 0 else plus(load(inner, i), part))
        for i in range(6):
            store(force, unknown[e, i], plus(load(force, unknown[e, i]), load(inner, i)))


@numba.njit(cache=True, error_model="numpy")
def add_iron_tangent(
    a: Array,
    stored: Array,
    unknown: NDArray[np.int32],
    place: NDArray[np.int32],
    gradient: Array,
    weight: Array,
    step: float,
    nu: Array,
    slope: Array,
    slope_share: float,
) -> None:
    """Add the iron's tangent stiffness at potentials `a`; with `slope_share` 0 the secant.

    dH/dB is nu + 2 nu' B B^T, a symmetric matrix of two by two at every integration point.
    """
    local = np.empty((6, COUNT))
    along_x, along_y = np.empty((18, COUNT)), np.empty((18, COUNT))
    first, second = np.empty((1, COUNT)), np.empty((1, COUNT))
    for e in range(unknown.shape[0]):
        for i in range(6):
            store(local, i, load(a, unknown[e, i]))
        for q in range(3):
            gx, gy = _slopes(local, gradient, e, q)
            store(first, 0, added(times(gx, gx), gy, gy))
            for lane in range(COUNT):
                value, derivative = reluctivity_at(first[0, lane], step, nu, slope)
                first[0, lane] = weight[e, q] * value
                second[0, lane] = 2.0 * slope_share * weight[e, q] * derivative
            w, w2 = load(first, 0), load(second, 0)
            xx, xy = added(w, w2, times(gx, gx)), times(w2, times(gx, gy))
            yy = added(w, w2, times(gy, gy))
            for i in range(6):
                px, py = gradient[e, q, 0, i], gradient[e, q, 1, i]
                store(along_x, 6 * q + i, plus(scaled(xx, px), scaled(xy, py)))
                store(along_y, 6 * q + i, plus(scaled(xy, px), scaled(yy, py)))
        m = 0
        for i in range(6):
            for j in range(i, 6):
                total = load(stored, place[e, m])
                for q in range(3):
                    total = plus(total, scaled(load(along_x, 6 * q + i), gradient[e, q, 0, j]))
                    total = plus(total, scaled(load(along_y, 6 * q + i), gradient[e, q, 1, j]))
                store(stored, place[e, m], total)
                m += 1


@numba.njit(cache=True, error_model="numpy")
def symmetric_product(
    columns: NDArray[np.int32], rows: NDArray[np.int32], stored: Array, a: Array, out: Array
) -> None:
    """Write the products of symmetric matrices (upper triangle by columns) with `a` to `out`.

    `stored` has shape (nnz, 4), `a` and `out` (n or more, 4).
    """
    n = columns.shape[0] - 1
    for j in range(n):
        x = load(a, j)
        total = (0.0, 0.0, 0.0, 0.0)
        for k in range(columns[j], columns[j + 1]):
            i = rows[k]
            value = load(stored, k)
            total = added(total, value, load(a, i))
            if i != j:
                store(out, i, added(load(out, i), value, x))
        # rows of a column are at or above its diagonal: nothing was added to out[j] before
        store(out, j, total)
