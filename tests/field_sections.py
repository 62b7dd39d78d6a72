"""Sections made by hand for checks of the field model: rings, and a published machine."""

from math import asin, cos, hypot, pi, sin

from models.geometry.section import Outline, Region, Section, arc_bulge


def ring_sector(inner: float, outer: float, low: float, high: float) -> Outline:
    """Return an annular sector between two angles [rad]; a pie piece when `inner` is 0."""
    bulge = arc_bulge(high - low)
    out = ((outer * cos(low), outer * sin(low)), (outer * cos(high), outer * sin(high)))
    if inner == 0.0:
        return Outline(((0.0, 0.0), *out), (0.0, bulge, 0.0))
    return Outline(
        (
            (inner * cos(low), inner * sin(low)),
            *out,
            (inner * cos(high), inner * sin(high)),
        ),
        (0.0, bulge, 0.0, -bulge),
    )


def ring(name: str, part: str, inner: float, outer: float, pole_pairs: int) -> Region:
    """Return a ring over one pole."""
    half = pi / (2 * pole_pairs)
    return Region(name, part, part, ring_sector(inner, outer, -half, half))


def _point(radius: float, degrees: float) -> tuple[float, float]:
    angle = degrees * pi / 180.0
    return (1e-3 * radius * cos(angle), 1e-3 * radius * sin(angle))


def _bulge(start: tuple[float, float], end: tuple[float, float], radius: float) -> float:
    """Bulge of the shorter counter-clockwise arc of this radius [m]."""
    chord = hypot(end[0] - start[0], end[1] - start[1])
    return arc_bulge(2.0 * asin(0.5 * chord / radius))


def published_surface_machine() -> Section:
    """8-pole, 24-slot surface-magnet machine with published dimensions.

    M. V. Ferreira da Luz, P. Dular, N. Sadowski, C. Geuzaine, J. P. A. Bastos, IEEE Trans. Magn.
    38(2) 961-964, 2002; dimensions from an openly published model of that machine.
    """
    p, half, edge = 4, 22.5, 32.67 / 2.0
    turn = arc_bulge((half - edge) * pi / 180.0)
    magnet_turn = arc_bulge(2.0 * edge * pi / 180.0)
    core = Outline(
        (
            _point(10.5, -half), _point(23.9, -half), _point(23.9, -edge), _point(23.248, -edge),
            _point(23.248, edge), _point(23.9, edge), _point(23.9, half), _point(10.5, half),
        ),
        (0.0, turn, 0.0, magnet_turn, 0.0, turn, 0.0, -arc_bulge(half * pi / 90.0)),
    )  # fmt: skip
    radians = pi / 180.0
    rotor = (
        Region("core", "rotor_core", "iron", core),
        Region("magnet", "magnet", "magnet",
               ring_sector(0.023248, 0.0256, -edge * radians, edge * radians),
               magnetisation=(1.0, 0.0)),
        Region("air_low", "barrier", "air",
               ring_sector(0.0239, 0.0256, -half * radians, -edge * radians)),
        Region("air_high", "barrier", "air",
               ring_sector(0.0239, 0.0256, edge * radians, half * radians)),
    )  # fmt: skip
    stator = tuple(r for k in range(3) for r in _published_pitch(k))
    return Section(rotor, stator, p, 0.0256, 0.02602)


def _published_pitch(index: int) -> tuple[Region, ...]:
    """One slot pitch, its axis on the x axis, turned to its place."""
    right = [(26.02, 5.52), (26.62, 5.56), (26.96, 4.0), (38.27, 2.77), (40.02, 5.65)]
    low = [_point(r, t - 7.5) for r, t in right]
    high = [_point(r, 7.5 - t) for r, t in right]
    # round corners of the slot bottom: mean of the two distances to the published centre
    centre = _point(38.16, 5.56 - 7.5)
    round_radius = 0.5 * sum(hypot(x - centre[0], y - centre[1]) for x, y in low[3:])
    corner = _bulge(low[3], low[4], round_radius)
    opening = arc_bulge(2.0 * 1.98 * pi / 180.0)
    tooth = arc_bulge(5.52 * pi / 180.0)
    outer = arc_bulge(15.0 * pi / 180.0)
    core = Outline(
        (_point(26.02, -7.5), _point(46.0, -7.5), _point(46.0, 7.5), _point(26.02, 7.5),
         *high, *reversed(low)),
        (0.0, outer, 0.0, -tooth, 0.0, 0.0, 0.0, -corner, 0.0, -corner, 0.0, 0.0, 0.0, -tooth),
    )  # fmt: skip
    air = Outline((low[0], low[1], low[2], high[2], high[1], high[0]), (0.0,) * 5 + (-opening,))
    copper = Outline(
        (low[2], low[3], low[4], high[4], high[3], high[2]), (0.0, corner, 0.0, corner, 0.0, 0.0)
    )
    angle = (-22.5 + 15.0 * (index + 0.5)) * pi / 180.0
    return (
        Region(f"core_{index}", "stator_core", "iron", core.transformed(angle)),
        Region(f"opening_{index}", "slot_air", "air", air.transformed(angle), slot=index),
        Region(f"slot_{index}", "slot_conductors", "copper", copper.transformed(angle), slot=index),
    )
