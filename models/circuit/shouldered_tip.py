"""The tip of a narrow tooth where slot currents saturate it: as around a cage."""

from models.circuit.network import Between, NetworkBuilder, half_way
from models.circuit.tooth import Tooth
from models.circuit.tooth_faces import Faces, half_widths, opening_permeance, shank_depth
from models.geometry.stator import tooth_width
from models.machine import Stator


def add_shouldered_tip(
    builder: NetworkBuilder,
    stator: Stator,
    faces: Faces,
    tooth: Tooth,
    *,
    half_gap: float,
) -> None:
    """Add the tip of a tooth in three rows: what hangs over the slots, the head, what is below.

    Parameters
    ----------
    builder : NetworkBuilder
    stator : Stator
    faces : Faces
        With five nodes on every face, from shoulder to shoulder.
    tooth : Tooth
    half_gap : float
        Half of the air gap [m]: its tangential field is that of the tip below it.

    Notes
    -----
    A tip that hangs over a slot gathers the gap's flux and carries it, with the leakage through the
    opening, along its thin section: it saturates long before the tooth, most where it begins. Two
    Gauss points along it see that, and two pieces on each side of the centre line let the flux turn
    into the tooth. A row down to `shank_depth` lets flux that crosses the tooth from slot to slot
    spread into it; the slot beside carries radial flux there, too.
    """
    edge, root = half_widths(stator)
    height, depth = stator.tip_height + stator.wedge_height, shank_depth(stator)
    inner = stator.body_inner_radius
    wide = 0.5 * tooth_width(stator, inner + depth)
    beside = stator.slot_pitch * (inner + 0.5 * depth) / (root + wide) - 1.0
    air = half_gap / (stator.tip_height + 0.5 * stator.wedge_height)
    straight = stator.tip_height / stator.slot_opening / opening_permeance(stator, is_wide=False)
    share = depth / stator.body_height
    walls = [
        ((t, s * (1.0 - share)), (b, s * share))
        for t, b, s in zip(tooth.top, tooth.bottom, tooth.signs)
    ]
    first, left, centre, right, last = faces.of_tooth(tooth.number)
    left_root, centre_root, right_root = faces.roots[tooth.number]
    face = Between(((centre, 1.0),), 0.0, 0.0)
    middle = Between(((centre_root, 1.0),), 0.0, height)
    deep = Between(tuple((n, 0.5 * w) for wall in walls for n, w in wall), 0.0, height + depth)
    halves = ((first, left, left_root), (last, right, right_root))
    for side, opening, (shoulder, half_face, half_root), own, s, terms in zip(
        (-1.0, 1.0), tooth.openings, halves, tooth.top, tooth.signs, walls
    ):
        at = Between(((shoulder, 1.0),), side * root, 0.0)
        below = Between(((own, s),), side * root, height)
        wall = Between(terms, side * wide, height + depth)
        under = Between(
            ((opening, s * (1.0 - straight)), (own, s * straight)), side * edge, stator.tip_height
        )
        over = [Between(((opening, s),), side * edge, 0.0), at, below, under]
        builder.iron_quad("tip", over, points=2, beside=air)
        x = 0.5 * side * root
        above = Between(((half_face, 1.0),), x, 0.0)
        between = Between(((half_root, 1.0),), x, height)
        at_depth = half_way(wall, deep)
        builder.iron_quad("tip", [at, above, between, below])
        builder.iron_quad("tip", [above, face, middle, between])
        builder.iron_quad("tip", [below, between, at_depth, wall], beside=beside)
        builder.iron_quad("tip", [between, middle, deep, at_depth], beside=beside)
