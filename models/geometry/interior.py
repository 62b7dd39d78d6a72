"""Rotor with one V (or flat) of buried magnets per pole: dimensions and regions.

A pole is drawn with its d axis along x. One leg of the V, upper half:

* `pocket_inner` is the end of the pocket at the rib, on the line y = rib / 2;
* the magnet starts a small clearance further out and lies along the leg;
* the outer flux barrier joins the magnet's outer end to the bridge, an arc of iron of constant
  thickness under the rotor surface, between the near and the far corner of the barrier.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import asin, atan2, cos, hypot, pi, radians, sin

from models.errors import InfeasibleDesignError
from models.geometry.section import Outline, Point, Region, arc_bulge
from models.machine import InteriorRotor, Machine, ParameterValue, rotor_as

STEEPEST_LEG = radians(50.0)
"""Smallest angle between leg and d axis [rad]: a 100 degree V."""
INNER_CLEARANCE = 0.15
"""Air between rib wall and magnet along the leg, over magnet thickness."""
OUTER_CLEARANCE = 0.30
"""Least radial depth of the outer barrier below the bridge, over magnet thickness."""
SHAFT_WEB = 0.06
"""Least iron between shaft and pocket, over rotor radius."""


@dataclass(frozen=True)
class Leg:
    """One leg of a V in the upper half pole.

    Attributes
    ----------
    angle : float
        Between leg and pole axis [rad].
    inner : tuple of 2 (x, y)
        Ends at the rib: gap side, shaft side [m].
    corners : tuple of 4 (x, y)
        Magnet: inner gap side, outer gap side, outer shaft side, inner shaft side [m].
    width : float
        Magnet width [m].
    """

    angle: float
    inner: tuple[Point, Point]
    corners: tuple[Point, Point, Point, Point]
    width: float


def place_leg(
    corner: Point, angle: float, *, thickness: float, rib: float, width_ratio: float
) -> Leg:
    """Return the leg that runs from the rib to a gap-side corner, with its magnet.

    Parameters
    ----------
    corner : (x, y)
        Outermost place of the magnet's gap-side corner [m].
    angle : float
        Between leg and pole axis [rad].
    thickness, rib : float
        Magnet thickness and rib width [m].
    width_ratio : float
        Magnet width over the straight length of its pocket.

    Raises
    ------
    InfeasibleDesignError
        `magnet_too_short`.
    """
    gx, gy = corner
    height = gy - 0.5 * rib
    ux, uy = cos(angle), sin(angle)  # along the leg, outwards
    nx, ny = sin(angle), -cos(angle)  # across it, towards the gap
    inner_gap = (gx - ux * height / uy, 0.5 * rib)
    inner_shaft = (inner_gap[0] - thickness / uy, 0.5 * rib)
    clearance = INNER_CLEARANCE * thickness
    width = width_ratio * (height / uy - clearance)
    if width < thickness:
        raise InfeasibleDesignError(
            "magnet_too_short",
            f"magnet would be {width * 1e3:.2f} mm wide and {thickness * 1e3:.2f} mm thick; "
            "raise magnet_width_ratio or lower magnet_thickness",
        )

    def along(distance: float, across: float) -> Point:
        return (
            inner_gap[0] + ux * distance - nx * across,
            inner_gap[1] + uy * distance - ny * across,
        )

    corners = (
        along(clearance, 0.0),
        along(clearance + width, 0.0),
        along(clearance + width, thickness),
        along(clearance, thickness),
    )
    return Leg(angle, (inner_gap, inner_shaft), corners, width)


def build_interior_rotor(
    parameters: Mapping[str, ParameterValue], *, outer_radius: float, pole_pairs: int
) -> InteriorRotor:
    """Resolve a V-magnet rotor from its ratios.

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
    InteriorRotor

    Raises
    ------
    InfeasibleDesignError
        `pole_too_small`, `magnet_too_deep`, `magnet_too_short` or `interpolar_web_too_narrow`.
    """
    half_pole = pi / (2 * pole_pairs)
    shaft = float(parameters["shaft_ratio"]) * outer_radius
    thickness = float(parameters["magnet_thickness"])
    bridge, rib = float(parameters["bridge_thickness"]), float(parameters["rib_width"])
    r_bridge = outer_radius - bridge
    far = float(parameters["barrier_span_ratio"]) * half_pole
    near = far - float(parameters["barrier_width_ratio"]) * thickness / r_bridge

    # Outermost place of the magnet's gap-side corner; the leg runs from here to the rib.
    r_corner = r_bridge - OUTER_CLEARANCE * thickness
    gx, gy = r_corner * cos(near), r_corner * sin(near)
    height = gy - 0.5 * rib
    if height < thickness:
        raise InfeasibleDesignError(
            "pole_too_small",
            f"the pole leaves {height * 1e3:.2f} mm for each leg beside the rib, a magnet "
            f"{thickness * 1e3:.2f} mm thick needs at least as much; lower magnet_thickness, "
            "rib_width or barrier_width_ratio, or raise barrier_span_ratio",
        )
    depth = gx - (shaft + SHAFT_WEB * outer_radius)
    reach = hypot(depth, height)
    if depth < thickness:
        raise InfeasibleDesignError(
            "magnet_too_deep",
            f"{depth * 1e3:.2f} mm between bridge and shaft is less than the magnet thickness of "
            f"{thickness * 1e3:.2f} mm; lower shaft_ratio or magnet_thickness",
        )
    # Inner shaft-side corner on the shaft web:  depth sin(a) - height cos(a) = thickness.
    deepest = max(STEEPEST_LEG, atan2(height, depth) + asin(thickness / reach))
    leg = 0.5 * pi - float(parameters["v_depth_ratio"]) * max(0.0, 0.5 * pi - deepest)

    placed = place_leg(
        (gx, gy), leg, thickness=thickness, rib=rib,
        width_ratio=float(parameters["magnet_width_ratio"]),
    )  # fmt: skip
    corners, (inner_gap, inner_shaft) = placed.corners, placed.inner
    barrier = (
        (r_bridge * cos(near), r_bridge * sin(near)),
        (r_bridge * cos(far), r_bridge * sin(far)),
    )
    web = min(x * sin(half_pole) - y * cos(half_pole) for x, y in (corners[2], barrier[1]))
    if web < 0.5 * bridge:
        raise InfeasibleDesignError(
            "interpolar_web_too_narrow",
            f"iron between neighbouring poles would be {2e3 * web:.2f} mm wide, at least the "
            f"bridge thickness of {bridge * 1e3:.2f} mm is needed; lower barrier_span_ratio, "
            "magnet_thickness or v_depth_ratio",
        )
    return InteriorRotor(
        outer_radius=outer_radius,
        shaft_radius=shaft,
        bridge_thickness=bridge,
        rib_width=rib,
        magnet_thickness=thickness,
        magnet_width=placed.width,
        leg_angle=leg,
        magnet_corners=corners,
        pocket_inner=(inner_gap, inner_shaft),
        barrier_corners=barrier,
        barrier_near_angle=near,
        barrier_far_angle=far,
        magnet_axial_segments=_axial_pieces(parameters),
        magnet_width_segments=int(parameters["magnet_width_segments"]),
    )


def _axial_pieces(parameters: Mapping[str, ParameterValue]) -> int:
    """Return the magnet pieces along the stack: every slice of a skewed rotor has as many."""
    steps = int(parameters["skew_steps"])
    return steps * -(-int(parameters["magnet_axial_segments"]) // steps)


def pocket_outline(rotor: InteriorRotor) -> Outline:
    """Return the outline of the upper pocket (magnet and both air parts), counter-clockwise."""
    gap_in, gap_out, shaft_out, shaft_in = rotor.magnet_corners
    near, far = rotor.barrier_corners
    sweep = rotor.barrier_far_angle - rotor.barrier_near_angle
    return Outline(
        points=(
            rotor.pocket_inner[1],
            rotor.pocket_inner[0],
            gap_in,
            gap_out,
            near,
            far,
            shaft_out,
            shaft_in,
        ),
        bulges=(0.0, 0.0, 0.0, 0.0, arc_bulge(sweep), 0.0, 0.0, 0.0),
    )


def rotor_regions(
    rotor: InteriorRotor, *, pole_pairs: int, sheet: str, magnet: str
) -> list[Region]:
    """Return the regions of one pole: core, magnets, barriers and shaft."""
    half = pi / (2 * pole_pairs)
    c, s = cos(half), sin(half)
    r_out, r_in = rotor.outer_radius, rotor.shaft_radius
    gap_in, gap_out, shaft_out, shaft_in = rotor.magnet_corners
    near, far = rotor.barrier_corners
    sweep = rotor.barrier_far_angle - rotor.barrier_near_angle
    pocket = pocket_outline(rotor)
    core = Outline(
        points=(
            (r_in * c, -r_in * s),
            (r_out * c, -r_out * s),
            (r_out * c, r_out * s),
            (r_in * c, r_in * s),
        ),
        bulges=(0.0, arc_bulge(2.0 * half), 0.0, -arc_bulge(2.0 * half)),
    )
    block = Outline((gap_in, gap_out, shaft_out, shaft_in), (0.0,) * 4)
    inner = Outline((rotor.pocket_inner[1], rotor.pocket_inner[0], gap_in, shaft_in), (0.0,) * 4)
    outer = Outline((gap_out, near, far, shaft_out), (0.0, arc_bulge(sweep), 0.0, 0.0))
    direction = (sin(rotor.leg_angle), -cos(rotor.leg_angle))
    regions = [
        Region(
            "rotor_core", "rotor_core", sheet, core, holes=(pocket, pocket.transformed(mirror=True))
        ),
        Region(
            "shaft",
            "shaft",
            "shaft",
            Outline(
                ((0.0, 0.0), core.points[0], core.points[3]), (0.0, arc_bulge(2.0 * half), 0.0)
            ),
        ),
    ]
    for name, mirror in (("upper", False), ("lower", True)):
        towards_gap = (direction[0], -direction[1] if mirror else direction[1])
        regions += [
            Region(
                f"magnet_{name}",
                "magnet",
                magnet,
                block.transformed(mirror=mirror),
                magnetisation=towards_gap,
            ),
            Region(f"barrier_inner_{name}", "barrier", "air", inner.transformed(mirror=mirror)),
            Region(f"barrier_outer_{name}", "barrier", "air", outer.transformed(mirror=mirror)),
        ]
    return regions


def interior_regions(machine: Machine) -> list[Region]:
    """Return the regions of one pole of a machine, see `rotor_regions`."""
    return rotor_regions(
        rotor_as(machine, InteriorRotor),
        pole_pairs=machine.pole_pairs,
        sheet=machine.lamination.name,
        magnet=machine.magnet.name,
    )
