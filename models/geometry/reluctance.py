"""Reluctance rotor: one to four flux barriers per pole, magnets in any of them.

A pole is drawn with the middle of its barriers on the x axis: flux crosses that axis badly (it is
the negative q axis of a reluctance machine) and passes well between the barriers (the d axis, on
the pole's edge). Each barrier is a U: a flat part across the pole axis, cut by a rib, and legs
that run parallel to the pole's edge and end under a bridge.
"""

from collections.abc import Mapping
from math import cos, pi, radians, sin, tan

from models.errors import InfeasibleDesignError
from models.geometry.barriers import check_iron_between, face_distance
from models.machine import Barrier, LayeredRotor, ParameterValue

MOST_BARRIERS = 4
SHAFT_WEB = 0.06
"""Least iron between shaft and deepest barrier, over rotor radius."""
STEEPEST_LEG = radians(60.0)
"""Largest angle between a leg and the pole axis [rad]."""
LEAST_FLAT = 0.5
"""Least width of half a flat part beyond the rib, over barrier thickness."""
NARROWEST_LEG = 0.5e-3
"""Least width of a leg [m] (common practice, no source)."""
LEAST_FILL = 0.1
"""Smaller magnets are left out: their pieces would be too narrow to make."""
RIB_CLEARANCE = 0.10
"""Air between rib and magnet, over barrier thickness."""
_ADVICE = "lower insulation_ratio, barrier_end_ratio or barriers, or raise barrier_span_ratio"


def build_reluctance_rotor(
    parameters: Mapping[str, ParameterValue], *, outer_radius: float, pole_pairs: int
) -> LayeredRotor:
    """Resolve a reluctance rotor from its ratios.

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
    LayeredRotor

    Raises
    ------
    InfeasibleDesignError
        `rotor_too_shallow`, `barriers_too_close`, `barrier_too_narrow`, `magnet_too_short` or
        `interpolar_web_too_narrow`.

    Notes
    -----
    Iron between barriers is shared half by the angle it spans at the surface and half by the
    flux a sinusoidal gap field of the d axis sends through that angle,
    cos(p theta_1) - cos(p theta_2): the classical rule for barriers along lines of flux (from
    memory; half of it, because it starves the outermost layer).
    """
    count = int(parameters["barriers"])
    bridge = float(parameters["bridge_thickness"])
    r_bridge = outer_radius - bridge
    web = (float(parameters["shaft_ratio"]) + SHAFT_WEB) * outer_radius
    depth = float(parameters["barrier_depth_ratio"]) * (r_bridge - web)
    if depth < 2e-3 * count:
        raise InfeasibleDesignError(
            "rotor_too_shallow",
            f"{1e3 * depth:.2f} mm for {count} barriers between bridge and shaft, at least "
            f"{2 * count} mm is needed; lower shaft_ratio or barriers, or raise "
            "barrier_depth_ratio",
        )
    near, far = _end_angles(parameters, count, pole_pairs)
    ratio = float(parameters["insulation_ratio"])
    thickness = _graded(count, float(parameters["barrier_grading"]), ratio * depth)
    iron = _iron_shares(near, far, pole_pairs)
    ribs = _ribs(parameters, count)
    barriers, x = [], r_bridge
    for k in range(count):
        x -= iron[k] * (1.0 - ratio) * depth
        fill = float(parameters[f"magnet_fill_{k + 1}"])
        barriers.append(
            _barrier(
                x, thickness[k], r_bridge, (near[k], far[k]),
                rib=ribs[k], bridge=bridge, half_pole=pi / (2 * pole_pairs), fill=fill,
                number=k + 1,
            )
        )  # fmt: skip
        x -= thickness[k]
    rotor = LayeredRotor(
        outer_radius=outer_radius,
        shaft_radius=float(parameters["shaft_ratio"]) * outer_radius,
        barriers=tuple(barriers),
        magnet_axial_segments=int(parameters["magnet_axial_segments"]),
        magnet_width_segments=int(parameters["magnet_width_segments"]),
    )
    check_iron_between(rotor, pole_pairs, advice=_ADVICE)
    return rotor


def _end_angles(
    parameters: Mapping[str, ParameterValue], count: int, pole_pairs: int
) -> tuple[list[float], list[float]]:
    """Return the angles of the near and the far corners at the bridges, outermost first."""
    span = float(parameters["barrier_span_ratio"]) * pi / (2 * pole_pairs)
    lead = float(parameters["barrier_lead_ratio"])
    pitch = span / (count + lead)
    far = [(k + 1 + lead) * pitch for k in range(count)]
    width = float(parameters["barrier_end_ratio"]) * pitch
    return [a - width for a in far], far


def _graded(count: int, grading: float, total: float) -> list[float]:
    """Return thicknesses that grow linearly from outermost to deepest and sum to a total."""
    weights = [1.0 + (grading - 1.0) * k / max(count - 1, 1) for k in range(count)]
    return [total * w / sum(weights) for w in weights]


def _iron_shares(near: list[float], far: list[float], pole_pairs: int) -> list[float]:
    """Return each iron layer's share, from the cap inwards."""
    starts = [0.0, *far[:-1]]
    angle = [b - a for a, b in zip(starts, near)]
    flux = [cos(pole_pairs * a) - cos(pole_pairs * b) for a, b in zip(starts, near)]
    return [0.5 * a / sum(angle) + 0.5 * f / sum(flux) for a, f in zip(angle, flux)]


def _ribs(parameters: Mapping[str, ParameterValue], count: int) -> list[float]:
    """Return rib widths: the deepest carries most and is widest."""
    widest, ratio = float(parameters["rib_width"]), float(parameters["outer_rib_ratio"])
    if count == 1:
        return [widest]
    return [widest * (ratio + (1.0 - ratio) * k / (count - 1)) for k in range(count)]


def _barrier(
    x: float,
    thickness: float,
    r_bridge: float,
    ends: tuple[float, float],
    *,
    rib: float,
    bridge: float,
    half_pole: float,
    fill: float,
    number: int,
) -> Barrier:
    """Return a U barrier whose flat part has its gap face at `x`."""
    near, far = ((r_bridge * cos(a), r_bridge * sin(a)) for a in ends)
    deep = x - thickness
    steepest = tan(min(half_pole, STEEPEST_LEG))

    def bend(end: tuple[float, float], at: float, share: float) -> tuple[float, float]:
        least = 0.5 * rib + share * thickness
        if end[1] <= least:
            raise InfeasibleDesignError(
                "barrier_too_narrow",
                f"barrier {number} ends {1e3 * end[1]:.2f} mm beside the pole axis, its rib and "
                f"part of its thickness need {1e3 * least:.2f} mm; lower rib_width, "
                "insulation_ratio or barriers, or raise barrier_lead_ratio or barrier_span_ratio",
            )
        return (at, max(end[1] - (end[0] - at) * steepest, least))

    bend_gap, bend_shaft = bend(near, x, LEAST_FLAT), bend(far, deep, 0.5 * LEAST_FLAT)
    across = face_distance((bend_gap, near), (bend_shaft, far))
    if across < NARROWEST_LEG:
        raise InfeasibleDesignError(
            "barrier_too_narrow",
            f"the leg of barrier {number} would be {1e3 * across:.2f} mm wide, at least "
            f"{1e3 * NARROWEST_LEG:.1f} mm is needed; raise barrier_end_ratio or "
            "barrier_span_ratio, or lower barriers or insulation_ratio",
        )
    corners: tuple[tuple[float, float], ...] = ()
    if fill >= LEAST_FILL:
        start = 0.5 * rib + RIB_CLEARANCE * thickness
        width = fill * (min(bend_gap[1], bend_shaft[1]) - start)
        if width < 0.5 * thickness or width < 1e-3:
            raise InfeasibleDesignError(
                "magnet_too_short",
                f"the magnet of barrier {number} would be {1e3 * width:.2f} mm wide and "
                f"{1e3 * thickness:.2f} mm thick; raise magnet_fill_{number} or set it to 0, or "
                "lower insulation_ratio",
            )
        corners = ((x, start), (x, start + width), (deep, start + width), (deep, start))
    return Barrier(
        rib_width=rib,
        bridge_thickness=bridge,
        gap_face=((x, 0.5 * rib), bend_gap, near),
        shaft_face=((deep, 0.5 * rib), bend_shaft, far),
        near_angle=ends[0],
        far_angle=ends[1],
        magnet_corners=corners,
    )
