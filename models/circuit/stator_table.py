"""Stator part of the network: slots, teeth, yoke, slot openings."""

from dataclasses import dataclass
from math import log, sqrt

import numpy as np

from models.circuit.network import Array, NetworkBuilder, centre_gradient
from models.constants import MU0
from models.geometry.stator import tooth_width
from models.machine import Machine, Stator

TOOTH_POINTS = ((0.5 - sqrt(0.15), 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.5 + sqrt(0.15), 5.0 / 18.0))
"""Heights over the slot body from its bottom, and weights, at which a tooth's field is taken.

Gauss points: in a tapered tooth the narrow end needs most of the magnetomotive force, which a
mean width would miss.
"""


@dataclass(frozen=True, eq=False)
class SlotNodes:
    """Nodes of the slots over one pole and what couples them to currents and to the gap.

    Attributes
    ----------
    bottom, top : tuple of int
        Node of each slot's bottom and its top.
    gap_nodes : tuple of int
        Nodes at the bore: in front of each slot opening, and on each tooth's centre line.
    gap_angles : ndarray
        Their angles at rotor angle zero [rad].
    mean_bottom, mean_top : float
        Weights of the two nodes in the mean potential of a slot.
    self_term : float
        Mean potential per ampere of the slot's own current beyond the linear profile [H/m].
    angles : ndarray, shape (slots per pole,)
        Angle of each slot axis from the pole's d axis at rotor angle zero [rad].
    """

    bottom: tuple[int, ...]
    top: tuple[int, ...]
    gap_nodes: tuple[int, ...]
    gap_angles: Array
    mean_bottom: float
    mean_top: float
    self_term: float
    angles: Array


def add_stator(builder: NetworkBuilder, machine: Machine, slots_per_pole: int) -> SlotNodes:
    """Add slots, teeth and yoke of one pole.

    Notes
    -----
    The potential in a slot body with parallel sides is parabolic under uniform current density:
    its mean is the mean of bottom and top plus mu0 h I / (12 b). Tooth flux at a height is the
    difference of the potentials of the slots beside it; each tooth has three iron cells in its
    body and one in its tip. The yoke behind a tooth carries tangential flux and the tooth's
    radial flux; behind a slot only tangential flux.
    """
    stator = machine.stator
    m = slots_per_pole
    bottom = tuple(builder.node(f"slot {k} bottom") for k in range(m))
    top = tuple(builder.node(f"slot {k} top") for k in range(m))

    opening = tuple(builder.node(f"slot {k} opening") for k in range(m))
    face = tuple(builder.node(f"tooth {k} face") for k in range(m))

    h = stator.body_height
    b_in, b_out = stator.slot_width_inner, stator.slot_width_outer
    b_mean = 0.5 * (b_in + b_out)
    # Weight of the linear profile (0 at the bottom, 1 at the top) over the trapezoid.
    mean_top = (2.0 * b_in + b_out) / (3.0 * (b_in + b_out))
    r_out = stator.slot_bottom_radius
    yoke = stator.yoke_height
    r_yoke = r_out + 0.5 * yoke
    behind_slot = b_out * r_yoke / r_out
    behind_tooth = r_yoke * stator.slot_pitch - behind_slot

    b_open = stator.slot_opening
    permeance = stator.tip_height / b_open
    permeance += stator.wedge_height / (b_in - b_open) * log(b_in / b_open)

    for k in range(m):
        builder.branch(1.0 / (MU0 * permeance), [(opening[k], 1.0), (top[k], -1.0)])
        builder.branch(b_mean / (MU0 * h), [(top[k], 1.0), (bottom[k], -1.0)])
        nxt, sign = ((k + 1), 1.0) if k + 1 < m else (0, -1.0)
        for share, weight in TOOTH_POINTS:
            width = tooth_width(stator, r_out - share * h)
            g = 1.0 / width
            builder.iron(
                "tooth",
                weight * width * h,
                [
                    (bottom[k], (1.0 - share) * g),
                    (top[k], share * g),
                    (bottom[nxt], -sign * (1.0 - share) * g),
                    (top[nxt], -sign * share * g),
                ],
            )
        _add_tip(
            builder,
            stator,
            (opening[k], face[k], opening[nxt]),
            (top[k], top[nxt]),
            sign,
        )
        builder.iron("yoke", behind_slot * yoke, [(bottom[k], 1.0 / yoke)])
        builder.iron(
            "yoke",
            behind_tooth * yoke,
            [(bottom[k], 0.5 / yoke), (bottom[nxt], 0.5 * sign / yoke)],
            [(bottom[k], 0.5 / behind_tooth), (bottom[nxt], -0.5 * sign / behind_tooth)],
        )

    axes = np.asarray((np.arange(m) + 0.5 - 0.5 * m) * stator.slot_pitch)
    return SlotNodes(
        bottom=bottom,
        top=top,
        gap_nodes=(*opening, *face),
        gap_angles=np.concatenate([axes, axes + 0.5 * stator.slot_pitch]),
        mean_bottom=1.0 - mean_top,
        mean_top=mean_top,
        self_term=MU0 * h / (12.0 * b_mean),
        angles=axes,
    )


def _add_tip(
    builder: NetworkBuilder,
    stator: Stator,
    bore: tuple[int, int, int],
    top: tuple[int, int],
    sign: float,
) -> None:
    """Add one tooth tip as two quadrilaterals beside the tooth's centre line.

    They carry the tooth's radial flux and, across it, the leakage that passes from slot to slot
    through the openings and along the gap. The potential on the centre line below the tip is the
    mean of the slot tops beside it.
    """
    edge = 0.5 * (stator.bore_radius * stator.slot_pitch - stator.slot_opening)
    root = 0.5 * tooth_width(stator, stator.body_inner_radius)
    height = stator.tip_height + stator.wedge_height
    left, right = top
    rows, area = centre_gradient(((edge, 0.0), (0.0, 0.0), (0.0, height), (root, height)))
    for outer, own, other, s_outer, s_own, s_other in (
        (bore[0], left, right, 1.0, 1.0, sign),
        (bore[2], right, left, sign, sign, 1.0),
    ):
        cells = [
            [
                (outer, s_outer * g[0]),
                (bore[1], g[1]),
                (own, s_own * (0.5 * g[2] + g[3])),
                (other, s_other * 0.5 * g[2]),
            ]
            for g in rows
        ]
        builder.iron("tip", area, cells[0], cells[1])
