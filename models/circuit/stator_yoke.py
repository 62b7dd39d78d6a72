"""The stator's yoke in the network, and the feet of its teeth.

In an inner and an outer half of its height, because flux prefers the short way inside: with a
sheet far from saturation finite elements lost four to seven times as much per mass in the inner
third as in the outer one, where constant permeability would give three times.
"""

from math import atan2, cos

from models.circuit.network import GAUSS_PAIR, GROUND, Between, NetworkBuilder, half_way
from models.circuit.tooth import Pair, Tooth
from models.geometry.stator import tooth_width
from models.machine import Stator


def add_yoke(builder: NetworkBuilder, stator: Stator, tooth: Tooth) -> None:
    """Add the yoke of one slot pitch.

    Notes
    -----
    Behind a tooth it carries tangential flux and the tooth's radial flux; behind a slot only
    tangential flux.
    """
    height = 0.5 * stator.yoke_height
    r_in = stator.slot_bottom_radius
    for k in range(2):
        radius = r_in + (k + 0.5) * height
        slot = stator.slot_width_outer * radius / r_in
        inner, outer = _ends(tooth, k)
        _add_piece(builder, inner, outer, slot, height)
        _add_tooth_piece(
            builder, inner, outer, tooth.sign, radius * stator.slot_pitch - slot, height
        )


def add_yoke_over_foot(builder: NetworkBuilder, stator: Stator, tooth: Tooth, foot: int) -> None:
    """Add the yoke of one slot pitch where the tooth has a foot, see `add_foot`.

    Notes
    -----
    In the outer half the tooth's radial flux has spread over the pitch. Kept behind the teeth it
    saturates a high yoke too early: of 23 random cage machines, 0.3 % of torque on average.
    """
    height = 0.5 * stator.yoke_height
    r_in = stator.slot_bottom_radius
    inside, outside = r_in + 0.5 * height, r_in + 1.5 * height
    slot = stator.slot_width_outer * inside / r_in
    _add_piece(builder, tooth.bottom, tooth.yoke, slot, height)
    half = 0.5 * (inside * stator.slot_pitch - slot)
    near = Between(((foot, 1.0),), 0.0, 0.0)
    corners, far_corners = (
        [Between(((n, s),), x * half, y) for n, s, x in zip(nodes, tooth.signs, (-1.0, 1.0))]
        for nodes, y in ((tooth.bottom, 0.0), (tooth.yoke, height))
    )
    far = half_way(*far_corners)
    for corner, far_corner in zip(corners, far_corners):
        builder.iron_quad("yoke", [corner, near, far, far_corner])
    _add_tooth_piece(builder, *_ends(tooth, 1), tooth.sign, outside * stator.slot_pitch, height)


def _ends(tooth: Tooth, half: int) -> tuple[Pair, Pair]:
    """Return the nodes inside and outside the inner (0) or the outer half (1) of the yoke."""
    return (tooth.bottom, tooth.yoke) if half == 0 else (tooth.yoke, (GROUND, GROUND))


def _add_piece(
    builder: NetworkBuilder, inner: Pair, outer: Pair, width: float, height: float
) -> None:
    """Add a piece behind a slot."""
    own = [(inner[0], 1.0 / height), (outer[0], -1.0 / height)]
    builder.iron("yoke", width * height, own)


def _add_tooth_piece(
    builder: NetworkBuilder, inner: Pair, outer: Pair, sign: float, width: float, height: float
) -> None:
    """Add a piece behind a tooth, from one slot to the next."""
    signs = (1.0, sign)
    along = [(n, 0.5 * s / height) for n, s in zip(inner, signs)]
    along += [(n, -0.5 * s / height) for n, s in zip(outer, signs)]
    across = [
        (n, 0.5 * side * s / width)
        for pair in (inner, outer)
        for n, s, side in zip(pair, signs, (1.0, -1.0))
    ]
    builder.iron("yoke", width * height, along, across)


def foot_height(stator: Stator) -> float:
    """Return how far into a tooth the yoke's flux bulges [m]: half its width, where it dies out."""
    width = tooth_width(stator, stator.slot_bottom_radius)
    return min(0.5 * width, 0.3 * stator.body_height)


def add_foot(builder: NetworkBuilder, stator: Stator, tooth: Tooth, foot: int) -> None:
    """Add the lowest part of a tooth, into which flux along the yoke bulges.

    Notes
    -----
    A saturated yoke is eased by what passes through the feet of the teeth: 1.4 % of torque on
    average over 23 random cage machines. Up to `foot_height`, where the potential is linear again
    between the slots, in two pieces with two Gauss points each.
    """
    height = foot_height(stator)
    share = height / stator.body_height
    r = stator.slot_bottom_radius
    wide, narrow = 0.5 * tooth_width(stator, r), 0.5 * tooth_width(stator, r - height)
    middle = Between(((foot, 1.0),), 0.0, 0.0)
    corners, at = [], []
    for b, t, s, side in zip(tooth.bottom, tooth.top, tooth.signs, (-1.0, 1.0)):
        corners.append(Between(((b, s),), side * wide, 0.0))
        at.append(Between(((b, s * (1.0 - share)), (t, s * share)), side * narrow, height))
    above = half_way(*at)
    for corner, end in zip(corners, at):
        builder.iron_quad("tooth", [corner, middle, above, end], points=2)


def add_wide_yoke(builder: NetworkBuilder, stator: Stator, tooth: Tooth) -> None:
    """Add the yoke of one pitch of wide slots.

    Notes
    -----
    The straight bottom of a wide slot leaves the yoke lower behind its corners than behind its
    axis: two pieces at the Gauss points of both halves of the bottom, and behind the tooth one from
    the corners on. Teeth are too wide against the yoke for their flux to spread.
    """
    r_out, r_in = stator.outer_radius, stator.slot_bottom_radius
    half = atan2(0.5 * stator.slot_width_outer, r_in)
    corner = r_in / cos(half)
    for k in range(2):
        inner, outer = _ends(tooth, k)
        for place in GAUSS_PAIR:
            radius = r_in / cos(place * half)
            height = 0.5 * (r_out - radius)
            _add_piece(builder, inner, outer, half * (radius + (k + 0.5) * height), height)
        height = 0.5 * (r_out - corner)
        behind_tooth = (stator.slot_pitch - 2.0 * half) * (corner + (k + 0.5) * height)
        _add_tooth_piece(builder, inner, outer, tooth.sign, behind_tooth, height)
