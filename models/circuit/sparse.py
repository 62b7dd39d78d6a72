"""Sparse factorisation for the small systems of a magnetic network, eight of them at once.

A network has about fifty unknowns and few neighbours each. Which entries of the factor can be
non-zero is found once per rotor position by a minimum-degree ordering. The lower triangle is
then one packed table of rows of eight lanes: diagonal entries first, then column after column.
"""

import numba
import numpy as np
from numpy.typing import NDArray

from models.circuit.lanes import inverse, load, reduced, store, times
from models.circuit.network import Array, IntArray

SlotArray = NDArray[np.uint64]
"""Places in packed storage; unsigned, so that the compiler need not ask for negative indices."""


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
    degrees = np.zeros(n, dtype=np.int64)
    for i in range(n):
        for j in range(n):
            if i != j and (pattern[i, j] != 0.0 or pattern[j, i] != 0.0):
                link[i, j] = True
                degrees[i] += 1
    order = np.empty(n, dtype=np.int64)
    place = np.empty(n, dtype=np.int64)
    is_done = np.zeros(n, dtype=np.bool_)
    column = np.zeros((n, n), dtype=np.bool_)
    neighbours = np.empty(n, dtype=np.int64)
    for k in range(n):
        best, best_degree = -1, n + 1
        for i in range(n):
            if not is_done[i] and degrees[i] < best_degree:
                best, best_degree = i, degrees[i]
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
                degrees[j] -= 1
        for a in range(count):
            for b in range(a):
                i, j = neighbours[a], neighbours[b]
                if not link[i, j]:
                    link[i, j] = True
                    link[j, i] = True
                    degrees[i] += 1
                    degrees[j] += 1
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
def packed_slots(start: IntArray, rows: IntArray) -> SlotArray:
    """Return the packed place of every entry of the lower triangle, shape (n, n).

    The diagonal entry of column k is at k, entry `a` of `rows` at n + a; elsewhere zero.
    """
    n = start.shape[0] - 1
    slots = np.zeros((n, n), dtype=np.uint64)
    for k in range(n):
        slots[k, k] = k
        for a in range(start[k], start[k + 1]):
            slots[rows[a], k] = n + a
    return slots


@numba.njit(cache=True, error_model="numpy")
def elimination_targets(start: IntArray, rows: IntArray, slots: SlotArray) -> SlotArray:
    """Return the packed places that `factorise` changes, in its order."""
    n = start.shape[0] - 1
    total = 0
    for k in range(n):
        count = start[k + 1] - start[k]
        total += count * (count + 1) // 2
    targets = np.empty(total, dtype=np.uint64)
    t = 0
    for k in range(n):
        for a in range(start[k + 1] - 1, start[k] - 1, -1):
            for b in range(start[k], a + 1):
                targets[t] = slots[rows[a], rows[b]]
                t += 1
    return targets


@numba.njit(cache=True, error_model="numpy")
def factorise(packed: Array, start: IntArray, targets: SlotArray) -> None:
    """Factorise packed lower triangles in place as L D L^T (unit L; 1/D on the diagonal).

    Parameters
    ----------
    packed : ndarray, shape (n + entries, 8)
        Overwritten.
    start, targets : ndarray of int
        Of `order_and_fill` and `elimination_targets`.
    """
    n = start.shape[0] - 1
    t = 0
    for k in range(n):
        over = inverse(load(packed, k))
        store(packed, k, over)
        begin = n + start[k]
        # From the last row up: the entries a row still needs are not yet divided.
        for a in range(n + start[k + 1] - 1, begin - 1, -1):
            factor = times(load(packed, a), over)
            for b in range(begin, a + 1):
                target = targets[t]
                store(packed, target, reduced(load(packed, target), factor, load(packed, b)))
                t += 1
            store(packed, a, factor)


@numba.njit(cache=True, error_model="numpy")
def back_substitute(packed: Array, start: IntArray, rows: SlotArray, rhs: Array) -> None:
    """Solve with the factors of `factorise`; `rhs`, shape (n, 8), becomes the solution."""
    n = start.shape[0] - 1
    for k in range(n):
        value = load(rhs, k)
        for a in range(start[k], start[k + 1]):
            i = rows[a]
            store(rhs, i, reduced(load(rhs, i), load(packed, n + a), value))
    for k in range(n - 1, -1, -1):
        total = times(load(rhs, k), load(packed, k))
        for a in range(start[k], start[k + 1]):
            total = reduced(total, load(packed, n + a), load(rhs, rows[a]))
        store(rhs, k, total)
