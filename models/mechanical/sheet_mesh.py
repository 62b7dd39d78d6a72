"""Meshing one sheet region with second-order triangles, curved on arcs."""

from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from models.field.boundary import Graph, build_graph
from models.field.sizing import divide, size_field
from models.field.triangulate import triangulate
from models.geometry.section import Region

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class SheetMesh:
    """Second-order triangles of one region.

    Attributes
    ----------
    nodes : ndarray, shape (n, 2)
        Corner and mid-side nodes [m]; those of an arc lie on it.
    elements : ndarray of int, shape (m, 6)
        Corners counter-clockwise, then middles of sides 01, 12, 20.
    border : ndarray of int, shape (k, 3)
        Start, end and middle node of each element side on the border.
    """

    nodes: Array
    elements: IntArray
    border: IntArray


def mesh_sheet(
    region: Region, *, half_angle: float, largest: float, growth: float, share: float,
    fillet_radius: float, fillet_share: float,
) -> SheetMesh:  # fmt: skip
    """Mesh a region that lies between the x axis and a ray.

    Parameters
    ----------
    region : Region
        One region, holes allowed.
    half_angle : float
        Angle of the ray [rad].
    largest : float
        Largest element [m].
    growth : float
        Growth of element size with distance.
    share : float
        Element size over local thickness.
    fillet_radius : float
        Arcs of at most this radius [m] are fillets.
    fillet_share : float
        Element size on a fillet over its radius.

    Returns
    -------
    SheetMesh

    Raises
    ------
    SolverError
        The region cannot be meshed: edges cross or nearly touch.
    """
    reach = max(hypot(x, y) for x, y in region.outline.points)
    inner = min(hypot(x, y) for x, y in region.outline.points)
    graph = build_graph([region], tolerance=1e-7 * reach)
    limits = np.full(len(graph.edges), np.inf)
    for k in range(len(graph.edges)):
        radius = _radius(graph, k)
        if radius <= 1.001 * fillet_radius:
            limits[k] = fillet_share * radius
    field = size_field(graph, largest=largest, growth=growth, thickness_share=share, limits=limits)
    nodes, segments, middles, left, right = [graph.vertices], [], [], [], []
    total = len(graph.vertices)
    for k in range(len(graph.edges)):
        cut = divide(graph, k, field)
        chain = np.concatenate(
            ([graph.edges[k, 0]], np.arange(total, total + len(cut) - 2), [graph.edges[k, 1]])
        )
        total += len(cut) - 2
        nodes.append(graph.points_on(k, cut[1:-1]))
        segments.append(np.column_stack((chain[:-1], chain[1:])))
        middles.append(graph.points_on(k, 0.5 * (cut[:-1] + cut[1:])))
        left.append(np.full(len(cut) - 1, graph.left[k]))
        right.append(np.full(len(cut) - 1, graph.right[k]))
    sides = np.vstack(segments)
    points, triangles, _ = triangulate(
        np.vstack(nodes), sides, left=np.concatenate(left), right=np.concatenate(right),
        radii=(inner, reach), angles=(0.0, half_angle), field=field,
    )  # fmt: skip
    return _second_order(points, triangles, sides, np.vstack(middles))


def _radius(graph: Graph, k: int) -> float:
    """Return the radius of an edge [m]; infinite for a line."""
    bulge = abs(float(graph.bulges[k]))
    if bulge == 0.0:
        return float("inf")
    (x0, y0), (x1, y1) = graph.vertices[graph.edges[k]]
    return hypot(x1 - x0, y1 - y0) * (1.0 + bulge**2) / (4.0 * bulge)


def _second_order(
    points: Array, triangles: IntArray, segments: IntArray, middles: Array
) -> SheetMesh:
    used = np.zeros(len(points), dtype=bool)
    used[triangles] = True
    index = np.cumsum(used) - 1
    points, triangles, segments = points[used], index[triangles], index[segments]
    n = len(points)
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    unique, inverse = np.unique(np.sort(sides, axis=1) @ np.array([n, 1]), return_inverse=True)
    place = 0.5 * (points[unique // n] + points[unique % n])
    on_border = np.searchsorted(unique, np.sort(segments, axis=1) @ np.array([n, 1]))
    place[on_border] = middles
    return SheetMesh(
        nodes=np.vstack((points, place)),
        elements=np.hstack((triangles, n + inverse.reshape(-1, 3))),
        border=np.column_stack((segments, n + on_border)),
    )
