"""Rounding the corners of a pocket in the rotor sheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, atan2, cos, hypot, pi, radians, sin, sqrt, tan

from models.geometry.interior import pocket_outline
from models.geometry.section import Outline, Point, arc_bulge
from models.machine import Barrier, InteriorRotor, LayeredRotor

SHARP = radians(8.0)
"""Smallest turn that is rounded [rad]. Below it, and where the sheet's own corner sticks out into
the pocket, a corner raises no stress worth meshing."""
ROOM = 0.96
"""Share of an edge that the fillets at its two ends may use up."""


@dataclass(frozen=True)
class _Edge:
    """A straight edge, or an arc about the shaft axis of this radius (run counter-clockwise)."""

    start: Point
    end: Point
    radius: float = 0.0

    @property
    def length(self) -> float:
        chord = hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])
        return 2.0 * self.radius * asin(0.5 * chord / self.radius) if self.radius else chord

    def direction(self, at: Point) -> Point:
        """Return the unit vector along the edge at one of its points."""
        if self.radius:
            return -at[1] / self.radius, at[0] / self.radius
        length = self.length
        return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length


def rounded_pocket(rotor: InteriorRotor, radius: float) -> Outline:
    """Return the upper pocket with rounded corners, counter-clockwise.

    Parameters
    ----------
    rotor : InteriorRotor
        The rotor.
    radius : float
        Fillet radius [m], > 0; smaller where the edges beside a corner leave no room for it.

    Returns
    -------
    Outline
        Pocket whose fillets lie inside the drawn one: they add sheet in the corners.
    """
    sharp = pocket_outline(rotor)
    inner_shaft, inner_gap, _, gap_out, near, far, shaft_out, _ = sharp.points
    corners = (inner_shaft, inner_gap, gap_out, near, far, shaft_out)
    return _rounded(corners, rotor.outer_radius - rotor.bridge_thickness, radius)


def rounded_barrier(barrier: Barrier, circle: float, radius: float) -> Outline:
    """Return the upper half of a barrier with rounded corners, counter-clockwise.

    Parameters
    ----------
    barrier : Barrier
        The barrier.
    circle : float
        Radius of the arc under its bridge [m].
    radius : float
        Fillet radius as in `rounded_pocket` [m].
    """
    inner_gap, bend_gap, near = barrier.gap_face
    inner_shaft, bend_shaft, far = barrier.shaft_face
    return _rounded((inner_shaft, inner_gap, bend_gap, near, far, bend_shaft), circle, radius)


def _rounded(corners: tuple[Point, ...], circle: float, radius: float) -> Outline:
    """Round a pocket of six corners whose edge from the fourth is the arc under the bridge."""
    near = corners[3]
    edges = [
        _Edge(a, b, circle if a is near else 0.0)
        for a, b in zip(corners, (*corners[1:], corners[0]))
    ]
    turns = [_turn(before, after) for before, after in zip((edges[-1], *edges), edges)]
    radii = _radii(edges, turns, radius)
    points: list[Point] = []
    bulges: list[float] = []
    for k, edge in enumerate(edges):
        for point, bulge in _fillet(edges[k - 1], edge, turns[k], radii[k]):
            points.append(point)
            bulges.append(bulge)
    # What is left of the bridge's arc between its two fillets.
    for k, a in enumerate(points):
        b = points[(k + 1) % len(points)]
        if bulges[k] == 0.0 and all(abs(hypot(*p) - circle) < 1e-9 * circle for p in (a, b)):
            bulges[k] = arc_bulge(atan2(b[1], b[0]) - atan2(a[1], a[0]))
    return Outline(tuple(points), tuple(bulges))


def _turn(before: _Edge, after: _Edge) -> float:
    """Return the left turn at the corner between two edges [rad]."""
    (ax, ay), (bx, by) = before.direction(before.end), after.direction(after.start)
    return atan2(ax * by - ay * bx, ax * bx + ay * by)


def _radii(edges: Sequence[_Edge], turns: Sequence[float], radius: float) -> list[float]:
    """Return a radius for each corner, small enough that fillets do not meet on an edge."""
    cuts = [tan(0.5 * turn) if turn > SHARP else 0.0 for turn in turns]
    room = [1.0] * len(edges)
    for k, edge in enumerate(edges):
        used = radius * (cuts[k] + cuts[(k + 1) % len(edges)])
        if used > 0.0:
            room[k] = min(1.0, ROOM * edge.length / used)
    return [radius * min(room[k - 1], room[k]) if cuts[k] > 0.0 else 0.0 for k in range(len(cuts))]


def _fillet(
    before: _Edge, after: _Edge, turn: float, radius: float
) -> tuple[tuple[Point, float], ...]:
    """Return the corner's points with the bulges that leave them."""
    corner = after.start
    if radius == 0.0:
        return ((corner, 0.0),)
    if before.radius or after.radius:
        line, circle = (after, before.radius) if before.radius else (before, after.radius)
        (dx, dy), (px, py) = line.direction(corner), corner
        # Centre: `radius` to the left of the line and inside the circle.
        qx, qy = px - radius * dy, py + radius * dx
        along = qx * dx + qy * dy
        root = sqrt(max(along**2 - (qx**2 + qy**2) + (circle - radius) ** 2, 0.0))
        step = min((-along - root, -along + root), key=abs)
        centre = (qx + step * dx, qy + step * dy)
        on_line = (centre[0] + radius * dy, centre[1] - radius * dx)
        grow = circle / hypot(*centre)
        on_arc = (centre[0] * grow, centre[1] * grow)
        start, end = (on_arc, on_line) if before.radius else (on_line, on_arc)
        a0 = atan2(start[1] - centre[1], start[0] - centre[0])
        a1 = atan2(end[1] - centre[1], end[0] - centre[0])
        sweep = (a1 - a0) % (2.0 * pi)
    else:
        cut, sweep = radius * tan(0.5 * turn), turn
        (ax, ay), (bx, by) = before.direction(corner), after.direction(corner)
        start = (corner[0] - cut * ax, corner[1] - cut * ay)
        end = (corner[0] + cut * bx, corner[1] + cut * by)
    return (start, arc_bulge(sweep)), (end, 0.0)


def half_pole_outline(rotor: InteriorRotor | LayeredRotor, half_pole: float) -> Outline:
    """Return the sheet of half a pole, from the d axis (x axis) to the q axis, without pocket."""
    c, s = cos(half_pole), sin(half_pole)
    inner, outer = rotor.shaft_radius, rotor.outer_radius
    bulge = arc_bulge(half_pole)
    return Outline(
        ((inner, 0.0), (outer, 0.0), (outer * c, outer * s), (inner * c, inner * s)),
        (0.0, bulge, 0.0, -bulge),
    )
