"""Edges of the graph cut into the sides of elements, equal on both radial sides of the sector."""

from math import cos, sin

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.boundary import Graph, turned
from models.field.sizing import SizeField, divide

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


def on_ray(points: Array, angle: float, tolerance: float) -> NDArray[np.bool_]:
    """Tell which points lie on the ray from the origin at an angle [rad]."""
    c, s = cos(angle), sin(angle)
    along = points[:, 0] * c + points[:, 1] * s
    across = points[:, 1] * c - points[:, 0] * s
    return (np.abs(across) <= tolerance) & (along >= -tolerance)


def mirrored_corners(graph: Graph, low: float, high: float, tolerance: float) -> Array:
    """Corners on one radial side, carried to the other, so that both sides match."""
    v = graph.vertices
    return np.vstack(
        (
            turned(v[on_ray(v, low, tolerance)], high - low),
            turned(v[on_ray(v, high, tolerance)], low - high),
        )
    )


def divide_edges(
    graph: Graph,
    *,
    field: SizeField,
    on_gap: NDArray[np.bool_],
    angles: tuple[float, float],
    interface_radius: float,
    layer: int,
    segment: float,
    tolerance: float,
) -> list[Array]:
    """Return the fractions at which each edge is cut into segments."""
    low, high = angles
    v = graph.vertices
    r = np.hypot(v[:, 0], v[:, 1])
    low_v, high_v = on_ray(v, low, tolerance), on_ray(v, high, tolerance)
    ends = graph.edges
    on_low = low_v[ends].all(axis=1) & (graph.bulges == 0)
    on_high = high_v[ends].all(axis=1) & (graph.bulges == 0)
    on_interface = np.all(np.abs(r[ends] - interface_radius) <= tolerance, axis=1)
    in_layer = (graph.left == layer) | (graph.right == layer)
    one_piece = np.array([0.0, 1.0])
    cuts: list[Array] = []
    for k in range(len(ends)):
        if on_gap[k]:
            pieces = max(2, round(graph.length(k) / segment))
            cuts.append(np.linspace(0.0, 1.0, pieces + 1))
        elif on_interface[k] or (in_layer[k] and (on_low[k] or on_high[k])):
            cuts.append(one_piece)
        else:
            cuts.append(divide(graph, k, field))
    # interface nodes face the nodes of the gap surface
    face = np.concatenate([graph.points_on(int(k), cuts[k]) for k in np.nonzero(on_gap)[0]])
    place = np.unique(np.round(angle_in_sector(face, low, high), 12))
    for k in np.nonzero(on_interface)[0].tolist():
        a, b = angle_in_sector(v[ends[k]], low, high)
        t = (place - a) / (b - a)
        t = np.sort(t[(t > 1e-6) & (t < 1.0 - 1e-6)])
        cuts[k] = np.concatenate(([0.0], t, [1.0]))
    # both radial sides get the same radii: the finer of the two
    high_edges = {_radial_key(r[ends[k]], tolerance): int(k) for k in np.nonzero(on_high)[0]}
    for k in np.nonzero(on_low)[0].tolist():
        partner = high_edges.get(_radial_key(r[ends[k]], tolerance))
        if partner is None:
            raise SolverError(
                "mesh_sides_differ: the two radial sides of the section have different corners"
            )
        flip = (r[ends[k, 0]] < r[ends[k, 1]]) != (r[ends[partner, 0]] < r[ends[partner, 1]])
        other = 1.0 - cuts[partner][::-1] if flip else cuts[partner]
        cuts[k] = cuts[k] if len(cuts[k]) >= len(other) else other
        cuts[partner] = 1.0 - cuts[k][::-1] if flip else cuts[k]
    return cuts


def angle_in_sector(points: Array, low: float, high: float) -> Array:
    """Angles measured from the middle of the sector (no jump inside it)."""
    middle = 0.5 * (low + high)
    local = turned(points, -middle)
    return np.arctan2(local[:, 1], local[:, 0])


def _radial_key(radii: Array, tolerance: float) -> tuple[int, int]:
    a, b = sorted(float(x) for x in radii)
    return (round(a / (20.0 * tolerance)), round(b / (20.0 * tolerance)))


def lay_nodes(graph: Graph, cuts: list[Array]) -> tuple[Array, IntArray, Array, IntArray, IntArray]:
    """Return nodes, segments, their middles (on the arc) and the regions on both sides."""
    nodes = [graph.vertices]
    total = len(graph.vertices)
    segments, middles, left, right = [], [], [], []
    for k, t in enumerate(cuts):
        inner = np.arange(total, total + len(t) - 2)
        total += len(inner)
        nodes.append(graph.points_on(k, t[1:-1]))
        chain = np.concatenate(([graph.edges[k, 0]], inner, [graph.edges[k, 1]]))
        segments.append(np.column_stack((chain[:-1], chain[1:])))
        middles.append(graph.points_on(k, 0.5 * (t[:-1] + t[1:])))
        left.append(np.full(len(t) - 1, graph.left[k]))
        right.append(np.full(len(t) - 1, graph.right[k]))
    points = np.vstack(nodes)
    all_segments = np.vstack(segments)
    # corners that no edge uses (points carried over to a side that has them already)
    used = np.zeros(len(points), dtype=bool)
    used[all_segments] = True
    index = np.cumsum(used) - 1
    return (
        points[used],
        index[all_segments],
        np.vstack(middles),
        np.concatenate(left),
        np.concatenate(right),
    )
