"""Outlines and regions of a rotor with layers of flux barriers."""

import itertools
from math import atan2, cos, dist, pi, sin

from models.errors import InfeasibleDesignError
from models.geometry.section import Outline, Point, Region, arc_bulge
from models.machine import Barrier, LayeredRotor, Machine, rotor_as

THINNEST_IRON = 0.6e-3
"""Least width of iron between two barriers [m]: about two sheet thicknesses can be punched
(common practice, no source)."""


def barrier_pocket(barrier: Barrier) -> Outline:
    """Return the outline of a barrier's upper half, magnet included, counter-clockwise."""
    inner_gap, bend_gap, near = barrier.gap_face
    inner_shaft, bend_shaft, far = barrier.shaft_face
    before, after = _magnet_stops(barrier)
    points = (inner_shaft, inner_gap, *before, bend_gap, near, far, bend_shaft, *after)
    bulges = [0.0] * len(points)
    bulges[points.index(near)] = arc_bulge(barrier.far_angle - barrier.near_angle)
    return _without_repeats(points, bulges)


def _magnet_stops(barrier: Barrier) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """Return the magnet's corners on the gap face and, backwards, on the shaft face."""
    if not barrier.has_magnet:
        return (), ()
    gap_in, gap_out, shaft_out, shaft_in = barrier.magnet_corners
    return (gap_in, gap_out), (shaft_out, shaft_in)


def _without_repeats(points: tuple[Point, ...], bulges: list[float]) -> Outline:
    kept = [k for k, p in enumerate(points) if dist(p, points[(k + 1) % len(points)]) > 1e-9]
    return Outline(tuple(points[k] for k in kept), tuple(bulges[k] for k in kept))


def layered_regions(machine: Machine) -> list[Region]:
    """Return the regions of one pole: core, magnets, barriers and shaft."""
    rotor = rotor_as(machine, LayeredRotor)
    sheet, magnet = machine.lamination.name, machine.magnet.name
    half = pi / (2 * machine.pole_pairs)
    c, s = cos(half), sin(half)
    r_out, r_in = rotor.outer_radius, rotor.shaft_radius
    whole = arc_bulge(2.0 * half)
    core = Outline(
        points=(
            (r_in * c, -r_in * s),
            (r_out * c, -r_out * s),
            (r_out * c, r_out * s),
            (r_in * c, r_in * s),
        ),
        bulges=(0.0, whole, 0.0, -whole),
    )
    pockets = [barrier_pocket(b) for b in rotor.barriers]
    holes = (*pockets, *(p.transformed(mirror=True) for p in pockets))
    shaft = Outline(((0.0, 0.0), core.points[0], core.points[3]), (0.0, whole, 0.0))
    regions = [
        Region("rotor_core", "rotor_core", sheet, core, holes=holes),
        Region("shaft", "shaft", "shaft", shaft),
    ]
    for number, (barrier, pocket) in enumerate(zip(rotor.barriers, pockets), 1):
        for side, mirror in (("upper", False), ("lower", True)):
            regions += _half_regions(barrier, pocket, magnet, f"{number}_{side}", mirror=mirror)
    return regions


def _half_regions(
    barrier: Barrier, pocket: Outline, magnet: str, tag: str, *, mirror: bool
) -> list[Region]:
    if not barrier.has_magnet:
        return [Region(f"barrier_{tag}", "barrier", "air", pocket.transformed(mirror=mirror))]
    gap_in, gap_out, shaft_out, shaft_in = barrier.magnet_corners
    (inner_gap, bend_gap, near), (inner_shaft, bend_shaft, far) = (
        barrier.gap_face, barrier.shaft_face,
    )  # fmt: skip
    inner = (inner_shaft, inner_gap, gap_in, shaft_in)
    outer = (gap_out, bend_gap, near, far, bend_shaft, shaft_out)
    bulges = [0.0] * 6
    bulges[2] = arc_bulge(barrier.far_angle - barrier.near_angle)
    along = (shaft_out[0] - gap_out[0], shaft_out[1] - gap_out[1])
    length = dist(gap_out, shaft_out)
    towards_gap = (-along[0] / length, -along[1] / length)
    block = Outline((gap_in, gap_out, shaft_out, shaft_in), (0.0,) * 4)
    return [
        Region(
            f"magnet_{tag}",
            "magnet",
            magnet,
            block.transformed(mirror=mirror),
            magnetisation=(towards_gap[0], -towards_gap[1] if mirror else towards_gap[1]),
        ),
        Region(
            f"barrier_inner_{tag}",
            "barrier",
            "air",
            _without_repeats(inner, [0.0] * 4).transformed(mirror=mirror),
        ),
        Region(
            f"barrier_outer_{tag}",
            "barrier",
            "air",
            _without_repeats(outer, bulges).transformed(mirror=mirror),
        ),
    ]


def check_iron_between(rotor: LayeredRotor, pole_pairs: int, *, advice: str) -> None:
    """Refuse barriers that come too near each other or the neighbouring pole.

    Parameters
    ----------
    rotor : LayeredRotor
        Barriers from the gap inwards.
    pole_pairs : int
        Pole pairs.
    advice : str
        Which parameters to change.

    Raises
    ------
    InfeasibleDesignError
        `barriers_too_close` or `interpolar_web_too_narrow`.
    """
    for number, (outer, inner) in enumerate(zip(rotor.barriers, rotor.barriers[1:]), 1):
        width = face_distance(outer.shaft_face, inner.gap_face)
        if width < THINNEST_IRON:
            raise InfeasibleDesignError(
                "barriers_too_close",
                f"iron between barriers {number} and {number + 1} would be {1e3 * width:.2f} mm "
                f"wide, at least {1e3 * THINNEST_IRON:.1f} mm is needed; {advice}",
            )
    half = pi / (2 * pole_pairs)
    last = rotor.barriers[-1]
    web = min(x * sin(half) - y * cos(half) for x, y in last.shaft_face)
    if web < 0.5 * last.bridge_thickness:
        raise InfeasibleDesignError(
            "interpolar_web_too_narrow",
            f"iron between neighbouring poles would be {2e3 * web:.2f} mm wide, at least the "
            f"bridge thickness of {1e3 * last.bridge_thickness:.2f} mm is needed; {advice}",
        )


def face_distance(outer: tuple[Point, ...], inner: tuple[Point, ...]) -> float:
    """Return the signed distance [m] between the facing sides of two barriers.

    Negative when a corner of the inner one has passed beyond the outer one.
    """
    gaps = [_side(p, inner) for p in outer] + [-_side(p, outer) for p in inner]
    return min(gaps)


def _side(point: Point, face: tuple[Point, ...]) -> float:
    """Return the distance of a point from a face, positive on the face's gap side."""
    best, sign = float("inf"), 1.0
    for a, b in itertools.pairwise(face):
        dx, dy = b[0] - a[0], b[1] - a[1]
        share = ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / (dx * dx + dy * dy)
        share = min(max(share, 0.0), 1.0)
        foot = (a[0] + share * dx, a[1] + share * dy)
        away = dist(point, foot)
        if away < best:
            best = away
            # faces run from the rib outwards: the gap lies to their right
            sign = 1.0 if dx * (point[1] - a[1]) - dy * (point[0] - a[0]) <= 0.0 else -1.0
    return sign * best


def polar_angle(point: Point) -> float:
    """Return a point's angle from the pole axis [rad]."""
    return atan2(point[1], point[0])
