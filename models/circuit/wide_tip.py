"""The tip of a wide tooth, as in tooth-coil windings."""

import itertools
from math import cos, log, sin

from models.circuit.network import Between, NetworkBuilder, Place
from models.circuit.tooth import Tooth
from models.circuit.tooth_faces import Faces, half_widths, opening_permeance, shank_depth
from models.geometry.stator import slot_corners
from models.machine import Stator


def tooth_contour(stator: Stator) -> tuple[tuple[float, float], ...]:
    """Return one side of a tooth as (across, outwards) from its centre line and the shaft [m].

    The corners of `slot_corners`, seen from the tooth: from the edge of its face to the bottom.
    """
    half = 0.5 * stator.slot_pitch
    c, s = cos(half), sin(half)
    return tuple((x * s - y * c, x * c + y * s) for x, y in slot_corners(stator))


def add_wide_tip(
    builder: NetworkBuilder,
    stator: Stator,
    faces: Faces,
    tooth: Tooth,
) -> None:
    """Add the tip of a wide tooth as a row of quadrilaterals under its face.

    Notes
    -----
    On its true outline: across a wide tooth the bore curves by millimetres, and the shoulders,
    square to the axes of the slots, are far from square to its own.
    Over the shank they end at its root, on nodes of their own; from there to `shank_depth` a second
    row leads to where the potential is linear between the slot tops, so that flux which crosses
    the tooth is not held in the tip. On either side the tip hangs over the slot and carries its
    flux along the face; its lower side is the slot's wall, where the potential goes from that of
    the edge to that of the slot's top as the leakage crosses: evenly over the straight part of the
    opening, then in straight lines from shoulder to shoulder, most of it where these are near each
    other. There the tip is thin, too, and saturates first.
    """
    (_, root), top, sign = half_widths(stator), tooth.top, tooth.sign
    edge = faces.places[-1]
    straight = stator.tip_height / stator.slot_opening / opening_permeance(stator)
    taper = log(stator.slot_width_inner / stator.slot_opening)
    face = faces.of_tooth(tooth.number)
    angle = 0.5 * stator.slot_pitch - faces.opening_half_angle
    below_edge, top_corner, bottom_corner = tooth_contour(stator)[1:]
    share_deep = shank_depth(stator) / stator.body_height
    at_depth = tuple(t + share_deep * (b - t) for t, b in zip(top_corner, bottom_corner))
    on_root = [x for x in faces.places if abs(x) < root * (1.0 - 1e-9)]
    inner = {x: builder.node(f"tooth {tooth.number} root {k}") for k, x in enumerate(on_root)}

    def front(x: float) -> tuple[float, float]:
        """Coordinates of a place on the face."""
        r = stator.bore_radius
        return r * sin(x / edge * angle), r * cos(x / edge * angle)

    def below(x: float) -> Between:
        """Place on the lower side of the tip over a place of its face."""
        if x in inner:
            return Between(((inner[x], 1.0),), x / root * top_corner[0], top_corner[1])
        # over the slot, or where its wall begins
        node, side_sign = (top[0], 1.0) if x < 0.0 else (top[1], sign)
        side = -1.0 if x < 0.0 else 1.0
        if abs(x) <= root * (1.0 + 1e-9):
            return Between(((node, side_sign),), side * top_corner[0], top_corner[1])
        inward = (edge - abs(x)) / (edge - root)
        width = stator.slot_opening + inward * (stator.slot_width_inner - stator.slot_opening)
        at_edge = (1.0 - straight) * log(stator.slot_width_inner / width) / taper
        own = (face[0 if x < 0.0 else -1], at_edge)
        at = [e + inward * (t - e) for e, t in zip(below_edge, top_corner)]
        return Between((own, (node, side_sign * (1.0 - at_edge))), side * at[0], at[1])

    def deep(x: float) -> Between:
        """Place at the end of the second row."""
        share = 0.5 + 0.5 * x / root
        parts = ((top[0], 1.0 - share), (top[1], sign * share))
        return Between(
            tuple(t for t in parts if abs(t[1]) > 1e-9), x / root * at_depth[0], at_depth[1]
        )

    for (low, a), (high, b) in itertools.pairwise(zip(faces.places, face)):
        over = (Place(a, *front(low)), Place(b, *front(high)))
        is_shank = abs(0.5 * (low + high)) < root
        builder.iron_quad("tip", [*over, below(high), below(low)], points=1 if is_shank else 2)
        if is_shank:
            builder.iron_quad("tip", [below(low), below(high), deep(high), deep(low)])
