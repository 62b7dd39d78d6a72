"""Stator part of the network: slots, teeth, yoke, slot openings."""

from dataclasses import dataclass
from math import atan2, cos, sqrt

import numpy as np

from models.circuit.network import GROUND, Array, NetworkBuilder
from models.circuit.shouldered_tip import add_shouldered_tip
from models.circuit.slot_body import even_slot_body, slot_body
from models.circuit.tooth_faces import (
    add_narrow_tip,
    lay_faces,
    opening_permeance,
    opening_row,
    shank_depth,
)
from models.circuit.wide_tip import add_wide_tip
from models.constants import MU0
from models.geometry.sector import Sector
from models.geometry.stator import tooth_width
from models.machine import Machine, Stator

TOOTH_POINTS = ((0.5 - sqrt(0.15), 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.5 + sqrt(0.15), 5.0 / 18.0))
"""Heights over the slot body from its bottom, and weights, at which a tooth's field is taken.

Gauss points: in a tapered tooth the narrow end needs most of the magnetomotive force, which a
mean width would miss.
"""


@dataclass(frozen=True, eq=False)
class SlotNodes:
    """Nodes of the slots over one sector and what couples them to currents and to the gap.

    Attributes
    ----------
    bottom, top : tuple of int
        Node of each slot's bottom and its top.
    gap_nodes : tuple of int
        Nodes at the bore: in front of each slot opening, and on the faces of the teeth.
    gap_angles : ndarray
        Their angles at rotor angle zero [rad].
    opening_half_angle : float
        Half the angle of an opening where the edges of teeth have nodes of their own [rad], else 0.
    mean_bottom, mean_top : float
        Weights of the two nodes in the mean potential of a slot.
    self_term : float
        Mean potential per ampere of the slot's own current beyond the linear profile [H/m].
    angles : ndarray, shape (slots of the sector,)
        Angle of each slot axis from the sector's middle, the first pole's d axis at rotor angle
        zero [rad].
    """

    bottom: tuple[int, ...]
    top: tuple[int, ...]
    gap_nodes: tuple[int, ...]
    gap_angles: Array
    opening_half_angle: float
    mean_bottom: float
    mean_top: float
    self_term: float
    angles: Array


def add_stator(
    builder: NetworkBuilder, machine: Machine, sector: Sector, *, has_slot_flux: bool = False
) -> SlotNodes:
    """Add slots, teeth and yoke of one sector.

    Notes
    -----
    The potential in a slot body follows from its two ends and its current, see
    `models.circuit.slot_body`. Tooth flux at a height is the difference of the potentials of the
    slots beside it; each tooth has three iron cells in its body and some in its tip
    (`models.circuit.tooth_faces`). With `has_slot_flux` the slot beside a tooth
    carries radial flux, too, at the tooth's field.
    """
    stator = machine.stator
    m = sector.slots
    bottom = tuple(builder.node(f"slot {k} bottom") for k in range(m))
    top = tuple(builder.node(f"slot {k} top") for k in range(m))
    middle = tuple(builder.node(f"slot {k} yoke") for k in range(m))

    opening = tuple(builder.node(f"slot {k} opening") for k in range(m))
    faces = lay_faces(builder, machine, sector, has_shoulders=has_slot_flux)

    h, r_out = stator.body_height, stator.slot_bottom_radius

    is_wide = faces.opening_half_angle > 0.0
    permeance = opening_permeance(stator, is_wide=is_wide)
    body = slot_body(stator) if is_wide else even_slot_body(stator)
    # the rest of a wide tooth belongs to its tip
    even = 1.0 - shank_depth(stator) / h if is_wide or len(faces.places) > 1 else 1.0

    teeth = list(range(m)) if is_wide else [*range(min(m, 1)), *range(max(m - 1, 1), m)]
    for k in teeth:
        here = builder.mark()
        mouth = opening_row(faces, opening[k], k, sector)
        builder.branch(1.0 / (MU0 * permeance), [*mouth, (top[k], -1.0)])
        builder.branch(1.0 / (MU0 * body.permeance), [(top[k], 1.0), (bottom[k], -1.0)])
        nxt, sign = ((k + 1), 1.0) if k + 1 < m else (0, sector.sign)
        for point, weight in TOOTH_POINTS:
            share = point * even
            width = tooth_width(stator, r_out - share * h)
            g = 1.0 / width
            builder.iron(
                "tooth",
                weight * even * width * h,
                [
                    (bottom[k], (1.0 - share) * g),
                    (top[k], share * g),
                    (bottom[nxt], -sign * (1.0 - share) * g),
                    (top[nxt], -sign * share * g),
                ],
                [
                    (bottom[k], -0.5 / h),
                    (top[k], 0.5 / h),
                    (bottom[nxt], -0.5 * sign / h),
                    (top[nxt], 0.5 * sign / h),
                ]
                if has_slot_flux
                else (),
                beside=(stator.slot_pitch * (r_out - share * h) / width - 1.0)
                if has_slot_flux
                else 0.0,
            )
        ends = (opening[k], opening[nxt]), (top[k], top[nxt])
        if is_wide:
            add_wide_tip(builder, stator, faces, k, *ends, sign)
        elif len(faces.places) > 1:
            below = bottom[k], bottom[nxt]
            add_shouldered_tip(
                builder, stator, faces, k, *ends, below, sign, half_gap=0.5 * machine.air_gap
            )
        else:
            add_narrow_tip(builder, stator, faces, k, *ends, sign)
        feet = (bottom[k], bottom[nxt]), (middle[k], middle[nxt])
        _add_yoke(builder, stator, *feet, sign, is_wide=is_wide)
        if k == 0 and not is_wide:
            builder.repeat(here, m - 2)

    axes = np.asarray((np.arange(m) + 0.5 - 0.5 * m) * stator.slot_pitch)
    return SlotNodes(
        bottom=bottom,
        top=top,
        gap_nodes=(*opening, *faces.nodes),
        gap_angles=np.concatenate([axes, faces.angles]),
        opening_half_angle=faces.opening_half_angle,
        mean_bottom=1.0 - body.mean_top,
        mean_top=body.mean_top,
        self_term=MU0 * body.own_permeance,
        angles=axes,
    )


def _add_yoke(
    builder: NetworkBuilder,
    stator: Stator,
    bottom: tuple[int, int],
    middle: tuple[int, int],
    sign: float,
    *,
    is_wide: bool,
) -> None:
    """Add the yoke of one slot pitch in an inner and an outer half of its height.

    Parameters
    ----------
    builder, stator : objects
    bottom, middle : tuple of 2 int
        Nodes at the bottom of a slot and the next, and half way from there to the outside.
    sign : float
        Of the next slot's.
    is_wide : bool
        Whether slots are wide, as beside wide teeth: their straight bottom leaves the yoke lower
        behind their corners than behind their axis.

    Notes
    -----
    Behind a tooth it carries tangential flux and the tooth's radial flux; behind a slot only
    tangential flux. In halves because flux prefers the short way inside: with a sheet far from
    saturation finite elements lost four to seven times as much per mass in the inner third as in
    the outer one, where constant permeability would give three times.
    """
    pieces, r_tooth = _yoke_pieces(stator, is_wide=is_wide)
    r_out = stator.outer_radius
    for k in range(2):
        inner, outer = (bottom, middle) if k == 0 else (middle, (GROUND, GROUND))
        own = [(inner[0], 1.0), (outer[0], -1.0)]
        for angle, r_in in pieces:
            height = 0.5 * (r_out - r_in)
            length = angle * (r_in + (k + 0.5) * height)
            builder.iron("yoke", length * height, [(n, w / height) for n, w in own])
        height = 0.5 * (r_out - r_tooth)
        tooth = stator.slot_pitch - sum(angle for angle, _ in pieces)
        tooth *= r_tooth + (k + 0.5) * height
        both = [*own, (inner[1], sign), (outer[1], -sign)]
        across = [(inner[0], 1.0), (outer[0], 1.0), (inner[1], -sign), (outer[1], -sign)]
        builder.iron(
            "yoke",
            tooth * height,
            [(n, 0.5 * w / height) for n, w in both],
            [(n, 0.5 * w / tooth) for n, w in across],
        )


def _yoke_pieces(stator: Stator, *, is_wide: bool) -> tuple[list[tuple[float, float]], float]:
    """Return (angle [rad], inner radius [m]) of the pieces behind a slot, and a tooth's radius.

    One piece as high as on the slot's axis, or two at the Gauss points of both halves of a wide
    slot's bottom and the tooth's from the corners on.
    """
    r_in = stator.slot_bottom_radius
    if not is_wide:
        return [(stator.slot_width_outer / r_in, r_in)], r_in
    half = atan2(0.5 * stator.slot_width_outer, r_in)
    places = (0.5 - sqrt(1.0 / 12.0), 0.5 + sqrt(1.0 / 12.0))
    return [(half, r_in / cos(place * half)) for place in places], r_in / cos(half)
