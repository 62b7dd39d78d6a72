"""Eight numbers handled as one, so that the compiler uses the processor's vector instructions.

The network is solved at eight currents side by side: every unknown is a row of eight, one *lane*
per current. These functions load a row into registers, compute on it and store it back; written
this way (all loads before all stores) the compiler can prove that the lanes do not touch each
other. Lanes never mix, so a lane's result does not depend on its neighbours.
"""

import numba
import numpy as np

from models.circuit.network import Array

COUNT = 8
"""Lanes in a row."""

Row = tuple[float, float, float, float, float, float, float, float]
ONES: Row = (1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0)


@numba.njit(cache=True, error_model="numpy")
def load(a: Array, i: int) -> Row:
    """Return row i of an array of shape (m, 8)."""
    return (a[i, 0], a[i, 1], a[i, 2], a[i, 3], a[i, 4], a[i, 5], a[i, 6], a[i, 7])


@numba.njit(cache=True, error_model="numpy")
def store(a: Array, i: int, v: Row) -> None:
    """Write row i of an array of shape (m, 8)."""
    a[i, 0], a[i, 1], a[i, 2], a[i, 3] = v[0], v[1], v[2], v[3]
    a[i, 4], a[i, 5], a[i, 6], a[i, 7] = v[4], v[5], v[6], v[7]


@numba.njit(cache=True, error_model="numpy")
def plus(u: Row, v: Row) -> Row:
    """Return u + v."""
    return (
        u[0] + v[0], u[1] + v[1], u[2] + v[2], u[3] + v[3],
        u[4] + v[4], u[5] + v[5], u[6] + v[6], u[7] + v[7],
    )  # fmt: skip


@numba.njit(cache=True, error_model="numpy")
def times(u: Row, v: Row) -> Row:
    """Return u * v, lane by lane."""
    return (
        u[0] * v[0], u[1] * v[1], u[2] * v[2], u[3] * v[3],
        u[4] * v[4], u[5] * v[5], u[6] * v[6], u[7] * v[7],
    )  # fmt: skip


@numba.njit(cache=True, error_model="numpy")
def scaled(u: Row, factor: float) -> Row:
    """Return u * factor."""
    return (
        u[0] * factor, u[1] * factor, u[2] * factor, u[3] * factor,
        u[4] * factor, u[5] * factor, u[6] * factor, u[7] * factor,
    )  # fmt: skip


@numba.njit(cache=True, error_model="numpy")
def reduced(u: Row, v: Row, w: Row) -> Row:
    """Return u - v * w, lane by lane."""
    return (
        u[0] - v[0] * w[0], u[1] - v[1] * w[1], u[2] - v[2] * w[2], u[3] - v[3] * w[3],
        u[4] - v[4] * w[4], u[5] - v[5] * w[5], u[6] - v[6] * w[6], u[7] - v[7] * w[7],
    )  # fmt: skip


@numba.njit(cache=True, error_model="numpy")
def inverse(u: Row) -> Row:
    """Return 1 / u, lane by lane."""
    return (
        1.0 / u[0], 1.0 / u[1], 1.0 / u[2], 1.0 / u[3],
        1.0 / u[4], 1.0 / u[5], 1.0 / u[6], 1.0 / u[7],
    )  # fmt: skip


@numba.njit(cache=True, error_model="numpy")
def square_norms(a: Array) -> Array:
    """Return the sum of squares of every lane of an array of shape (m, 8), shape (8,)."""
    out = np.empty((1, COUNT))
    total = scaled(load(a, 0), 0.0)
    for i in range(a.shape[0]):
        v = load(a, i)
        total = plus(total, times(v, v))
    store(out, 0, total)
    return out.reshape(COUNT)
