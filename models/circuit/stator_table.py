"""Stator part of the network: slots, teeth, yoke, slot openings."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from models.circuit.narrow_tip import add_narrow_tip
from models.circuit.network import Array, NetworkBuilder
from models.circuit.shouldered_tip import add_shouldered_tip
from models.circuit.slot_body import even_slot_body, slot_body
from models.circuit.stator_yoke import (
    add_foot,
    add_wide_yoke,
    add_yoke,
    add_yoke_over_foot,
    foot_height,
)
from models.circuit.tooth import Tooth
from models.circuit.tooth_faces import (
    Faces,
    lay_faces,
    opening_permeance,
    opening_row,
    shank_depth,
)
from models.circuit.wide_tip import add_wide_tip
from models.constants import MU0
from models.geometry.sector import Sector
from models.geometry.stator import tooth_width
from models.machine import Machine

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
    (`narrow_tip`, `shouldered_tip`, `wide_tip`). With `has_slot_flux` the slot beside a tooth
    carries radial flux, too, at the tooth's field, and teeth have feet.
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

    has_feet = has_slot_flux and not is_wide
    foot = tuple(builder.node(f"tooth {k} foot") for k in range(m if has_feet else 0))
    start = foot_height(stator) / h if has_feet else 0.0

    teeth = list(range(m)) if is_wide else [*range(min(m, 1)), *range(max(m - 1, 1), m)]
    for k in teeth:
        here = builder.mark()
        mouth = opening_row(faces, opening[k], k, sector)
        builder.branch(1.0 / (MU0 * permeance), [*mouth, (top[k], -1.0)])
        builder.branch(1.0 / (MU0 * body.permeance), [(top[k], 1.0), (bottom[k], -1.0)])
        nxt, sign = ((k + 1), 1.0) if k + 1 < m else (0, sector.sign)
        for point, weight in TOOTH_POINTS:
            share = start + point * (even - start)
            width = tooth_width(stator, r_out - share * h)
            g = 1.0 / width
            builder.iron(
                "tooth",
                weight * (even - start) * width * h,
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
        tooth = Tooth(
            number=k,
            sign=sign,
            openings=(opening[k], opening[nxt]),
            top=(top[k], top[nxt]),
            bottom=(bottom[k], bottom[nxt]),
            yoke=(middle[k], middle[nxt]),
            foot=foot[k] if has_feet else None,
        )
        _add_ends(builder, machine, faces, tooth)
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


def _add_ends(builder: NetworkBuilder, machine: Machine, faces: Faces, tooth: Tooth) -> None:
    """Add the tip of a tooth and the yoke behind it, each as its width and slots ask for."""
    stator = machine.stator
    if faces.opening_half_angle > 0.0:
        add_wide_tip(builder, stator, faces, tooth)
        add_wide_yoke(builder, stator, tooth)
        return
    if len(faces.places) > 1:
        add_shouldered_tip(builder, stator, faces, tooth, half_gap=0.5 * machine.air_gap)
    else:
        add_narrow_tip(builder, stator, faces, tooth)
    if tooth.foot is None:
        add_yoke(builder, stator, tooth)
    else:
        add_yoke_over_foot(builder, stator, tooth, tooth.foot)
        add_foot(builder, stator, tooth, tooth.foot)
