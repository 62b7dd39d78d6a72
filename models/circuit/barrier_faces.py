"""Where the nodes of a flux barrier lie on its two faces, and what its bend adds to it."""

import itertools
from collections.abc import Sequence
from math import atan2, dist, pi

import numpy as np

from models.circuit.pocket_corner import CORNER_NODES
from models.geometry.barriers import face_distance
from models.machine import Barrier

PARTS = 4
"""Parts of a barrier between rib and bridge; the last one ends under the bridge."""
AT_BEND = 0.05
"""A node so near the bend of a face, over the barrier's thickness, counts as on it."""
Point = tuple[float, float]


def face_points(barrier: Barrier) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """Return the places of the nodes on both faces, opposite each other along the flux.

    On the gap face: the rib, the bend, and points between them and towards the bridge.
    """
    before = parts_before_bend(barrier)
    inner, bend, end = barrier.gap_face
    after = PARTS - before
    gap = [between(inner, bend, k / before) for k in range(before)]
    gap += [between(bend, end, k / after) for k in range(after)]
    shaft = [barrier.shaft_face[0]]
    first, second = _normal(inner, bend), _normal(bend, end)
    for k, point in enumerate(gap[1:], 1):
        across = first if k < before else second
        if k == before:
            across = (first[0] + second[0], first[1] + second[1])
        shaft.append(_where_hit(barrier.shaft_face, point, across))
    return tuple(gap), tuple(shaft)


def over_cap(near: float, bridge: float, below: Sequence[Point]) -> list[float]:
    """Return the angles of the nodes on a pole cap's surface over points of its lower side [rad].

    Parameters
    ----------
    near : float
        Angle of the bridge's near end [rad].
    bridge : float
        Thickness of the bridge as an angle [rad].
    below : sequence of Point
        Points from the pole axis outwards, the axis left out.

    Notes
    -----
    Straight over the points, but short of the bridge: the last cell is at least as wide as the
    bridge is thick. A narrower one beside a step of the wall took the bridge's flux for turning
    outwards and saturated; with bridges of 3 mm open-circuit flux came out 2 to 5 % high.
    """
    last = min(0.94 * near, near - bridge)
    shares = (1.0 + 0.085 * (k - len(below)) for k in range(1, len(below) + 1))
    return [min(atan2(y, x), last * share) for share, (x, y) in zip(shares, below)]


def _normal(start: Point, end: Point) -> Point:
    """Return the unit vector across a face, away from the gap."""
    length = dist(start, end)
    return ((start[1] - end[1]) / length, (end[0] - start[0]) / length)


def _where_hit(face: tuple[Point, ...], point: Point, direction: Point) -> Point:
    """Return where a ray meets a face of two straight parts, the nearer end if it passes by."""
    bound = face[0]
    for a, b in itertools.pairwise(face):
        dx, dy = b[0] - a[0], b[1] - a[1]
        det = dx * direction[1] - dy * direction[0]
        share = ((point[0] - a[0]) * direction[1] - (point[1] - a[1]) * direction[0]) / det
        if 0.0 <= share <= 1.0:
            return between(a, b, share)
        if share > 1.0:
            bound = b
    return bound


def between(a: Point, b: Point, share: float) -> Point:
    """Return the point a share of the way from one point to another."""
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def parts_before_bend(barrier: Barrier) -> int:
    """Return how many of the parts lie between rib and bend: 3 where the leg is short."""
    inner, bend, end = barrier.gap_face
    return 3 if dist(bend, end) < 0.5 * dist(inner, bend) else 2


def bend_between(barrier: Barrier, shaft: tuple[Point, ...]) -> tuple[int, float] | None:
    """Return between which places of the shaft face its bend lies.

    Parameters
    ----------
    barrier : Barrier
        The barrier.
    shaft : tuple of Point
        Places of the nodes on the shaft face, from the rib outwards; the far corner follows.

    Returns
    -------
    tuple of int and float, or None
        Number of the place before the bend, and the bend's share of the way along the face to the
        next; None where a place lies on the bend.
    """
    inner, bend, far = barrier.shaft_face
    tiny = 1e-6 * dist(inner, far)

    def is_before(point: Point) -> bool:
        return dist(inner, point) + dist(point, bend) - dist(inner, bend) < tiny

    for k, (a, b) in enumerate(itertools.pairwise((*shaft, far))):
        first, second = dist(a, bend), dist(bend, b)
        if min(first, second) < AT_BEND * barrier.thickness:
            return None
        if is_before(a) and not is_before(b):
            return k, first / (first + second)
    return None


def magnet_parts(barrier: Barrier) -> int:
    """Return how many parts of half a barrier hold magnet."""
    gap, _ = face_points(barrier)
    return sum(magnet_overlap(barrier, a, b) > 0.0 for a, b in itertools.pairwise(gap))


def bend_excess(barrier: Barrier) -> tuple[float, float]:
    """Return what the bend adds to the permeance of the barrier on either side of it.

    In squares (permeance over mu0), beyond the length of the gap face over the thickness: of the
    part between rib and bend, and of the leg.

    Notes
    -----
    The barrier is a channel of two equipotential walls that turn by the angle pi b and change
    their distance from h to h a^b: the image of a half plane by the Schwarz-Christoffel map
    dz/dw = h / (pi w) (1 + w)^b (1 - w / a)^(-b). For a square corner of equal widths both parts
    sum to the known 0.559.

    References
    ----------
    K. J. Binns, P. J. Lawrenson, C. W. Trowbridge, The Analytical and Numerical Solution of
    Electric and Magnetic Fields, Wiley 1992 (from memory).
    """
    inner, bend, end = barrier.gap_face
    first, second = _normal(inner, bend), _normal(bend, end)
    turn = (
        atan2(
            first[1] * second[0] - first[0] * second[1], first[0] * second[0] + first[1] * second[1]
        )
        / pi
    )
    if abs(turn) < 0.02:
        return 0.0, 0.0
    shaft_bend, far = barrier.shaft_face[1:]
    flat = abs((shaft_bend[0] - inner[0]) * first[0] + (shaft_bend[1] - inner[1]) * first[1])
    leg = face_distance((bend, end), (shaft_bend, far))
    a = min(max((leg / flat) ** (1.0 / turn), 1e-2), 1e2)
    t, dt = CORNER_NODES
    before = np.sum(dt * ((1.0 - t) ** turn * (1.0 + t / a) ** -turn - 1.0) / t)
    after = np.sum(dt * ((1.0 - t) ** turn * (1.0 + a * t) ** -turn - 1.0) / t)
    return -float(before) / pi, -float(after) / pi


def magnet_overlap(barrier: Barrier, start: Point, end: Point) -> float:
    """Return the width of magnet along a part of the gap face [m]."""
    if not barrier.has_magnet:
        return 0.0
    length = dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    (ax, ay), (bx, by) = barrier.magnet_corners[:2]
    if abs((bx - ax) * uy - (by - ay) * ux) > 1e-6 * barrier.magnet_width:
        return 0.0  # the part lies on the leg
    low = (ax - start[0]) * ux + (ay - start[1]) * uy
    high = (bx - start[0]) * ux + (by - start[1]) * uy
    width = min(high, length) - max(low, 0.0)
    return width if width > 1e-6 * length else 0.0
