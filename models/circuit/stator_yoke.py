"""The stator's yoke in the network, and the feet of its teeth.

In an inner and an outer half of its height, because flux prefers the short way inside: with a
sheet far from saturation finite elements lost four to seven times as much per mass in the inner
third as in the outer one, where constant permeability would give three times.
"""

from math import atan2, cos, sqrt

from models.circuit.network import GROUND, Between, NetworkBuilder
from models.geometry.stator import tooth_width
from models.machine import Stator

Pair = tuple[int, int]
"""Nodes at a slot and at the next; the next one's potential is seen with a sign."""


def add_yoke(
    builder: NetworkBuilder, stator: Stator, bottom: Pair, middle: Pair, sign: float
) -> None:
    """Add the yoke of one slot pitch.

    Parameters
    ----------
    builder, stator : objects
    bottom, middle : tuple of 2 int
        Nodes at the bottom of a slot and the next, and half way from there to the outside.
    sign : float
        Of the next slot's.

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
        inner, outer = (bottom, middle) if k == 0 else (middle, (GROUND, GROUND))
        _add_piece(builder, inner, outer, slot, height)
        _add_tooth_piece(builder, inner, outer, sign, radius * stator.slot_pitch - slot, height)


def add_yoke_over_feet(
    builder: NetworkBuilder, stator: Stator, bottom: Pair, middle: Pair, sign: float, foot: int
) -> None:
    """Add the yoke of one slot pitch where teeth have feet, see `add_foot`.

    Parameters
    ----------
    builder, stator, bottom, middle, sign
        As for `add_yoke`.
    foot : int
        Node on the tooth's centre line between the slots' bottoms.

    Notes
    -----
    In the outer half the tooth's radial flux has spread over the pitch. Kept behind the teeth it
    saturates a high yoke too early: of 23 random cage machines, 0.3 % of torque on average.
    """
    height = 0.5 * stator.yoke_height
    r_in = stator.slot_bottom_radius
    inside, outside = r_in + 0.5 * height, r_in + 1.5 * height
    slot = stator.slot_width_outer * inside / r_in
    _add_piece(builder, bottom, middle, slot, height)
    half = 0.5 * (inside * stator.slot_pitch - slot)
    near = Between(((foot, 1.0),), 0.0, 0.0)
    far = Between(((middle[0], 0.5), (middle[1], 0.5 * sign)), 0.0, height)
    for own, behind, s, side in zip(bottom, middle, (1.0, sign), (-1.0, 1.0)):
        corner = Between(((own, s),), side * half, 0.0)
        far_corner = Between(((behind, s),), side * half, height)
        builder.iron_quad("yoke", [corner, near, far, far_corner])
    pitch = outside * stator.slot_pitch
    _add_tooth_piece(builder, middle, (GROUND, GROUND), sign, pitch, height)


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


def add_foot(
    builder: NetworkBuilder, stator: Stator, bottom: Pair, top: Pair, sign: float, foot: int
) -> None:
    """Add the lowest part of a tooth, into which flux along the yoke bulges.

    Parameters
    ----------
    builder, stator : objects
    bottom, top : tuple of 2 int
        Nodes at bottom and top of the slots beside it.
    sign : float
        Of the second of each.
    foot : int
        Node on its centre line between the slots' bottoms.

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
    walls = [((b, s * (1.0 - share)), (t, s * share)) for b, t, s in zip(bottom, top, (1.0, sign))]
    above = Between(tuple((n, 0.5 * w) for wall in walls for n, w in wall), 0.0, height)
    for node, wall, s, side in zip(bottom, walls, (1.0, sign), (-1.0, 1.0)):
        corner = Between(((node, s),), side * wide, 0.0)
        at = Between(wall, side * narrow, height)
        builder.iron_quad("tooth", [corner, middle, above, at], points=2)


def add_wide_yoke(
    builder: NetworkBuilder, stator: Stator, bottom: Pair, middle: Pair, sign: float
) -> None:
    """Add the yoke of one pitch of wide slots.

    Parameters
    ----------
    builder, stator, bottom, middle, sign
        As for `add_yoke`.

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
        inner, outer = (bottom, middle) if k == 0 else (middle, (GROUND, GROUND))
        for place in (0.5 - sqrt(1.0 / 12.0), 0.5 + sqrt(1.0 / 12.0)):
            radius = r_in / cos(place * half)
            height = 0.5 * (r_out - radius)
            _add_piece(builder, inner, outer, half * (radius + (k + 0.5) * height), height)
        height = 0.5 * (r_out - corner)
        tooth = (stator.slot_pitch - 2.0 * half) * (corner + (k + 0.5) * height)
        _add_tooth_piece(builder, inner, outer, sign, tooth, height)
