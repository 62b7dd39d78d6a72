"""Interior rotors with two layers of magnets: two V one inside the other, or a V and a flat one.

The inner layer is the V of `models.geometry.interior`. The outer one lies between it and the gap;
its legs are flat or turn towards those of the inner V.
"""

from collections.abc import Mapping
from math import cos, pi, sin

from models.errors import InfeasibleDesignError
from models.geometry.barriers import check_iron_between
from models.geometry.interior import OUTER_CLEARANCE, build_interior_rotor, place_leg
from models.machine import Barrier, InteriorRotor, LayeredRotor, ParameterValue

_ADVICE = (
    "raise v_depth_ratio, or lower outer_span_ratio, outer_thickness_ratio, magnet_thickness or "
    "barrier_width_ratio"
)


def build_interior(
    parameters: Mapping[str, ParameterValue], *, outer_radius: float, pole_pairs: int
) -> InteriorRotor | LayeredRotor:
    """Resolve an interior rotor of any layout.

    Parameters
    ----------
    parameters : mapping
        Parameter table (SI); `magnet_layout` tells the layout.
    outer_radius : float
        Rotor surface radius [m].
    pole_pairs : int
        Pole pairs.

    Returns
    -------
    InteriorRotor or LayeredRotor
        One V or flat magnet pair; two layers.

    Raises
    ------
    InfeasibleDesignError
        As `build_interior_rotor`, and `barriers_too_close` or `outer_layer_too_small`.
    """
    inner = build_interior_rotor(parameters, outer_radius=outer_radius, pole_pairs=pole_pairs)
    layout = str(parameters["magnet_layout"])
    if layout == "single":
        return inner
    outer = _outer_layer(parameters, inner, opening=1.0 if layout == "double_v" else 0.0)
    rotor = LayeredRotor(
        outer_radius=outer_radius,
        shaft_radius=inner.shaft_radius,
        barriers=(outer, as_barrier(inner)),
        magnet_axial_segments=inner.magnet_axial_segments,
        magnet_width_segments=inner.magnet_width_segments,
    )
    check_iron_between(rotor, pole_pairs, advice=_ADVICE)
    return rotor


def as_barrier(rotor: InteriorRotor) -> Barrier:
    """Return the single layer of an interior rotor as a barrier."""
    return Barrier(
        rib_width=rotor.rib_width,
        bridge_thickness=rotor.bridge_thickness,
        gap_face=(rotor.pocket_inner[0], rotor.magnet_corners[1], rotor.barrier_corners[0]),
        shaft_face=(rotor.pocket_inner[1], rotor.magnet_corners[2], rotor.barrier_corners[1]),
        near_angle=rotor.barrier_near_angle,
        far_angle=rotor.barrier_far_angle,
        magnet_corners=rotor.magnet_corners,
    )


def _outer_layer(
    parameters: Mapping[str, ParameterValue], inner: InteriorRotor, *, opening: float
) -> Barrier:
    """Return the layer next to the gap; `opening` 1 lays its legs along the inner V's."""
    thickness = float(parameters["outer_thickness_ratio"]) * inner.magnet_thickness
    rib = float(parameters["outer_rib_ratio"]) * inner.rib_width
    r_bridge = inner.outer_radius - inner.bridge_thickness
    far = float(parameters["outer_span_ratio"]) * inner.barrier_near_angle
    near = far - float(parameters["barrier_width_ratio"]) * thickness / r_bridge
    r_corner = r_bridge - OUTER_CLEARANCE * thickness
    if r_corner * sin(max(near, 0.0)) - 0.5 * rib < thickness:
        raise InfeasibleDesignError(
            "outer_layer_too_small",
            f"the outer layer leaves {1e3 * (r_corner * sin(near) - 0.5 * rib):.2f} mm for each "
            f"leg beside its rib, a magnet {1e3 * thickness:.2f} mm thick needs at least as much; "
            "raise outer_span_ratio or lower outer_thickness_ratio or outer_rib_ratio",
        )
    angle = 0.5 * pi - opening * (0.5 * pi - inner.leg_angle)
    leg = place_leg(
        (r_corner * cos(near), r_corner * sin(near)), angle, thickness=thickness, rib=rib,
        width_ratio=float(parameters["magnet_width_ratio"]),
    )  # fmt: skip
    return Barrier(
        rib_width=rib,
        bridge_thickness=inner.bridge_thickness,
        gap_face=(leg.inner[0], leg.corners[1], (r_bridge * cos(near), r_bridge * sin(near))),
        shaft_face=(leg.inner[1], leg.corners[2], (r_bridge * cos(far), r_bridge * sin(far))),
        near_angle=near,
        far_angle=far,
        magnet_corners=leg.corners,
    )
