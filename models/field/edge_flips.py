"""Edges of a triangulation: found, recovered by flips, and used as walls between regions."""

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@numba.njit(cache=True, error_model="numpy")
def orient(p: Array, a: int, b: int, c: int) -> float:
    """Return twice the signed area of a triangle [m^2]: positive when counter-clockwise."""
    dx, dy = p[b, 0] - p[a, 0], p[b, 1] - p[a, 1]
    return float(dx * (p[c, 1] - p[a, 1]) - dy * (p[c, 0] - p[a, 0]))


@numba.njit(cache=True, error_model="numpy")
def recover(p: Array, tri: IntArray, nb: IntArray, segments: IntArray) -> bool:
    """Make every segment an edge of the triangulation, by flips (Sloan's procedure)."""
    n = p.shape[0]
    start = np.empty(n, dtype=np.int64)
    for t in range(tri.shape[0]):
        for k in range(3):
            start[tri[t, k]] = t
    edge = np.empty((tri.shape[0], 2), dtype=np.int64)
    for s in range(segments.shape[0]):
        a, b = segments[s, 0], segments[s, 1]
        t, k = _ring_find(tri, nb, start, a, b)
        if t >= 0:
            continue
        # edges crossed by a-b: brute force, lost segments are rare
        count = 0
        for t in range(tri.shape[0]):
            for k in range(3):
                u, v = tri[t, (k + 1) % 3], tri[t, (k + 2) % 3]
                if u > v and nb[t, k] >= 0:
                    continue
                if crosses(p, a, b, u, v):
                    edge[count, 0], edge[count, 1] = u, v
                    count += 1
        guard = 0
        while count > 0:
            guard += 1
            if guard > 2000:
                return False
            u, v = edge[0, 0], edge[0, 1]
            for k in range(1, count):
                edge[k - 1, 0], edge[k - 1, 1] = edge[k, 0], edge[k, 1]
            count -= 1
            t, k = _ring_find(tri, nb, start, u, v)
            if t < 0:
                return False
            w = nb[t, k]
            if w < 0:
                return False
            j = 0
            while nb[w, j] != t:
                j += 1
            c, d = tri[t, k], tri[w, j]
            u, v = tri[t, (k + 1) % 3], tri[t, (k + 2) % 3]
            if orient(p, c, u, d) > 0.0 and orient(p, c, d, v) > 0.0:
                _flip(tri, nb, start, t, k)
                if crosses(p, a, b, c, d):
                    edge[count, 0], edge[count, 1] = c, d
                    count += 1
            else:
                edge[count, 0], edge[count, 1] = u, v
                count += 1
        t, k = _ring_find(tri, nb, start, a, b)
        if t < 0:
            return False
    return True


@numba.njit(cache=True, error_model="numpy")
def crosses(p: Array, a: int, b: int, u: int, v: int) -> bool:
    """Tell whether edges a-b and u-v cross inside both."""
    if u in (a, b) or v in (a, b):
        return False
    return (
        orient(p, a, b, u) * orient(p, a, b, v) < 0.0
        and orient(p, u, v, a) * orient(p, u, v, b) < 0.0
    )


@numba.njit(cache=True, error_model="numpy")
def _ring_find(tri: IntArray, nb: IntArray, start: IntArray, a: int, b: int) -> tuple[int, int]:
    """Return (triangle, place of the corner opposite) of edge a-b, or (-1, -1)."""
    for direction in range(2):
        t = start[a]
        first = t
        while t >= 0:
            i = 0
            while tri[t, i] != a:
                i += 1
            nxt, prv = (i + 1) % 3, (i + 2) % 3
            if tri[t, nxt] == b:
                return t, prv
            if tri[t, prv] == b:
                return t, nxt
            t = nb[t, nxt] if direction == 0 else nb[t, prv]
            if t == first:
                return -1, -1
    return -1, -1


@numba.njit(cache=True, error_model="numpy")
def _flip(tri: IntArray, nb: IntArray, start: IntArray, t: int, k: int) -> None:
    """Flip the edge of triangle `t` opposite its corner `k`."""
    w = nb[t, k]
    j = 0
    while nb[w, j] != t:
        j += 1
    c, u, v = tri[t, k], tri[t, (k + 1) % 3], tri[t, (k + 2) % 3]
    d = tri[w, j]
    t_cu, t_vc = nb[t, (k + 2) % 3], nb[t, (k + 1) % 3]
    # in w the edge runs v -> u: corners (d, v, u)
    w_dv, w_ud = nb[w, (j + 2) % 3], nb[w, (j + 1) % 3]
    tri[t, 0], tri[t, 1], tri[t, 2] = c, u, d
    nb[t, 0], nb[t, 1], nb[t, 2] = w_ud, w, t_cu
    tri[w, 0], tri[w, 1], tri[w, 2] = c, d, v
    nb[w, 0], nb[w, 1], nb[w, 2] = w_dv, t_vc, t
    if w_ud >= 0:
        for m in range(3):
            if nb[w_ud, m] == w:
                nb[w_ud, m] = t
    if t_vc >= 0:
        for m in range(3):
            if nb[t_vc, m] == t:
                nb[t_vc, m] = w
    start[c], start[u], start[d], start[v] = t, t, t, w


@numba.njit(cache=True, error_model="numpy")
def flood(
    tri: IntArray, nb: IntArray, segments: IntArray, left: IntArray, right: IntArray, n: int
) -> IntArray:
    """Region of each triangle from the segments' sides; -2 marks a contradiction."""
    count = tri.shape[0]
    start = np.empty(n, dtype=np.int64)
    for t in range(count):
        for k in range(3):
            start[tri[t, k]] = t
    region = np.full(count, -3, dtype=np.int64)
    wall = np.zeros((count, 3), dtype=np.bool_)
    stack = np.empty(3 * count, dtype=np.int64)
    top = 0
    for s in range(segments.shape[0]):
        a, b = segments[s, 0], segments[s, 1]
        t, k = _ring_find(tri, nb, start, a, b)
        w = nb[t, k]
        wall[t, k] = True
        is_left = tri[t, (k + 1) % 3] == a
        value = left[s] if is_left else right[s]
        if region[t] == -3:
            region[t] = value
            stack[top] = t
            top += 1
        elif region[t] != value:
            region[t] = -2
        if w >= 0:
            j = 0
            while nb[w, j] != t:
                j += 1
            wall[w, j] = True
            value = right[s] if is_left else left[s]
            if region[w] == -3:
                region[w] = value
                stack[top] = w
                top += 1
            elif region[w] != value:
                region[w] = -2
    while top > 0:
        top -= 1
        t = stack[top]
        for k in range(3):
            w = nb[t, k]
            if w < 0 or wall[t, k]:
                continue
            if region[w] == -3:
                region[w] = region[t]
                stack[top] = w
                top += 1
            elif region[w] != region[t]:
                region[w] = -2
    for t in range(count):
        if region[t] == -3:
            region[t] = -1
    return region


@numba.njit(cache=True, error_model="numpy")
def first_crossing(p: Array, segments: IntArray) -> int:
    """Return the first segment that crosses a later one, or -1."""
    for s in range(segments.shape[0]):
        for t in range(s + 1, segments.shape[0]):
            if crosses(p, segments[s, 0], segments[s, 1], segments[t, 0], segments[t, 1]):
                return s
    return -1


@numba.njit(cache=True, error_model="numpy")
def smallest_angles(p: Array, triangles: IntArray) -> Array:
    """Return the smallest angle of each triangle [rad]."""
    out = np.empty(triangles.shape[0])
    for t in range(triangles.shape[0]):
        least = np.pi
        for k in range(3):
            a, b, c = triangles[t, k], triangles[t, (k + 1) % 3], triangles[t, (k + 2) % 3]
            ux, uy = p[b, 0] - p[a, 0], p[b, 1] - p[a, 1]
            vx, vy = p[c, 0] - p[a, 0], p[c, 1] - p[a, 1]
            least = min(least, np.arctan2(abs(ux * vy - uy * vx), ux * vx + uy * vy))
        out[t] = least
    return out
