"""Order of elimination of a symmetric pattern, and the dense fronts it is done in.

Columns of the factor with nearly the same rows are eliminated together in a dense block, a front.
The plan depends on the pattern only and serves every matrix with that pattern.
"""

from dataclasses import dataclass

import numba
import numpy as np
import qdldl
from numpy.typing import NDArray
from scipy.sparse import csc_matrix

IntArray = NDArray[np.int64]

FEW_ZEROS = 40
"""Zeros that a merger of two fronts may always add."""
ZERO_SHARE = 0.15
"""Share of zeros in a merged front above which it is not merged."""


@dataclass(frozen=True, eq=False)
class EliminationPlan:
    """Fronts in the order of elimination.

    Attributes
    ----------
    order : ndarray of int, shape (n,)
        Unknown eliminated at each place.
    first : ndarray of int, shape (fronts + 1,)
        First pivot (place) of each front.
    row_start, rows : ndarray of int
        Places of the rows of front f, its pivots first: rows[row_start[f] : row_start[f + 1]].
    parent : ndarray of int, shape (fronts,)
        Front that takes what remains of a front; -1 for the last of a tree.
    child_start, children : ndarray of int
        Children of front f.
    relative : ndarray of int
        For each entry of `rows` past the pivots its row in the parent's front.
    stack : ndarray of int, shape (fronts,)
        Where the remainder of a front is kept until its parent takes it.
    stack_size : int
        Room for all remainders alive at a time.
    entry_start, entry_source, entry_target : ndarray of int
        Stored values that front f takes from the matrix, and where in the front they go.
    panel : ndarray of int, shape (fronts + 1,)
        Where the factor's rows of a front are stored.
    """

    order: IntArray
    first: IntArray
    row_start: IntArray
    rows: IntArray
    parent: IntArray
    child_start: IntArray
    children: IntArray
    relative: IntArray
    stack: IntArray
    stack_size: int
    entry_start: IntArray
    entry_source: IntArray
    entry_target: IntArray
    panel: IntArray


def plan_elimination(columns: NDArray[np.int32], rows: NDArray[np.int32]) -> EliminationPlan:
    """Plan the elimination of a symmetric pattern.

    Parameters
    ----------
    columns, rows : ndarray of int32
        Upper triangle by columns, every diagonal entry stored.

    Returns
    -------
    EliminationPlan

    Notes
    -----
    The order is the approximate minimum degree order that qdldl computes, taken from a
    factorisation of a diagonally dominant matrix with this pattern.
    """
    n = len(columns) - 1
    entry_column = np.repeat(np.arange(n), np.diff(columns))
    is_diagonal = rows == entry_column
    dominant = csc_matrix((np.where(is_diagonal, 2.0 * n, 1.0), rows, columns), shape=(n, n))
    least_degree = qdldl.Solver(dominant, upper=True).factors()[2].astype(np.int64)
    place = np.empty(n, dtype=np.int64)
    place[least_degree] = np.arange(n)
    low = np.minimum(place[rows], place[entry_column])
    high = np.maximum(place[rows], place[entry_column])
    by_row = np.argsort(high, kind="stable")
    row_pointer = np.searchsorted(high[by_row], np.arange(n + 1))
    parent, struct_start, struct = _symbolic(n, row_pointer, low[by_row])
    top, size = _merge(parent, np.diff(struct_start))
    front_order, front_parent, first, new_place = _order(parent, top, size)
    row_start, front_rows, child_start, children, relative = _fronts(
        front_order, front_parent, first, new_place, struct_start, struct
    )
    heights = np.diff(row_start)
    pivots = np.diff(first)
    stack, stack_size = _stack(heights - pivots, child_start, children)
    a = np.minimum(new_place[low], new_place[high])
    b = np.maximum(new_place[low], new_place[high])
    owner = np.searchsorted(first, a, side="right") - 1
    by_front = np.argsort(owner, kind="stable")
    entry_start = np.searchsorted(owner[by_front], np.arange(len(pivots) + 1))
    target = _targets(entry_start, a[by_front], b[by_front], first, row_start, front_rows)
    order = np.empty(n, dtype=np.int64)
    order[new_place] = least_degree
    return EliminationPlan(
        order=order,
        first=first,
        row_start=row_start,
        rows=front_rows,
        parent=front_parent,
        child_start=child_start,
        children=children,
        relative=relative,
        stack=stack,
        stack_size=int(stack_size),
        entry_start=entry_start,
        entry_source=by_front,
        entry_target=target,
        panel=np.concatenate(([0], np.cumsum(pivots * heights))),
    )


@numba.njit(cache=True, error_model="numpy")
def _symbolic(
    n: int, row_pointer: IntArray, lower: IntArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Return the elimination tree and the rows below the diagonal of each column of the factor."""
    parent = np.full(n, -1, dtype=np.int64)
    mark = np.empty(n, dtype=np.int64)
    start = np.zeros(n + 1, dtype=np.int64)
    filled = np.zeros(n, dtype=np.int64)
    struct = np.empty(0, dtype=np.int64)
    for is_second in (False, True):
        mark[:] = -1
        for i in range(n):
            mark[i] = i
            for k in range(row_pointer[i], row_pointer[i + 1]):
                j = lower[k]
                while mark[j] != i:
                    mark[j] = i
                    if parent[j] < 0:
                        parent[j] = i
                    if is_second:
                        struct[start[j] + filled[j]] = i
                        filled[j] += 1
                    else:
                        start[j + 1] += 1
                    j = parent[j]
        if not is_second:
            for j in range(n):
                start[j + 1] += start[j]
            struct = np.empty(start[n], dtype=np.int64)
    return parent, start, struct


@numba.njit(cache=True, error_model="numpy")
def _merge(parent: IntArray, count: IntArray) -> tuple[IntArray, IntArray]:
    """Merge columns into fronts; return the last column of each column's front, and its pivots."""
    n = parent.shape[0]
    top = np.arange(n)
    pivots = np.ones(n, dtype=np.int64)
    stored = count + 1
    for j in range(n):
        p = parent[j]
        if p < 0:
            continue
        k = pivots[j] + pivots[p]
        height = k + count[p]
        area = k * height - k * (k - 1) // 2
        zeros = area - stored[j] - stored[p]
        if zeros <= FEW_ZEROS or zeros <= ZERO_SHARE * area:
            top[j] = p
            pivots[p] = k
            stored[p] += stored[j]
    for j in range(n - 1, -1, -1):
        top[j] = top[top[j]]
    return top, pivots


@numba.njit(cache=True, error_model="numpy")
def _order(
    parent: IntArray, top: IntArray, pivots: IntArray
) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Put fronts in postorder; return their last columns, parents, first places, all places."""
    n = parent.shape[0]
    head = np.full(n, -1, dtype=np.int64)
    following = np.full(n, -1, dtype=np.int64)
    roots = np.empty(n, dtype=np.int64)
    root_count = 0
    fronts = 0
    for j in range(n - 1, -1, -1):
        if top[j] != j:
            continue
        fronts += 1
        if parent[j] < 0:
            roots[root_count] = j
            root_count += 1
        else:
            p = top[parent[j]]
            following[j] = head[p]
            head[p] = j
    sequence = np.empty(fronts, dtype=np.int64)
    number = np.empty(n, dtype=np.int64)
    stack = np.empty(fronts, dtype=np.int64)
    done = 0
    for r in range(root_count - 1, -1, -1):
        stack[0] = roots[r]
        depth = 1
        while depth > 0:
            j = stack[depth - 1]
            if head[j] >= 0:
                child = head[j]
                head[j] = following[child]
                stack[depth] = child
                depth += 1
            else:
                sequence[done] = j
                number[j] = done
                done += 1
                depth -= 1
    first = np.zeros(fronts + 1, dtype=np.int64)
    front_parent = np.full(fronts, -1, dtype=np.int64)
    for f in range(fronts):
        j = sequence[f]
        first[f + 1] = first[f] + pivots[j]
        if parent[j] >= 0:
            front_parent[f] = number[top[parent[j]]]
    filled = first[:-1].copy()
    place = np.empty(n, dtype=np.int64)
    for j in range(n):
        f = number[top[j]]
        place[j] = filled[f]
        filled[f] += 1
    return sequence, front_parent, first, place


@numba.njit(cache=True, error_model="numpy")
def _fronts(
    sequence: IntArray,
    front_parent: IntArray,
    first: IntArray,
    place: IntArray,
    struct_start: IntArray,
    struct: IntArray,
) -> tuple[IntArray, IntArray, IntArray, IntArray, IntArray]:
    """Return rows of fronts, children, and the rows' places in the parent's front."""
    fronts = sequence.shape[0]
    row_start = np.zeros(fronts + 1, dtype=np.int64)
    child_start = np.zeros(fronts + 1, dtype=np.int64)
    for f in range(fronts):
        j = sequence[f]
        below = struct_start[j + 1] - struct_start[j]
        row_start[f + 1] = row_start[f] + first[f + 1] - first[f] + below
        if front_parent[f] >= 0:
            child_start[front_parent[f] + 1] += 1
    for f in range(fronts):
        child_start[f + 1] += child_start[f]
    rows = np.empty(row_start[fronts], dtype=np.int64)
    children = np.empty(child_start[fronts], dtype=np.int64)
    filled = child_start[:-1].copy()
    for f in range(fronts):
        j = sequence[f]
        k = first[f + 1] - first[f]
        for i in range(k):
            rows[row_start[f] + i] = first[f] + i
        below = place[struct[struct_start[j] : struct_start[j + 1]]]
        below.sort()
        rows[row_start[f] + k : row_start[f + 1]] = below
        p = front_parent[f]
        if p >= 0:
            children[filled[p]] = f
            filled[p] += 1
    relative = np.full(rows.shape[0], -1, dtype=np.int64)
    for f in range(fronts):
        p = front_parent[f]
        if p < 0:
            continue
        where = row_start[p]
        for i in range(row_start[f] + first[f + 1] - first[f], row_start[f + 1]):
            while rows[where] != rows[i]:
                where += 1
            relative[i] = where - row_start[p]
    return row_start, rows, child_start, children, relative


@numba.njit(cache=True, error_model="numpy")
def _stack(remainder: IntArray, child_start: IntArray, children: IntArray) -> tuple[IntArray, int]:
    """Return where remainders lie on a stack, and the room it needs."""
    fronts = remainder.shape[0]
    where = np.empty(fronts, dtype=np.int64)
    end, room = 0, 0
    for f in range(fronts):
        if child_start[f + 1] > child_start[f]:
            end = where[children[child_start[f]]]
        where[f] = end
        end += remainder[f] ** 2
        room = max(room, end)
    return where, room


@numba.njit(cache=True, error_model="numpy")
def _targets(
    entry_start: IntArray,
    a: IntArray,
    b: IntArray,
    first: IntArray,
    row_start: IntArray,
    rows: IntArray,
) -> IntArray:
    """Return where in its front each matrix entry goes (row by row)."""
    local = np.empty(first[-1], dtype=np.int64)
    target = np.empty(a.shape[0], dtype=np.int64)
    for f in range(first.shape[0] - 1):
        height = row_start[f + 1] - row_start[f]
        for i in range(height):
            local[rows[row_start[f] + i]] = i
        for k in range(entry_start[f], entry_start[f + 1]):
            target[k] = (a[k] - first[f]) * height + local[b[k]]
    return target
