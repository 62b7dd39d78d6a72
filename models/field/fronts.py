"""Numbers of the elimination: dense fronts factored and solved in compiled loops.

All inner loops run along contiguous rows of the upper triangle, so that the compiler turns them
into vector instructions without changing the order of any sum.
"""

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


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
    front: Array,
    factor: Array,
    pivot: Array,
) -> int:
    """Factor a matrix into U^T D U; return the first place without a positive pivot, or -1.

    Parameters
    ----------
    stored : ndarray
        Matrix values; the index arrays are those of `EliminationPlan`.
    remainders, front : ndarray
        Room for the stack and for the largest front.
    factor, pivot : ndarray
        Written: rows of U by front, and 1 / D.
    """
    for f in range(first.shape[0] - 1):
        m = row_start[f + 1] - row_start[f]
        k = first[f + 1] - first[f]
        front[: m * m] = 0.0
        for e in range(entry_start[f], entry_start[f + 1]):
            front[entry_target[e]] = stored[entry_source[e]]
        for c in range(child_start[f], child_start[f + 1]):
            child = children[c]
            begin = row_start[child] + first[child + 1] - first[child]
            where = relative[begin : row_start[child + 1]]
            r = where.shape[0]
            for i in range(r):
                source = remainders[stack[child] + i * r + i : stack[child] + i * r + r]
                _scatter(front[where[i] * m : where[i] * m + m], where[i:], source)
        bad = _eliminate(front, m, k, pivot, first[f])
        if bad >= 0:
            return bad
        for i in range(k):
            at = panel[f] + i * m
            _scale(
                factor[at + i + 1 : at + m], front[i * m + i + 1 : i * m + m], pivot[first[f] + i]
            )
        r = m - k
        for i in range(r):
            at = stack[f] + i * r
            _scale(remainders[at + i : at + r], front[(k + i) * m + k + i : (k + i) * m + m], 1.0)
    return -1


@numba.njit(cache=True, error_model="numpy")
def _scatter(row: Array, where: IntArray, source: Array) -> None:
    for j in range(source.shape[0]):
        row[where[j]] += source[j]


@numba.njit(cache=True, error_model="numpy")
def _scale(target: Array, source: Array, share: float) -> None:
    for j in range(target.shape[0]):
        target[j] = share * source[j]


@numba.njit(cache=True, error_model="numpy")
def _subtract(target: Array, row: Array, share: float) -> None:
    for j in range(target.shape[0]):
        target[j] -= share * row[j]


@numba.njit(cache=True, error_model="numpy")
def _subtract_four(
    target: Array, r0: Array, r1: Array, r2: Array, r3: Array,
    s0: float, s1: float, s2: float, s3: float,
) -> None:  # fmt: skip
    for j in range(target.shape[0]):
        target[j] -= s0 * r0[j] + s1 * r1[j] + s2 * r2[j] + s3 * r3[j]


@numba.njit(cache=True, error_model="numpy")
def _subtract_four_twice(
    target: Array, other: Array, r0: Array, r1: Array, r2: Array, r3: Array,
    s0: float, s1: float, s2: float, s3: float, t0: float, t1: float, t2: float, t3: float,
) -> None:  # fmt: skip
    for j in range(target.shape[0]):
        x0, x1, x2, x3 = r0[j], r1[j], r2[j], r3[j]
        target[j] -= s0 * x0 + s1 * x1 + s2 * x2 + s3 * x3
        other[j] -= t0 * x0 + t1 * x1 + t2 * x2 + t3 * x3


@numba.njit(cache=True, error_model="numpy")
def _eliminate(front: Array, m: int, k: int, pivot: Array, place: int) -> int:
    """Eliminate the first `k` rows of a front, four at a time."""
    i = 0
    while i < k:
        block = min(4, k - i)
        for a in range(i, i + block):
            row = front[a * m : a * m + m]
            if not row[a] > 0.0:
                return place + a
            inverse = 1.0 / row[a]
            pivot[place + a] = inverse
            for b in range(a + 1, i + block):
                _subtract(front[b * m + b : b * m + m], row[b:], row[b] * inverse)
        if block == 4:
            r0 = front[i * m : i * m + m]
            r1 = front[(i + 1) * m : (i + 1) * m + m]
            r2 = front[(i + 2) * m : (i + 2) * m + m]
            r3 = front[(i + 3) * m : (i + 3) * m + m]
            p0, p1 = pivot[place + i], pivot[place + i + 1]
            p2, p3 = pivot[place + i + 2], pivot[place + i + 3]
            b = i + 4
            while b + 1 < m:
                front[b * m + b] -= (
                    r0[b] * p0 * r0[b] + r1[b] * p1 * r1[b]
                    + r2[b] * p2 * r2[b] + r3[b] * p3 * r3[b]
                )  # fmt: skip
                c = b + 1
                _subtract_four_twice(
                    front[b * m + c : b * m + m], front[c * m + c : c * m + m],
                    r0[c:], r1[c:], r2[c:], r3[c:],
                    r0[b] * p0, r1[b] * p1, r2[b] * p2, r3[b] * p3,
                    r0[c] * p0, r1[c] * p1, r2[c] * p2, r3[c] * p3,
                )  # fmt: skip
                b += 2
            if b < m:
                _subtract_four(
                    front[b * m + b : b * m + m], r0[b:], r1[b:], r2[b:], r3[b:],
                    r0[b] * p0, r1[b] * p1, r2[b] * p2, r3[b] * p3,
                )  # fmt: skip
        else:
            for a in range(i, i + block):
                row = front[a * m : a * m + m]
                for b in range(i + block, m):
                    _subtract(front[b * m + b : b * m + m], row[b:], row[b] * pivot[place + a])
        i += block
    return -1


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
    """Solve with the factors of `factor_fronts`; writes `out`, uses `x` and `local` as room."""
    n = order.shape[0]
    for i in range(n):
        x[i] = right[order[i]]
    for f in range(first.shape[0] - 1):
        begin = row_start[f]
        m = row_start[f + 1] - begin
        k = first[f + 1] - first[f]
        for i in range(m):
            local[i] = x[rows[begin + i]]
        for i in range(k):
            row = factor[panel[f] + i * m : panel[f] + i * m + m]
            _subtract(local[i + 1 : m], row[i + 1 :], local[i])
        for i in range(m):
            x[rows[begin + i]] = local[i]
    for i in range(n):
        x[i] *= pivot[i]
    for f in range(first.shape[0] - 2, -1, -1):
        begin = row_start[f]
        m = row_start[f + 1] - begin
        k = first[f + 1] - first[f]
        for i in range(m):
            local[i] = x[rows[begin + i]]
        for i in range(k - 1, -1, -1):
            row = factor[panel[f] + i * m : panel[f] + i * m + m]
            local[i] -= _product(row[i + 1 :], local[i + 1 : m])
            x[first[f] + i] = local[i]
    for i in range(n):
        out[order[i]] = x[i]


@numba.njit(cache=True, error_model="numpy")
def _product(a: Array, b: Array) -> float:
    """Return the inner product in four partial sums (one sum would not vectorise)."""
    s0, s1, s2, s3 = 0.0, 0.0, 0.0, 0.0
    quarter = a.shape[0] // 4
    for j in range(quarter):
        s0 += a[4 * j] * b[4 * j]
        s1 += a[4 * j + 1] * b[4 * j + 1]
        s2 += a[4 * j + 2] * b[4 * j + 2]
        s3 += a[4 * j + 3] * b[4 * j + 3]
    for j in range(4 * quarter, a.shape[0]):
        s0 += a[j] * b[j]
    return (s0 + s1) + (s2 + s3)
