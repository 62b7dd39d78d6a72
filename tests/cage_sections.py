"""A published cage motor as a section for the field model.

3 kW, 4 poles, 36 stator and 32 rotor slots: J. Gyselinck, PhD thesis, Univ. Gent, 2000; IEEE
Trans. Magn. 37(5) 3233, 2001. Dimensions from an openly published model of that machine [mm].
"""

from math import asin, atan2, cos, pi, sin, sqrt

from models.geometry.section import Outline, Region, Section, arc_bulge

BORE, OUTER, ROTOR, SHAFT = 46.0, 75.0, 45.53, 15.875


def stadium(x0: float, r0: float, x1: float, r1: float, mouth: float) -> tuple[Outline, float]:
    """Outline [m] of two circles on the x axis (x0 < x1) with their outer tangents; the circle
    facing the opening (inner for a stator, outer for a rotor) is cut at `mouth` width there."""
    s = (r1 - r0) / (x1 - x0)
    c, lean = sqrt(1.0 - s * s), asin(s)
    inner = [(x0 - r0 * s, r0 * c), (x0 - r0 * s, -r0 * c)]
    outer = [(x1 - r1 * s, -r1 * c), (x1 - r1 * s, r1 * c)]
    y = 0.5 * abs(mouth)
    if mouth < 0.0:  # opening at the inner circle
        cut = x0 - sqrt(r0 * r0 - y * y)
        side = arc_bulge(0.5 * pi - lean - asin(y / r0))
        points = [inner[0], (cut, y), (cut, -y), inner[1], *outer]
        bulges = [side, 0.0, side, 0.0, arc_bulge(pi + 2.0 * lean), 0.0]
    else:
        cut = x1 + sqrt(r1 * r1 - y * y)
        side = arc_bulge(0.5 * pi + lean - asin(y / r1))
        points = [*inner, outer[0], (cut, -y), (cut, y), outer[1]]
        bulges = [arc_bulge(pi - 2.0 * lean), 0.0, side, 0.0, side, 0.0]
    return Outline(tuple((1e-3 * x, 1e-3 * y) for x, y in points), tuple(bulges)), cut


def pitch(
    name: str, angle: float, half: float, gap: float, far: float, slot: Outline, mouth: float,
    index: int, parts: tuple[str, str, str],
) -> list[Region]:  # fmt: skip
    """Core, opening and slot of one pitch; `gap` and `far` are the radii of its two sides [mm]."""
    y = 0.5 * abs(mouth)
    x_gap = sqrt(gap * gap - y * y)
    sweep = atan2(y, x_gap)
    is_stator = far > gap
    n = len(slot.points)
    # the slot's corners from one side of the mouth round the bottom to the other
    first = 2 if is_stator else 4
    points = tuple(slot.points[(first + k) % n] for k in range(n))[::-1]
    bulges = tuple(-slot.bulges[(first + k) % n] for k in range(n - 1))[::-1]
    c, s = 1e-3 * cos(half), 1e-3 * sin(half)
    low, high = (1e-3 * x_gap, -1e-3 * y), (1e-3 * x_gap, 1e-3 * y)
    arc, turn = arc_bulge(half - sweep), arc_bulge(2.0 * half)
    if is_stator:
        core = Outline(
            ((gap * c, -gap * s), (far * c, -far * s), (far * c, far * s), (gap * c, gap * s),
             high, *points, low),
            (0.0, turn, 0.0, -arc, 0.0, *bulges, 0.0, -arc),
        )  # fmt: skip
        air = Outline((low, points[-1], points[0], high), (0.0, 0.0, 0.0, -arc_bulge(2.0 * sweep)))
    else:
        core = Outline(
            ((far * c, -far * s), (gap * c, -gap * s), low, *points, high, (gap * c, gap * s),
             (far * c, far * s)),
            (0.0, arc, 0.0, *bulges, 0.0, arc, 0.0, -turn),
        )  # fmt: skip
        air = Outline((points[0], low, high, points[-1]), (0.0, arc_bulge(2.0 * sweep), 0.0, 0.0))
    return [
        Region(f"{name}_core_{index}", parts[0], "iron", core.transformed(angle)),
        Region(f"{name}_opening_{index}", parts[1], "air", air.transformed(angle), slot=index),
        Region(f"{name}_slot_{index}", parts[2], "conductor", slot.transformed(angle), slot=index),
    ]


def published_cage_motor() -> Section:
    """One pole: nine stator and eight rotor slots."""
    # both slots: the circle at the gap starts at the corners of the opening, 1.0 mm deep
    x0 = BORE + 1.0 + sqrt(2.3265**2 - 1.25**2)
    stator_slot, _ = stadium(x0, 2.3265, x0 - 2.3265 + 15.3 - 3.18, 3.18, -2.5)
    x1 = ROTOR - 1.0 - sqrt(2.13**2 - 1.0)
    rotor_slot, _ = stadium(x1 + 2.13 - 14.25 + 1.044, 1.044, x1, 2.13, 2.0)
    stator, rotor = [], []
    for k in range(9):
        stator += pitch("stator", -pi / 4 + (k + 0.5) * pi / 18, pi / 36, BORE, OUTER, stator_slot,
                        2.5, k, ("stator_core", "slot_air", "slot_conductors"))  # fmt: skip
    for k in range(8):
        rotor += pitch("rotor", -pi / 4 + (k + 0.5) * pi / 16, pi / 32, ROTOR, SHAFT, rotor_slot,
                       2.0, k, ("rotor_core", "rotor_slot_air", "bar"))  # fmt: skip
    return Section(tuple(rotor), tuple(stator), 2, 1e-3 * ROTOR, 1e-3 * BORE)
