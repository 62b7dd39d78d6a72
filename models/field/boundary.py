"""Outlines of a section turned into one planar graph of shared straight lines and arcs.

Neighbouring regions are drawn apart from each other and may share only part of an edge (a slot
opening and the bore arc). Here every edge is cut at every corner that lies on it, equal pieces
are merged, and each piece knows the region on its left and on its right. What the mesh needs to
be right (closed, no gap, no overlap) is checked here, by name.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan, atan2, cos, hypot, pi, sin, tan

import numpy as np
from numpy.typing import NDArray

from models.errors import InfeasibleDesignError
from models.geometry.section import Outline, Point, Region, arc_centre

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

NONE = -1
"""Region id of "nothing there" (outside of the domain)."""


@dataclass(frozen=True, eq=False)
class Graph:
    """Planar straight-line and arc graph.

    Attributes
    ----------
    vertices : ndarray, shape (n, 2)
        Corners [m].
    edges : ndarray of int, shape (m, 2)
        Start and end vertex.
    bulges : ndarray, shape (m,)
        tan(swept angle / 4) from start to end; 0 for a line.
    left, right : ndarray of int, shape (m,)
        Region on either side of an edge, -1 for outside.
    """

    vertices: Array
    edges: IntArray
    bulges: Array
    left: IntArray
    right: IntArray

    def length(self, k: int) -> float:
        """Return the length of edge `k` [m]."""
        (x0, y0), (x1, y1) = self.vertices[self.edges[k]]
        chord = hypot(x1 - x0, y1 - y0)
        b = abs(self.bulges[k])
        return chord if b == 0.0 else chord * (1.0 + b * b) * atan(b) / b

    def points_on(self, k: int, where: Array) -> Array:
        """Return points of edge `k` at fractions of its length, shape (n, 2) [m]."""
        start, end = self.vertices[self.edges[k, 0]], self.vertices[self.edges[k, 1]]
        return edge_points((start[0], start[1]), (end[0], end[1]), self.bulges[k], where)

    def region_area(self, region: int) -> float:
        """Return the area that the edges of a region enclose [m^2]."""
        total = 0.0
        for k in np.nonzero((self.left == region) != (self.right == region))[0]:
            (x0, y0), (x1, y1) = self.vertices[self.edges[k]]
            piece = 0.5 * (x0 * y1 - x1 * y0) + _segment_area((x0, y0), (x1, y1), self.bulges[k])
            total += piece if self.left[k] == region else -piece
        return total


def _segment_area(start: Point, end: Point, bulge: float) -> float:
    """Return the signed area between an arc and its chord [m^2]."""
    if bulge == 0.0:
        return 0.0
    sweep = 4.0 * atan(abs(bulge))
    radius = hypot(end[0] - start[0], end[1] - start[1]) / (2.0 * sin(sweep / 2.0))
    area = 0.5 * radius**2 * (sweep - sin(sweep))
    return area if bulge > 0 else -area


def edge_points(start: Point, end: Point, bulge: float, where: Array) -> Array:
    """Return points at fractions of the length of a line or arc, shape (n, 2) [m]."""
    t = np.asarray(where, dtype=float)[:, None]
    p0, p1 = np.array(start), np.array(end)
    if bulge == 0.0:
        line: Array = p0 + t * (p1 - p0)
        return line
    centre = np.array(arc_centre(start, end, bulge))
    angle = 4.0 * atan(bulge) * t[:, 0]
    d = p0 - centre
    arc: Array = centre + np.column_stack(
        (np.cos(angle) * d[0] - np.sin(angle) * d[1], np.sin(angle) * d[0] + np.cos(angle) * d[1])
    )
    return arc


@dataclass(frozen=True)
class _Piece:
    """An edge before merging: corners, bulge, regions."""

    start: Point
    end: Point
    bulge: float
    left: int
    right: int


def build_graph(
    regions: Sequence[Region], *, tolerance: float, extra: Sequence[Point] = ()
) -> Graph:
    """Merge the outlines of regions into one graph.

    Parameters
    ----------
    regions : sequence of Region
        Region `k` gets id `k`.
    tolerance : float
        Corners nearer than this are one corner [m].
    extra : sequence of (x, y)
        Further points [m] at which edges that pass through them are cut.

    Returns
    -------
    Graph
        Shared edges appear once.

    Raises
    ------
    InfeasibleDesignError
        `section_overlap` when two regions claim the same side of an edge.
    """
    pieces: list[_Piece] = []
    for k, region in enumerate(regions):
        pieces.extend(_pieces(region.outline, k, NONE))
        for hole in region.holes:
            pieces.extend(_pieces(hole, NONE, k))
    return _merge(pieces, [r.name for r in regions], tolerance, extra)


def _pieces(outline: Outline, left: int, right: int) -> list[_Piece]:
    n = len(outline.points)
    return [
        _Piece(p, outline.points[(k + 1) % n], b, left, right)
        for k, (p, b) in enumerate(zip(outline.points, outline.bulges))
    ]


def _merge(
    pieces: list[_Piece], names: Sequence[str], tolerance: float, extra: Sequence[Point]
) -> Graph:
    corners = np.array([p for piece in pieces for p in (piece.start, piece.end)] + list(extra))
    vertices, index = _merge_corners(corners, tolerance)
    found: dict[tuple[int, int], list[list[float]]] = {}
    for k, piece in enumerate(pieces):
        i, j = int(index[2 * k]), int(index[2 * k + 1])
        chain, bulge = _cut(vertices, i, j, piece.bulge, tolerance)
        for a, b in itertools.pairwise(chain):
            if a == b:
                continue
            forward = a < b
            key = (a, b) if forward else (b, a)
            signed = bulge(a, b) if forward else -bulge(a, b)
            sides = (piece.left, piece.right) if forward else (piece.right, piece.left)
            _add(found.setdefault(key, []), signed, sides, vertices[list(key)], names, tolerance)
    rows = [(key, entry) for key, entries in found.items() for entry in entries]
    return Graph(
        vertices=vertices,
        edges=np.array([key for key, _ in rows], dtype=np.int64),
        bulges=np.array([e[0] for _, e in rows]),
        left=np.array([e[1] for _, e in rows], dtype=np.int64),
        right=np.array([e[2] for _, e in rows], dtype=np.int64),
    )


def _merge_corners(corners: Array, tolerance: float) -> tuple[Array, IntArray]:
    index = np.full(len(corners), -1, dtype=np.int64)
    kept: list[int] = []
    for k in range(len(corners)):
        if index[k] >= 0:
            continue
        near = np.hypot(*(corners - corners[k]).T) <= tolerance
        index[near & (index < 0)] = len(kept)
        kept.append(k)
    return corners[kept], index


def _cut(
    vertices: Array, i: int, j: int, bulge: float, tolerance: float
) -> tuple[list[int], Callable[[int, int], float]]:
    """Return the corners along an edge in order and a function for the bulge of a piece."""
    p0, p1 = vertices[i], vertices[j]
    if bulge == 0.0:
        d = p1 - p0
        length = float(np.hypot(*d))
        if length == 0.0:
            return [i, j], lambda a, b: 0.0
        along = (vertices - p0) @ d / length
        across = np.abs((vertices - p0) @ np.array([-d[1], d[0]])) / length
        on = (across <= tolerance) & (along > tolerance) & (along < length - tolerance)
        inner = np.nonzero(on)[0]
        inner = inner[np.argsort(along[inner])]
        return [i, *inner.tolist(), j], lambda a, b: 0.0
    centre = np.array(arc_centre((p0[0], p0[1]), (p1[0], p1[1]), bulge))
    radius = float(np.hypot(*(p0 - centre)))
    sweep = 4.0 * atan(bulge)
    sign = 1.0 if sweep > 0 else -1.0
    rel = vertices - centre
    angle = np.mod(sign * (np.arctan2(rel[:, 1], rel[:, 0]) - atan2(*(p0 - centre)[::-1])), 2 * pi)
    on = np.abs(np.hypot(rel[:, 0], rel[:, 1]) - radius) <= tolerance
    small = tolerance / radius
    on &= (angle > small) & (angle < abs(sweep) - small)
    inner = np.nonzero(on)[0]
    inner = inner[np.argsort(angle[inner])]
    chain = [i, *inner.tolist(), j]
    place = {i: 0.0, j: abs(sweep)} | {int(k): float(angle[k]) for k in inner}
    return chain, lambda a, b: sign * tan((place[b] - place[a]) / 4.0)


def _add(
    entries: list[list[float]],
    bulge: float,
    sides: tuple[int, int],
    ends: Array,
    names: Sequence[str],
    tolerance: float,
) -> None:
    """Merge a piece into the pieces already known between the same two corners."""
    chord = float(np.hypot(*(ends[1] - ends[0])))
    for entry in entries:
        # same height of the arc over the chord: the same piece
        if abs(entry[0] - bulge) * chord / 2.0 > 2.0 * tolerance:
            continue
        for side, region in zip((1, 2), sides):
            if region == NONE:
                continue
            if entry[side] not in (NONE, region):
                middle = 1e3 * ends.mean(axis=0)
                raise InfeasibleDesignError(
                    "section_overlap",
                    f"regions {names[int(entry[side])]!r} and {names[region]!r} lie on the same "
                    f"side of the edge at ({middle[0]:.3f}, {middle[1]:.3f}) mm; move their "
                    "corners apart",
                )
            entry[side] = region
        return
    entries.append([bulge, sides[0], sides[1]])


def check_cover(
    graph: Graph, regions: Sequence[Region], *, inner: float, outer: float, angle: float
) -> None:
    """Check that the regions tile an annular sector once.

    Parameters
    ----------
    graph : Graph
        Their graph.
    regions : sequence of Region
        The regions, id = index.
    inner, outer : float
        Radii of the sector [m].
    angle : float
        Its angle [rad].

    Raises
    ------
    InfeasibleDesignError
        `section_open` or `section_not_covered`, naming where.
    """
    for k, region in enumerate(regions):
        exact = region.area()
        if exact <= 0.0 or abs(graph.region_area(k) - exact) > 1e-6 * exact + 1e-14:
            raise InfeasibleDesignError(
                "section_open",
                f"the outline of {region.name!r} is not a closed counter-clockwise loop or "
                f"crosses itself (area {1e6 * exact:.4f} mm^2); check its corners",
            )
    total = sum(r.area() for r in regions)
    wanted = 0.5 * angle * (outer**2 - inner**2)
    if abs(total - wanted) > 1e-5 * wanted:
        raise InfeasibleDesignError(
            "section_not_covered",
            f"regions cover {1e6 * total:.3f} mm^2 of a sector of {1e6 * wanted:.3f} mm^2 "
            f"({1e3 * inner:.2f} to {1e3 * outer:.2f} mm); they leave a hole or overlap",
        )


def turned(points: Array, angle: float) -> Array:
    """Return points turned about the origin by an angle [rad]."""
    c, s = cos(angle), sin(angle)
    out: Array = points @ np.array([[c, s], [-s, c]])
    return out
