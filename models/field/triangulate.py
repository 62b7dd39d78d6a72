"""Graded points and a Delaunay triangulation that keeps given segments.

Points spread from the boundary inwards at the distance the size field asks for. SciPy's Delaunay
may cross a given segment: it is recovered by edge flips. Everything is deterministic.
"""

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from models.errors import InfeasibleDesignError, SolverError
from models.field.edge_flips import first_crossing, flood, orient, recover
from models.field.sizing import SizeField

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


SEGMENT_LOST = (
    "mesh_segment_lost: an edge of the section could not be made a side of triangles; corners "
    "there nearly touch: move them apart"
)
REGIONS_LEAK = (
    "mesh_regions_leak: regions run into each other; an outline of the section is not closed"
)


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
    InfeasibleDesignError
        `section_edges_cross`: two given segments cross.
    SolverError
        A segment could not be recovered, or regions leak.
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
        if not recover(points, triangles, neighbours, segments):
            raise _no_mesh(points, segments, SEGMENT_LOST)
        region = flood(triangles, neighbours, segments, left, right, len(points))
        if np.any(region == -2):
            raise _no_mesh(points, segments, REGIONS_LEAK)
        if smoothing < 2:
            points = _smooth(points, triangles, region, fixed, 3)
    inside = region >= 0
    return points[:count], triangles[inside], region[inside]


def _no_mesh(points: Array, segments: IntArray, message: str) -> Exception:
    """Return the error of a mesh that failed: edges of the section that cross, or else this."""
    k = first_crossing(points, segments)
    if k < 0:
        return SolverError(message)
    x, y = 1e3 * points[segments[k]].mean(axis=0)
    return InfeasibleDesignError(
        "section_edges_cross",
        f"two edges of the section cross near ({x:.3f}, {y:.3f}) mm; move their corners apart",
    )


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
                if orient(out, tri[t, 0], tri[t, 1], tri[t, 2]) <= 0.0:
                    out[i, 0], out[i, 1] = old_x, old_y
                    break
    return out
