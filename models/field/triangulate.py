"""Graded points and a Delaunay triangulation that keeps given segments.

Points spread from the boundary inwards at the distance the size field asks for. SciPy's Delaunay
may cross a given segment: it is recovered by edge flips. Everything is deterministic.
"""

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from models.errors import SolverError
from models.field.sizing import SizeField

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


def triangulate(
    nodes: Array,
    segments: IntArray,
    *,
    left: IntArray,
    right: IntArray,
    radii: tuple[float, float],
    angles: tuple[float, float],
    field: SizeField,
) -> tuple[Array, IntArray, IntArray]:
    """Fill a planar graph of straight segments with triangles.

    Parameters
    ----------
    nodes : ndarray, shape (n, 2)
        Nodes on the graph [m].
    segments : ndarray of int, shape (m, 2)
        Segments that must be edges of triangles.
    left, right : ndarray of int, shape (m,)
        Region on either side of each, -1 outside.
    radii, angles : tuple of 2 float
        Annular sector [m], [rad] that new points may lie in.
    field : SizeField
        Element size.

    Returns
    -------
    points : ndarray, shape (k, 2)
        Given nodes first, then new ones [m].
    triangles : ndarray of int, shape (t, 3)
        Counter-clockwise.
    region : ndarray of int, shape (t,)
        Region of each triangle.

    Raises
    ------
    SolverError
        A segment could not be recovered.
    """
    length = np.hypot(*(nodes[segments[:, 1]] - nodes[segments[:, 0]]).T)
    sizes = np.zeros(len(nodes))
    touching = np.zeros(len(nodes))
    for side in (0, 1):
        np.add.at(sizes, segments[:, side], length)
        np.add.at(touching, segments[:, side], 1.0)
    sizes /= np.maximum(touching, 1.0)
    points: Array = _spread(
        nodes,
        segments,
        sizes,
        field.growth,
        field.largest,
        radii[0],
        radii[1],
        angles[0],
        angles[1],
        40 * len(nodes),
    )
    fixed = len(nodes)
    # Points far outside: without them the straight sides of the sector are part of the hull,
    # where rounding leaves triangles of no area with either orientation.
    low, high = nodes.min(axis=0), nodes.max(axis=0)
    reach = high - low
    (x0, y0), (x1, y1) = low - reach, high + reach
    count = len(points)
    points = np.vstack((points, [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    for smoothing in range(3):
        triangles, neighbours = _delaunay(points)
        if not _recover(points, triangles, neighbours, segments):
            raise SolverError(
                "mesh: a boundary segment could not be recovered; edges of the section cross or "
                "nearly touch there"
            )
        region = _flood(triangles, neighbours, segments, left, right, len(points))
        if np.any(region == -2):
            raise SolverError("mesh: regions leak into each other; the section is not closed")
        if smoothing < 2:
            points = _smooth(points, triangles, region, fixed, 3)
    inside = region >= 0
    return points[:count], triangles[inside], region[inside]


def _delaunay(points: Array) -> tuple[IntArray, IntArray]:
    mesh = Delaunay(points)
    triangles = mesh.simplices.astype(np.int64)
    neighbours = mesh.neighbors.astype(np.int64)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    clockwise = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) < (b[:, 1] - a[:, 1]) * (
        c[:, 0] - a[:, 0]
    )
    triangles[clockwise] = triangles[clockwise][:, [0, 2, 1]]
    neighbours[clockwise] = neighbours[clockwise][:, [0, 2, 1]]
    return triangles, neighbours


@numba.njit(cache=True, error_model="numpy")
def _spread(
    nodes: Array,
    segments: IntArray,
    sizes: Array,
    growth: float,
    largest: float,
    inner: float,
    outer: float,
    low: float,
    high: float,
    limit: int,
) -> Array:
    """Spread points inwards from the segments, then from each accepted point."""
    n = nodes.shape[0]
    points = np.empty((n + limit, 2))
    points[:n] = nodes
    axis = np.empty(n + limit)  # direction towards the parent
    total = n
    s60 = np.sqrt(3.0) / 2.0
    # candidates of segments: tips of equilateral triangles on both sides
    queue = n
    for k in range(2 * segments.shape[0]):
        a, b = segments[k // 2, 0], segments[k // 2, 1]
        sign = 1.0 if k % 2 == 0 else -1.0
        dx = nodes[b, 0] - nodes[a, 0]
        dy = nodes[b, 1] - nodes[a, 1]
        x = 0.5 * (nodes[a, 0] + nodes[b, 0]) - sign * s60 * dy
        y = 0.5 * (nodes[a, 1] + nodes[b, 1]) + sign * s60 * dx
        total = _try(
            points, axis, total, x, y, np.arctan2(dy, dx), nodes, sizes, growth, largest, inner,
            outer, low, high,
        )  # fmt: skip
    while queue < total and total < n + limit - 8:
        x0, y0 = points[queue, 0], points[queue, 1]
        h = _local(x0, y0, nodes, sizes, growth, largest)
        for m in range(6):
            angle = float(axis[queue]) + m * np.pi / 3.0
            total = _try(
                points, axis, total, x0 + h * np.cos(angle), y0 + h * np.sin(angle), angle, nodes,
                sizes, growth, largest, inner, outer, low, high,
            )  # fmt: skip
        queue += 1
    return points[:total].copy()


@numba.njit(cache=True, error_model="numpy")
def _local(x: float, y: float, nodes: Array, sizes: Array, growth: float, largest: float) -> float:
    best = float(largest)
    for j in range(nodes.shape[0]):
        if sizes[j] < best:
            dx, dy = x - nodes[j, 0], y - nodes[j, 1]
            room = (best - sizes[j]) / growth
            d2 = dx * dx + dy * dy
            if d2 < room * room:
                best = sizes[j] + growth * np.sqrt(d2)
    return float(best)


@numba.njit(cache=True, error_model="numpy")
def _try(
    points: Array,
    axis: Array,
    total: int,
    x: float,
    y: float,
    angle: float,
    nodes: Array,
    sizes: Array,
    growth: float,
    largest: float,
    inner: float,
    outer: float,
    low: float,
    high: float,
) -> int:
    """Accept a candidate that lies in the sector and far enough from every point."""
    r = np.hypot(x, y)
    if r < inner or r > outer:
        return total
    t = np.arctan2(y, x)
    if t < low or t > high:
        return total
    h = _local(x, y, nodes, sizes, growth, largest)
    # keep clear of the sector's own border
    if (t - low) * r < 0.45 * h or (high - t) * r < 0.45 * h:
        return total
    near = 0.76 * h
    for j in range(total):
        dx, dy = x - points[j, 0], y - points[j, 1]
        if dx * dx + dy * dy < near * near:
            return total
    points[total, 0] = x
    points[total, 1] = y
    axis[total] = angle
    return total + 1


@numba.njit(cache=True, error_model="numpy")
def _orient(p: Array, a: int, b: int, c: int) -> float:
    dx, dy = p[b, 0] - p[a, 0], p[b, 1] - p[a, 1]
    return float(dx * (p[c, 1] - p[a, 1]) - dy * (p[c, 0] - p[a, 0]))


@numba.njit(cache=True, error_model="numpy")
def _recover(p: Array, tri: IntArray, nb: IntArray, segments: IntArray) -> bool:
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
                if _crosses(p, a, b, u, v):
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
            if _orient(p, c, u, d) > 0.0 and _orient(p, c, d, v) > 0.0:
                _flip(tri, nb, start, t, k)
                if _crosses(p, a, b, c, d):
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
def _crosses(p: Array, a: int, b: int, u: int, v: int) -> bool:
    if u in (a, b) or v in (a, b):
        return False
    return (
        _orient(p, a, b, u) * _orient(p, a, b, v) < 0.0
        and _orient(p, u, v, a) * _orient(p, u, v, b) < 0.0
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
def _flood(
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
def _smooth(p: Array, tri: IntArray, region: IntArray, fixed: int, rounds: int) -> Array:
    """Move free points towards the mean of their neighbours, unless a triangle would turn over."""
    out = p.copy()
    n = p.shape[0]
    degree = np.zeros(n + 1, dtype=np.int64)
    for t in range(tri.shape[0]):
        if region[t] >= 0:
            for k in range(3):
                degree[tri[t, k] + 1] += 1
    for i in range(n):
        degree[i + 1] += degree[i]
    place = degree.copy()
    around = np.empty(degree[n], dtype=np.int64)
    for t in range(tri.shape[0]):
        if region[t] >= 0:
            for k in range(3):
                around[place[tri[t, k]]] = t
                place[tri[t, k]] += 1
    for _ in range(rounds):
        for i in range(fixed, n):
            first, last = degree[i], degree[i + 1]
            if first == last:
                continue
            x, y, weight = 0.0, 0.0, 0.0
            for m in range(first, last):
                t = around[m]
                for k in range(3):
                    if tri[t, k] != i:
                        x += out[tri[t, k], 0]
                        y += out[tri[t, k], 1]
                        weight += 1.0
            old_x, old_y = out[i, 0], out[i, 1]
            out[i, 0], out[i, 1] = x / weight, y / weight
            for m in range(first, last):
                t = around[m]
                if _orient(out, tri[t, 0], tri[t, 1], tri[t, 2]) <= 0.0:
                    out[i, 0], out[i, 1] = old_x, old_y
                    break
    return out
