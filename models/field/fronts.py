"""Numbers of the elimination: dense fronts of four matrices, factored and solved side by side.

Every value is a row of four lanes (`models.field.lanes`), one per matrix: what it costs to walk
through the pattern is paid once for all four, and every operation is a vector instruction, however
small the front.
"""

import numba
import numpy as np
from numpy.typing import NDArray

from models.field.lanes import COUNT, Row, added, load, plus, reduced, store, times

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

BLOCK = 16
"""Rows eliminated before the rest of a front is updated: it then passes through the processor's
cache once a block."""
GROUP = 4
"""Rows of a block that update another in one pass."""


@numba.njit(cache=True, error_model="numpy")
def factor_fronts(
    stored: Array,
    first: IntArray,
    row_start: IntArray,
    child_start: IntArray,
    children: IntArray,
    relative: IntArray,
    stack: IntArray,
    entry_start: IntArray,
    entry_source: IntArray,
    entry_target: IntArray,
    panel: IntArray,
    remainders: Array,
    rest: Array,
    factor: Array,
    pivot: Array,
) -> int:
    """Factor four matrices into U^T D U; return the first place without a positive pivot, or -1.

    Parameters
    ----------
    stored : ndarray, shape (nnz, 4)
        Matrix values; the index arrays are those of `EliminationPlan`.
    remainders, rest : ndarrays, shapes (., 4)
        Room for the stack and for what a front leaves to its parent.
    factor, pivot : ndarray, shapes (., 4)
        Written: rows of D U by front, and 1 / D.
    """
    for f in range(first.shape[0] - 1):
        m = row_start[f + 1] - row_start[f]
        k = first[f + 1] - first[f]
        r, top = m - k, panel[f]
        # the address of (row, column) of the front in `rest` is (row - k) r + column - k
        shift = -k * r - k
        _clear(factor, top, m, k, m)
        _clear(rest, 0, r, r, r)
        for e in range(entry_start[f], entry_start[f + 1]):
            store(factor, top + entry_target[e], load(stored, entry_source[e]))
        for c in range(child_start[f], child_start[f + 1]):
            child = children[c]
            begin = row_start[child] + first[child + 1] - first[child]
            height = row_start[child + 1] - begin
            for i in range(height):
                source = stack[child] + i * height
                row = relative[begin + i]
                if row < k:
                    _scatter(factor, top + row * m, relative, begin, i, height, remainders, source)
                else:
                    _scatter(rest, shift + row * r, relative, begin, i, height, remainders, source)
        begin = 0
        while begin < k:
            end = min(begin + BLOCK, k)
            bad = _eliminate(factor, top, m, begin, end, pivot, first[f])
            if bad >= 0:
                return bad
            _update(factor, top, m, begin, end, factor, top, m, end, k, pivot, first[f])
            _update(factor, top, m, begin, end, rest, shift, r, k, m, pivot, first[f])
            begin = end
        for i in range(r):
            for j in range(i * r + i, i * r + r):
                store(remainders, stack[f] + j, load(rest, j))
    return -1


@numba.njit(cache=True, error_model="numpy", inline="always")
def _clear(a: Array, begin: int, stride: int, rows: int, columns: int) -> None:
    for i in range(rows):
        for j in range(begin + i * stride + i, begin + i * stride + columns):
            store(a, j, (0.0, 0.0, 0.0, 0.0))


@numba.njit(cache=True, error_model="numpy", inline="always")
def _scatter(
    target: Array, base: int, relative: IntArray, begin: int, low: int, high: int,
    remainders: Array, source: int,
) -> None:  # fmt: skip
    for j in range(low, high):
        at = base + relative[begin + j]
        store(target, at, plus(load(target, at), load(remainders, source + j)))


@numba.njit(cache=True, error_model="numpy")
def _eliminate(
    factor: Array, top: int, m: int, begin: int, end: int, pivot: Array, place: int
) -> int:
    """Eliminate a block of rows among themselves, a group at a time."""
    i = begin
    while i < end:
        after = min(i + GROUP, end)
        for a in range(i, after):
            for lane in range(COUNT):
                value = factor[top + a * m + a, lane]
                if not value > 0.0:
                    return place + a
                pivot[place + a, lane] = 1.0 / value
            _update(factor, top, m, a, a + 1, factor, top, m, a + 1, after, pivot, place)
        _update(factor, top, m, i, after, factor, top, m, after, end, pivot, place)
        i = after
    return -1


@numba.njit(cache=True, error_model="numpy")
def _update(
    factor: Array, top: int, m: int, begin: int, end: int,
    target: Array, shift: int, stride: int, low: int, high: int, pivot: Array, place: int,
) -> None:  # fmt: skip
    """Subtract from rows low to high what the rows begin to end eliminate, two rows at a time.

    Rows of `target` lie `stride` apart, the first (if there was one) at `shift`.
    """
    zero = (0.0, 0.0, 0.0, 0.0)
    b = low
    while b < high:
        c = b + 1
        y, z = shift + b * stride, shift + c * stride
        i = begin
        while i < end:
            # past the end a row is taken once more, times zero
            p0 = top + i * m
            p1 = top + min(i + 1, end - 1) * m
            p2 = top + min(i + 2, end - 1) * m
            p3 = top + min(i + 3, end - 1) * m
            v0 = load(pivot, place + i)
            v1 = load(pivot, place + i + 1) if i + 1 < end else zero
            v2 = load(pivot, place + i + 2) if i + 2 < end else zero
            v3 = load(pivot, place + i + 3) if i + 3 < end else zero
            s0, s1 = times(load(factor, p0 + b), v0), times(load(factor, p1 + b), v1)
            s2, s3 = times(load(factor, p2 + b), v2), times(load(factor, p3 + b), v3)
            if i + 1 == end:
                _subtract(target, y, factor, p0, b, m, s0)
                if c < high:
                    _subtract(target, z, factor, p0, c, m, times(load(factor, p0 + c), v0))
            elif c < high:
                t0, t1 = times(load(factor, p0 + c), v0), times(load(factor, p1 + c), v1)
                t2, t3 = times(load(factor, p2 + c), v2), times(load(factor, p3 + c), v3)
                _subtract_four(target, y, factor, p0, p1, p2, p3, b, c, s0, s1, s2, s3)
                _subtract_four_twice(
                    target, y, z, factor, p0, p1, p2, p3, c, m, s0, s1, s2, s3, t0, t1, t2, t3
                )
            else:
                _subtract_four(target, y, factor, p0, p1, p2, p3, b, m, s0, s1, s2, s3)
            i += GROUP
        b += 2


@numba.njit(cache=True, error_model="numpy", inline="always")
def _subtract(target: Array, t: int, a: Array, row: int, low: int, high: int, share: Row) -> None:
    for j in range(low, high):
        store(target, t + j, reduced(load(target, t + j), load(a, row + j), share))


@numba.njit(cache=True, error_model="numpy", inline="always")
def _subtract_four(
    target: Array, t: int, a: Array, r0: int, r1: int, r2: int, r3: int, low: int, high: int,
    s0: Row, s1: Row, s2: Row, s3: Row,
) -> None:  # fmt: skip
    for j in range(low, high):
        y = reduced(reduced(load(target, t + j), load(a, r0 + j), s0), load(a, r1 + j), s1)
        y = reduced(reduced(y, load(a, r2 + j), s2), load(a, r3 + j), s3)
        store(target, t + j, y)


@numba.njit(cache=True, error_model="numpy", inline="always")
def _subtract_four_twice(
    target: Array, t: int, u: int, a: Array, r0: int, r1: int, r2: int, r3: int,
    low: int, high: int, s0: Row, s1: Row, s2: Row, s3: Row, t0: Row, t1: Row, t2: Row, t3: Row,
) -> None:  # fmt: skip
    for j in range(low, high):
        x0, x1 = load(a, r0 + j), load(a, r1 + j)
        x2, x3 = load(a, r2 + j), load(a, r3 + j)
        y, z = load(target, t + j), load(target, u + j)
        y = reduced(reduced(reduced(reduced(y, x0, s0), x1, s1), x2, s2), x3, s3)
        z = reduced(reduced(reduced(reduced(z, x0, t0), x1, t1), x2, t2), x3, t3)
        store(target, t + j, y)
        store(target, u + j, z)


@numba.njit(cache=True, error_model="numpy")
def solve_fronts(
    right: Array,
    order: IntArray,
    first: IntArray,
    row_start: IntArray,
    rows: IntArray,
    panel: IntArray,
    factor: Array,
    pivot: Array,
    x: Array,
    local: Array,
    out: Array,
) -> None:
    """Solve with the factors of `factor_fronts`; writes `out`, uses `x` and `local` as room.

    `right` and `out` have shape (n, 4).
    """
    n = order.shape[0]
    for i in range(n):
        store(x, i, load(right, order[i]))
    for f in range(first.shape[0] - 1):
        begin = row_start[f]
        m = row_start[f + 1] - begin
        k = first[f + 1] - first[f]
        for i in range(m):
            store(local, i, load(x, rows[begin + i]))
        for i in range(k):
            at = panel[f] + i * m
            share = times(load(local, i), load(pivot, first[f] + i))
            for j in range(i + 1, m):
                store(local, j, reduced(load(local, j), load(factor, at + j), share))
        for i in range(m):
            store(x, rows[begin + i], load(local, i))
    for i in range(n):
        store(x, i, times(load(x, i), load(pivot, i)))
    for f in range(first.shape[0] - 2, -1, -1):
        begin = row_start[f]
        m = row_start[f + 1] - begin
        k = first[f + 1] - first[f]
        for i in range(m):
            store(local, i, load(x, rows[begin + i]))
        for i in range(k - 1, -1, -1):
            at = panel[f] + i * m
            total = (0.0, 0.0, 0.0, 0.0)
            for j in range(i + 1, m):
                total = added(total, load(factor, at + j), load(local, j))
            found = reduced(load(local, i), total, load(pivot, first[f] + i))
            store(local, i, found)
            store(x, first[f] + i, found)
    for i in range(n):
        store(out, order[i], load(x, i))
