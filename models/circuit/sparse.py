"""Sparse factorisation for the small systems of a magnetic network.

A network has about forty unknowns and few neighbours each. The matrix is stored densely (it fits
the first-level cache) but every loop runs only over the entries that can be non-zero, found once
per rotor position by a minimum-degree ordering.
"""

import numba
import numpy as np

from models.circuit.network import Array, IntArray


@numba.njit(cache=True, error_model="numpy")
def order_and_fill(pattern: Array) -> tuple[IntArray, IntArray, IntArray]:
    """Return an elimination order and the filled pattern of the lower factor.

    Parameters
    ----------
    pattern : ndarray, shape (n, n)
        Non-zero where the symmetric matrix is.

    Returns
    -------
    order : ndarray of int, shape (n,)
        `order[k]` is the unknown eliminated k-th (least degree first, lowest index on ties).
    start : ndarray of int, shape (n + 1,)
    rows : ndarray of int
        Rows (in the new numbering, ascending) of column k below the diagonal are
        rows[start[k]:start[k + 1]].
    """
    n = pattern.shape[0]
    link = np.zeros((n, n), dtype=np.bool_)
    for i in range(n):
        for j in range(n):
            if i != j and (pattern[i, j] != 0.0 or pattern[j, i] != 0.0):
                link[i, j] = True
    order = np.empty(n, dtype=np.int64)
    place = np.empty(n, dtype=np.int64)
    is_done = np.zeros(n, dtype=np.bool_)
    column = np.zeros((n, n), dtype=np.bool_)
    neighbours = np.empty(n, dtype=np.int64)
    for k in range(n):
        best, best_degree = -1, n + 1
        for i in range(n):
            if not is_done[i]:
                degree = 0
                for j in range(n):
                    if link[i, j]:
                        degree += 1
                if degree < best_degree:
                    best, best_degree = i, degree
        order[k] = best
        place[best] = k
        is_done[best] = True
        count = 0
        for j in range(n):
            if link[best, j]:
                column[best, j] = True
                neighbours[count] = j
                count += 1
                link[j, best] = False
                link[best, j] = False
        for a in range(count):
            for b in range(a):
                link[neighbours[a], neighbours[b]] = True
                link[neighbours[b], neighbours[a]] = True
    start = np.zeros(n + 1, dtype=np.int64)
    rows = np.empty(n * n, dtype=np.int64)
    total = 0
    for k in range(n):
        begin = total
        for j in range(n):
            if column[order[k], j]:
                rows[total] = place[j]
                total += 1
        rows[begin:total].sort()
        start[k + 1] = total
    return order, start, rows[:total].copy()


@numba.njit(cache=True, error_model="numpy")
def factorise(matrix: Array, start: IntArray, rows: IntArray) -> None:
    """Factorise the lower triangle in place as L D L^T (unit L below, D on the diagonal)."""
    n = matrix.shape[0]
    column = np.empty(n)
    for k in range(n):
        inverse = 1.0 / matrix[k, k]
        begin, end = start[k], start[k + 1]
        for a in range(begin, end):
            column[a - begin] = matrix[rows[a], k]
        for a in range(begin, end):
            i = rows[a]
            factor = column[a - begin] * inverse
            matrix[i, k] = factor
            for b in range(begin, a + 1):
                matrix[i, rows[b]] -= factor * column[b - begin]


@numba.njit(cache=True, error_model="numpy")
def back_substitute(factors: Array, start: IntArray, rows: IntArray, rhs: Array) -> None:
    """Solve with the factors of `factorise`; `rhs` is overwritten by the solution."""
    n = factors.shape[0]
    for k in range(n):
        value = rhs[k]
        for a in range(start[k], start[k + 1]):
            rhs[rows[a]] -= factors[rows[a], k] * value
    for k in range(n - 1, -1, -1):
        total = rhs[k] / factors[k, k]
        for a in range(start[k], start[k + 1]):
            total -= factors[rows[a], k] * rhs[rows[a]]
        rhs[k] = total
