"""Cage rotors: from ratios to dimensions, and the regions of one rotor slot pitch."""

from collections.abc import Mapping
from math import asin, cos, pi, sin, sqrt

from models.cage_rotor import CageRotor
from models.errors import InfeasibleDesignError
from models.geometry.section import Outline, Point, Region, arc_bulge
from models.geometry.star_of_slots import full_pitch_span
from models.machine import Machine, ParameterValue, rotor_as
from models.materials.load import conductor

THINNEST_BAR = 1.0e-3
"""Least width of a bar [m] (casting and insertion; common practice, no source)."""
NARROWEST_TOOTH = 1.0e-3
"""Least width of a rotor tooth [m] (stamping; common practice, no source)."""
THINNEST_YOKE = 3.0e-3
"""Least height of the rotor yoke between bars and shaft [m] (common practice, no source)."""
DEEP_RATIO = 4.0
"""Least height over width of a deep bar (common practice, no source)."""
WIDEST_OPENING = 0.9
"""Largest opening over bar width; wider slots are drawn as open as that."""


def build_cage_rotor(
    parameters: Mapping[str, ParameterValue], *, outer_radius: float, pole_pairs: int
) -> CageRotor:
    """Resolve a cage rotor from its ratios.

    Parameters
    ----------
    parameters : mapping
        Parameter table (SI).
    outer_radius : float
        Rotor surface radius [m].
    pole_pairs : int
        Pole pairs.

    Returns
    -------
    CageRotor

    Raises
    ------
    InfeasibleDesignError
        `too_few_bars`, `bars_equal_slots`, `bar_too_thin`, `bar_too_shallow`,
        `rotor_tooth_too_narrow` or `rotor_yoke_too_thin`.

    Notes
    -----
    A drop has sides parallel to the tooth axes, so that the teeth between drops are parallel; its
    shaft-side circle follows. A round bar takes its diameter from the width and needs no depth.
    """
    bars = int(parameters["bars"])
    _check_number(bars, slots=int(parameters["slots"]), pole_pairs=pole_pairs)
    shape = str(parameters["bar_shape"])
    shaft = float(parameters["shaft_ratio"]) * outer_radius
    height = float(parameters["rotor_bridge_height"])
    ratio = float(parameters["bar_width_ratio"])
    half = pi / bars
    top = outer_radius - height
    bottom = outer_radius - float(parameters["bar_depth_ratio"]) * (outer_radius - shaft)
    opening = float(parameters["rotor_slot_opening"])
    width = 2.0 * ratio * top * sin(half)
    if shape == "deep":
        width = min(width, (top - bottom) / DEEP_RATIO)
    if width < THINNEST_BAR:
        raise InfeasibleDesignError(
            "bar_too_thin",
            f"bars would be {width * 1e3:.2f} mm wide, at least {THINNEST_BAR * 1e3:g} mm is "
            "needed; raise bar_width_ratio or bar_depth_ratio, or lower bars",
        )
    opening = min(opening, WIDEST_OPENING * width)
    if shape in ("rectangular", "deep"):
        circles = (top, 0.5 * width, bottom, 0.5 * width)
    else:
        circles = _circles(shape, top, bottom, ratio=ratio, half=half, opening=opening)
    rotor = CageRotor(
        outer_radius=outer_radius,
        shaft_radius=shaft,
        bars=bars,
        bar_shape=shape,
        opening_width=opening,
        opening_height=height,
        top_centre=circles[0],
        top_radius=circles[1],
        bottom_centre=circles[2],
        bottom_radius=circles[3],
        ring_width=float(parameters["ring_width"]),
        ring_height=max(top - bottom if shape != "round" else 2.0 * circles[1], 2e-3),
        skew=float(parameters["skew_slots"]) * 2.0 * pi / int(parameters["slots"]),
        material=conductor(str(parameters["cage_material"])),
    )
    _check_room(rotor)
    return rotor


def _check_number(bars: int, *, slots: int, pole_pairs: int) -> None:
    if full_pitch_span(slots, 2 * pole_pairs) == 1:
        raise InfeasibleDesignError(
            "tooth_coils_with_cage",
            f"{slots} slots for {2 * pole_pairs} poles are wound with tooth coils: their long "
            "waves of magnetomotive force drive currents in every bar and brake (common practice, "
            f"no source); raise slots to {6 * pole_pairs} or more",
        )
    if bars < 6 * pole_pairs:
        raise InfeasibleDesignError(
            "too_few_bars",
            f"{bars} bars for {2 * pole_pairs} poles: fewer than three per pole carry no proper "
            "wave of current; raise bars",
        )
    if bars == slots:
        raise InfeasibleDesignError(
            "bars_equal_slots",
            f"{bars} bars and as many stator slots lock tooth to tooth at standstill; change bars",
        )


def _circles(
    shape: str, top: float, bottom: float, *, ratio: float, half: float, opening: float
) -> tuple[float, float, float, float]:
    """Return centre and radius of both circles; the first meets the opening's corners at `top`.

    r = k c sin(a) and c + sqrt(r^2 - b^2/4) = top give a quadratic for the centre c.
    """
    s = sin(half)
    quadratic = 1.0 - (ratio * s) ** 2
    constant = top * top + 0.25 * opening**2
    first = (top - sqrt(top * top - quadratic * constant)) / quadratic
    radius = ratio * first * s
    if shape == "round":
        return first, radius, first, radius
    # parallel flanks half a tooth away from the tooth axes: r = c sin(a) - t/2
    half_tooth = first * s - radius
    second = (bottom - half_tooth) / (1.0 - s)
    if second >= first:
        raise InfeasibleDesignError(
            "bar_too_shallow",
            f"a drop {(top - bottom) * 1e3:.2f} mm deep has no room for both its circles, at "
            f"least {2e3 * radius:.2f} mm is needed; raise bar_depth_ratio",
        )
    lower = second * s - half_tooth
    if lower < 0.5 * THINNEST_BAR:
        raise InfeasibleDesignError(
            "bar_too_thin",
            f"a drop between parallel teeth would end {2e3 * lower:.2f} mm wide, at least "
            f"{THINNEST_BAR * 1e3:g} mm is needed; raise bar_width_ratio or lower bar_depth_ratio",
        )
    return first, radius, second, lower


def _check_room(rotor: CageRotor) -> None:
    if rotor.bar_height < THINNEST_BAR:
        raise InfeasibleDesignError(
            "bar_too_shallow",
            f"bars would be {rotor.bar_height * 1e3:.2f} mm high, at least "
            f"{THINNEST_BAR * 1e3:g} mm is needed; raise bar_depth_ratio or lower "
            "rotor_bridge_height",
        )
    tooth = narrowest_tooth(rotor)
    if tooth < NARROWEST_TOOTH:
        raise InfeasibleDesignError(
            "rotor_tooth_too_narrow",
            f"rotor teeth would be {tooth * 1e3:.2f} mm wide at their narrowest, at least "
            f"{NARROWEST_TOOTH * 1e3:g} mm is needed; lower bar_width_ratio, bar_depth_ratio or "
            "bars",
        )
    if rotor.yoke_height < THINNEST_YOKE:
        raise InfeasibleDesignError(
            "rotor_yoke_too_thin",
            f"{rotor.yoke_height * 1e3:.2f} mm of iron between bars and shaft, at least "
            f"{THINNEST_YOKE * 1e3:g} mm is needed; lower bar_depth_ratio, bar_width_ratio or "
            "shaft_ratio",
        )


def narrowest_tooth(rotor: CageRotor) -> float:
    """Return the least width of iron between neighbouring bars [m]."""
    half = pi / rotor.bars
    if rotor.is_rectangle:
        return 2.0 * (rotor.bar_bottom * sin(half) - rotor.bottom_radius * cos(half))
    return 2.0 * min(
        c * sin(half) - r
        for c, r in (
            (rotor.top_centre, rotor.top_radius),
            (rotor.bottom_centre, rotor.bottom_radius),
        )
    )


def bar_outline(rotor: CageRotor) -> Outline:
    """Return the bar's outline in its own frame (slot axis = x), counter-clockwise."""
    if rotor.is_rectangle:
        w, x0, x1 = rotor.top_radius, rotor.bar_bottom, rotor.bar_top
        points: tuple[Point, ...] = ((x0, w), (x0, -w), (x1, -w), (x1, w))
        bulges: tuple[float, ...] = (0.0,) * 4
        if 0.0 < rotor.opening_width < 2.0 * w:
            y = 0.5 * rotor.opening_width
            points = (*points[:3], (x1, -y), (x1, y), points[3])
            bulges = (0.0,) * 6
        return Outline(points, bulges)
    c1, r1, c2, r2 = rotor.top_centre, rotor.top_radius, rotor.bottom_centre, rotor.bottom_radius
    s = rotor.taper
    lean, c = asin(s), sqrt(1.0 - s * s)
    low = ((c2 - r2 * s, r2 * c), (c2 - r2 * s, -r2 * c))
    high = ((c1 - r1 * s, -r1 * c), (c1 - r1 * s, r1 * c))
    bottom_turn = arc_bulge(pi - 2.0 * lean)
    if c1 == c2:
        # one circle: bottom and top halves
        low, high = ((c1, r1), (c1, -r1)), ((c1, -r1), (c1, r1))
    if rotor.opening_width == 0.0:
        top = arc_bulge(pi + 2.0 * lean)
        if c1 == c2:
            return Outline(low, (arc_bulge(pi), arc_bulge(pi)))
        return Outline((*low, *high), (bottom_turn, 0.0, top, 0.0))
    y = 0.5 * rotor.opening_width
    x = c1 + sqrt(r1 * r1 - y * y)
    side = arc_bulge(0.5 * pi + lean - asin(y / r1))
    if c1 == c2:
        return Outline((*low, (x, -y), (x, y)), (arc_bulge(pi), side, 0.0, side))
    return Outline(
        (*low, high[0], (x, -y), (x, y), high[1]), (bottom_turn, 0.0, side, 0.0, side, 0.0)
    )


def bar_area(rotor: CageRotor) -> float:
    """Return the section of one bar [m^2]."""
    return bar_outline(rotor).area()


def bar_pitch_regions(rotor: CageRotor, *, angle: float, index: int, grade: str) -> list[Region]:
    """Return the regions of one rotor slot pitch whose slot axis lies at `angle` [rad].

    Core, bar and, where the slot is not closed, its opening.
    """
    half = 0.5 * rotor.slot_pitch
    r_in, r_out = rotor.shaft_radius, rotor.outer_radius
    c, s = cos(half), sin(half)
    bar = bar_outline(rotor)
    corners = ((r_in * c, -r_in * s), (r_out * c, -r_out * s), (r_out * c, r_out * s),
               (r_in * c, r_in * s))  # fmt: skip
    inner = -arc_bulge(2.0 * half)
    bar_region = Region(f"bar_{index}", "bar", "cage", bar.transformed(angle), slot=index)
    if rotor.opening_width == 0.0:
        core = Outline(corners, (0.0, arc_bulge(2.0 * half), 0.0, inner))
        return [
            Region(
                f"rotor_core_{index}", "rotor_core", grade, core.transformed(angle),
                holes=(bar.transformed(angle),),
            ),
            bar_region,
        ]  # fmt: skip
    y = 0.5 * rotor.opening_width
    x_surface = sqrt(r_out * r_out - y * y)
    sweep = asin(y / r_out)
    points, bulges = _round_the_bar(bar)
    core = Outline(
        (*corners[:2], (x_surface, -y), *points, (x_surface, y), *corners[2:]),
        (0.0, arc_bulge(half - sweep), 0.0, *bulges, 0.0, arc_bulge(half - sweep), 0.0, inner),
    )
    mouth = Outline(
        (points[0], (x_surface, -y), (x_surface, y), points[-1]),
        (0.0, arc_bulge(2.0 * sweep), 0.0, 0.0),
    )
    return [
        Region(f"rotor_core_{index}", "rotor_core", grade, core.transformed(angle)),
        bar_region,
        Region(
            f"rotor_opening_{index}", "rotor_slot_air", "air", mouth.transformed(angle), slot=index
        ),
    ]


def cage_regions(machine: Machine) -> list[Region]:
    """Return the bar pitches over one pole, and the shaft.

    Where bars per pole are not whole, the regions cover the pole rounded up, as the stator's do.
    """
    rotor = rotor_as(machine, CageRotor)
    half = pi / (2 * machine.pole_pairs)
    count = -(-rotor.bars // (2 * machine.pole_pairs))
    pitch, r = rotor.slot_pitch, rotor.shaft_radius
    regions = [
        region
        for k in range(count)
        for region in bar_pitch_regions(
            rotor, angle=-half + (k + 0.5) * pitch, index=k, grade=machine.lamination.name
        )
    ]
    ends = tuple((r * cos(a), r * sin(a)) for a in (-half, -half + count * pitch))
    pie = Outline(((0.0, 0.0), *ends), (0.0, arc_bulge(count * pitch), 0.0))
    return [*regions, Region("shaft", "shaft", "shaft", pie)]


def _round_the_bar(bar: Outline) -> tuple[tuple[Point, ...], tuple[float, ...]]:
    """Return the way along a bar from the opening's lower corner to its upper one, by the bottom.

    The bar's own outline runs the other way; edges turned round change the sign of their bulge.
    """
    n = len(bar.points)
    upper = 4 if n == 6 else 3
    points = tuple(bar.points[(upper + k) % n] for k in range(n))
    bulges = tuple(bar.bulges[(upper + k) % n] for k in range(n - 1))
    return points[::-1], tuple(-b for b in bulges[::-1])
