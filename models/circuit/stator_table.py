"""Stator part of the network: slots, teeth, yoke, slot openings."""

from dataclasses import dataclass
from math import log

import numpy as np

from models.circuit.network import Array, NetworkBuilder
from models.constants import MU0
from models.geometry.stator import tooth_width
from models.machine import Machine


@dataclass(frozen=True, eq=False)
class SlotNodes:
    """Nodes of the slots over one pole and what couples them to currents and to the gap.

    Attributes
    ----------
    bottom, top : tuple of int
        Node of each slot's bottom and top.
    mean_bottom, mean_top : float
        Weights of the two nodes in the mean potential of a slot.
    self_term : float
        Mean potential per ampere of the slot's own current beyond the linear profile [H/m].
    opening_stiffness : float
        Stiffness of the slot opening between gap and slot top [m/H].
    angles : ndarray, shape (slots per pole,)
        Angle of each slot axis from the pole's d axis at rotor angle zero [rad].
    """

    bottom: tuple[int, ...]
    top: tuple[int, ...]
    mean_bottom: float
    mean_top: float
    self_term: float
    opening_stiffness: float
    angles: Array


def add_stator(builder: NetworkBuilder, machine: Machine, slots_per_pole: int) -> SlotNodes:
    """Add slots, teeth and yoke of one pole.

    Notes
    -----
    The potential in a slot body with parallel sides is parabolic under uniform current density:
    its mean is the mean of bottom and top plus mu0 h I / (12 b). Tooth flux at a height is the
    difference of the potentials of the slots beside it; each tooth has two iron cells in its
    body and one in its tip. The yoke behind a tooth carries tangential flux and the tooth's
    radial flux; behind a slot only tangential flux.
    """
    stator = machine.stator
    m = slots_per_pole
    bottom = tuple(builder.node(f"slot {k} bottom") for k in range(m))
    top = tuple(builder.node(f"slot {k} top") for k in range(m))

    h = stator.body_height
    b_in, b_out = stator.slot_width_inner, stator.slot_width_outer
    b_mean = 0.5 * (b_in + b_out)
    # Weight of the linear profile (0 at the bottom, 1 at the top) over the trapezoid.
    mean_top = (2.0 * b_in + b_out) / (3.0 * (b_in + b_out))
    r_in, r_out = stator.body_inner_radius, stator.slot_bottom_radius
    yoke = stator.yoke_height
    r_yoke = r_out + 0.5 * yoke
    behind_slot = b_out * r_yoke / r_out
    behind_tooth = r_yoke * stator.slot_pitch - behind_slot
    tip_height = stator.tip_height + stator.wedge_height
    tooth_top = tooth_width(stator, r_in)
    tip_width = 0.5 * (tooth_top + stator.bore_radius * stator.slot_pitch - stator.slot_opening)

    for k in range(m):
        builder.branch(b_mean / (MU0 * h), [(top[k], 1.0), (bottom[k], -1.0)])
        nxt, sign = ((k + 1), 1.0) if k + 1 < m else (0, -1.0)
        for share in (0.25, 0.75):
            width = tooth_width(stator, r_out - share * h)
            g = 1.0 / width
            builder.iron(
                "tooth",
                0.5 * width * h,
                [
                    (bottom[k], (1.0 - share) * g),
                    (top[k], share * g),
                    (bottom[nxt], -sign * (1.0 - share) * g),
                    (top[nxt], -sign * share * g),
                ],
            )
        g = 1.0 / tip_width
        builder.iron("tip", tip_width * tip_height, [(top[k], g), (top[nxt], -sign * g)])
        builder.iron("yoke", behind_slot * yoke, [(bottom[k], 1.0 / yoke)])
        builder.iron(
            "yoke",
            behind_tooth * yoke,
            [(bottom[k], 0.5 / yoke), (bottom[nxt], 0.5 * sign / yoke)],
            [(bottom[k], 0.5 / behind_tooth), (bottom[nxt], -0.5 * sign / behind_tooth)],
        )

    b_open = stator.slot_opening
    permeance = stator.tip_height / b_open
    permeance += stator.wedge_height / (b_in - b_open) * log(b_in / b_open)
    return SlotNodes(
        bottom=bottom,
        top=top,
        mean_bottom=1.0 - mean_top,
        mean_top=mean_top,
        self_term=MU0 * h / (12.0 * b_mean),
        opening_stiffness=1.0 / (MU0 * permeance),
        angles=np.asarray((np.arange(m) + 0.5 - 0.5 * m) * stator.slot_pitch),
    )
