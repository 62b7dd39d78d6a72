"""Stator sheets: from ratios to dimensions, and the regions of one slot pitch."""

from collections.abc import Mapping
from math import asin, cos, pi, sin, sqrt, tan

from models.errors import InfeasibleDesignError
from models.geometry.section import Outline, Point, Region, arc_bulge
from models.machine import ParameterValue, Stator


def build_stator(parameters: Mapping[str, ParameterValue]) -> Stator:
    """Resolve the stator's dimensions from its ratios.

    Parameters
    ----------
    parameters : mapping
        Parameter table (SI), see `models.nomenclature.PARAMETERS`.

    Returns
    -------
    Stator

    Raises
    ------
    InfeasibleDesignError
        `slot_too_shallow`, `slot_too_narrow` or `slot_opening_too_narrow`.

    Notes
    -----
    Rectangular conductors sit in parallel-sided slots, round strands between parallel-sided
    teeth. Slot sides are straight; slot bottom and wedge shoulders are perpendicular to the slot
    axis.
    """
    slots = int(parameters["slots"])
    outer = 0.5 * float(parameters["stator_outer_diameter"])
    bore = outer * float(parameters["bore_ratio"])
    depth = float(parameters["slot_depth_ratio"]) * (outer - bore)
    tip, wedge = float(parameters["tip_height"]), float(parameters["wedge_height"])
    if depth - tip - wedge < 3e-3:
        raise InfeasibleDesignError(
            "slot_too_shallow",
            f"slot depth {depth * 1e3:.2f} mm leaves {(depth - tip - wedge) * 1e3:.2f} mm for "
            "conductors, at least 3 mm is needed; raise slot_depth_ratio or lower the tip heights",
        )
    half = pi / slots
    body = bore + tip + wedge
    tooth = float(parameters["tooth_width_ratio"]) * 2.0 * half * body
    # The slot side at the gap end of the body: chord between neighbouring teeth.
    inner_width = 2.0 * (body * tan(half) - 0.5 * tooth / cos(half))
    is_slot_parallel = parameters["conductor"] == "rectangular"
    outer_width = (
        inner_width
        if is_slot_parallel
        else 2.0 * ((bore + depth) * tan(half) - 0.5 * tooth / cos(half))
    )
    if inner_width < 1.5e-3:
        raise InfeasibleDesignError(
            "slot_too_narrow",
            f"slot is {inner_width * 1e3:.2f} mm wide at the gap side, at least 1.5 mm is needed; "
            "lower tooth_width_ratio or the number of slots",
        )
    opening = float(parameters["slot_opening_ratio"]) * inner_width
    if opening < 0.4e-3:
        raise InfeasibleDesignError(
            "slot_opening_too_narrow",
            f"slot opening is {opening * 1e3:.2f} mm, at least 0.4 mm is needed; "
            "raise slot_opening_ratio",
        )
    return Stator(
        slots=slots,
        outer_radius=outer,
        bore_radius=bore,
        slot_depth=depth,
        slot_opening=opening,
        tip_height=tip,
        wedge_height=wedge,
        slot_width_inner=inner_width,
        slot_width_outer=outer_width,
        is_slot_parallel=is_slot_parallel,
    )


def tooth_width(stator: Stator, radius: float) -> float:
    """Return the tooth width [m] at a radius [m] inside the slot body."""
    share = (radius - stator.body_inner_radius) / stator.body_height
    slot = stator.slot_width_inner + share * (stator.slot_width_outer - stator.slot_width_inner)
    half = 0.5 * stator.slot_pitch
    return 2.0 * (radius * sin(half) - 0.5 * slot * cos(half))


def slot_corners(stator: Stator) -> tuple[Point, ...]:
    """Return the upper half of the slot contour in the slot's own frame (slot axis = x).

    Four points [m]: opening at the bore, end of the straight tip, gap-side corner of the body,
    bottom corner of the body, all with y > 0; the first lies on the bore circle.
    """
    y_open = 0.5 * stator.slot_opening
    y_in, y_out = 0.5 * stator.slot_width_inner, 0.5 * stator.slot_width_outer
    x_bore = sqrt(stator.bore_radius**2 - y_open**2)
    return (
        (x_bore, y_open),
        (stator.bore_radius + stator.tip_height, y_open),
        (stator.body_inner_radius, y_in),
        (stator.slot_bottom_radius, y_out),
    )


def slot_pitch_regions(stator: Stator, *, angle: float, index: int, grade: str) -> list[Region]:
    """Return the regions of one slot pitch whose slot axis lies at `angle` [rad].

    Core (tooth halves and yoke), slot opening (air) and slot body (conductors).
    """
    half = 0.5 * stator.slot_pitch
    upper = slot_corners(stator)
    lower = tuple((x, -y) for x, y in upper)
    bore, outer = stator.bore_radius, stator.outer_radius
    c, s = cos(half), sin(half)
    opening_sweep = 2.0 * asin(0.5 * stator.slot_opening / bore)
    side_sweep = half - 0.5 * opening_sweep
    core = Outline(
        points=(
            (bore * c, -bore * s),
            (outer * c, -outer * s),
            (outer * c, outer * s),
            (bore * c, bore * s),
            *upper,
            *reversed(lower),
        ),
        bulges=(
            0.0,
            arc_bulge(2.0 * half),
            0.0,
            -arc_bulge(side_sweep),
            *(0.0,) * 7,
            -arc_bulge(side_sweep),
        ),
    )
    opening = Outline(
        points=(lower[0], lower[1], lower[2], upper[2], upper[1], upper[0]),
        bulges=(0.0, 0.0, 0.0, 0.0, 0.0, -arc_bulge(opening_sweep)),
    )
    body = Outline(points=(lower[2], lower[3], upper[3], upper[2]), bulges=(0.0,) * 4)
    return [
        Region(f"stator_core_{index}", "stator_core", grade, core.transformed(angle)),
        Region(f"slot_opening_{index}", "slot_air", "air", opening.transformed(angle), slot=index),
        Region(
            f"slot_{index}", "slot_conductors", "conductor", body.transformed(angle), slot=index
        ),
    ]
