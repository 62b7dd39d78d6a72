"""Four numbers handled as one, so that the compiler uses the processor's vector instructions.

Four operating points are solved side by side: every unknown, matrix value and factor is a row of
four, one *lane* per point. These functions load a row into registers, compute on it and store it
back (all loads before all stores, so that the compiler can prove that lanes do not touch each
other). Lanes never mix. Eight of them, as in the network's much smaller matrices, would need more
registers than there are in the inner loop of the elimination.
"""

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Row = tuple[float, float, float, float]

COUNT = 4
"""Lanes in a row."""


@numba.njit(cache=True, error_model="numpy")
def load(a: Array, i: int) -> Row:
    """Return row i of an array of shape (m, 4)."""
    return (a[i, 0], a[i, 1], a[i, 2], a[i, 3])


@numba.njit(cache=True, error_model="numpy")
def store(a: Array, i: int, v: Row) -> None:
    """Write row i of an array of shape (m, 4)."""
    a[i, 0], a[i, 1], a[i, 2], a[i, 3] = v[0], v[1], v[2], v[3]


@numba.njit(cache=True, error_model="numpy")
def plus(u: Row, v: Row) -> Row:
    """Return u + v."""
    return (u[0] + v[0], u[1] + v[1], u[2] + v[2], u[3] + v[3])


@numba.njit(cache=True, error_model="numpy")
def times(u: Row, v: Row) -> Row:
    """Return u * v, lane by lane."""
    return (u[0] * v[0], u[1] * v[1], u[2] * v[2], u[3] * v[3])


@numba.njit(cache=True, error_model="numpy")
def scaled(u: Row, factor: float) -> Row:
    """Return u * factor."""
    return (u[0] * factor, u[1] * factor, u[2] * factor, u[3] * factor)


@numba.njit(cache=True, error_model="numpy")
def added(u: Row, v: Row, w: Row) -> Row:
    """Return u + v * w, lane by lane."""
    return (u[0] + v[0] * w[0], u[1] + v[1] * w[1], u[2] + v[2] * w[2], u[3] + v[3] * w[3])


@numba.njit(cache=True, error_model="numpy")
def reduced(u: Row, v: Row, w: Row) -> Row:
    """Return u - v * w, lane by lane."""
    return (u[0] - v[0] * w[0], u[1] - v[1] * w[1], u[2] - v[2] * w[2], u[3] - v[3] * w[3])


@numba.njit(cache=True, error_model="numpy")
def inner_product(a: Array, b: Array, m: int) -> Row:
    """Return the inner products of the first m rows of two arrays, lane by lane."""
    total = (0.0, 0.0, 0.0, 0.0)
    for i in range(m):
        total = added(total, load(a, i), load(b, i))
    return total


@numba.njit(cache=True, error_model="numpy")
def inner_products(a: Array, b: Array) -> Array:
    """Return the inner products of two arrays of shape (m, 4) lane by lane, shape (4,)."""
    out = np.empty((1, COUNT))
    store(out, 0, inner_product(a, b, min(a.shape[0], b.shape[0])))
    return out.reshape(COUNT)
