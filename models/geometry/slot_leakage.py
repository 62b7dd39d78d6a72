"""Leakage of the winding: slot permeance and end-winding inductance."""

from math import log

from models.constants import MU0
from models.errors import InvalidInputError
from models.machine import Stator, Winding

END_LENGTH_PERMEANCE = 0.5
"""Permeance factor of the axial reach of the end winding, two-layer windings (Pyrhonen, Jokinen,
Hrabovcova, Design of Rotating Electrical Machines, 2nd ed., Table 4.1, from memory)."""

END_WIDTH_PERMEANCE = 0.2
"""Permeance factor of the span of the end winding; source as above."""


def slot_permeance(
    *,
    body_width: float,
    opening: float,
    conductor_height: float,
    clear_height: float,
    wedge_height: float,
    tip_height: float,
) -> float:
    """Return the specific permeance of a slot with parallel sides and one coil side.

    Parameters
    ----------
    body_width, opening : float
        Width of the slot body and of its opening [m], 0 < opening <= body_width.
    conductor_height : float
        Height filled with conductors [m].
    clear_height : float
        Height above the conductors at full width [m].
    wedge_height, tip_height : float
        Height of the taper and of the straight opening [m].

    Returns
    -------
    float
        lambda = h4/(3 b4) + h3/b4 + h1/b1 + h2/(b4 - b1) ln(b4/b1); slot leakage per length and
        conductor squared is mu0 lambda. Iron infinitely permeable, current spread evenly.

    Raises
    ------
    InvalidInputError
        For an opening that is not positive or wider than the body.

    References
    ----------
    Richter, Elektrische Maschinen I; Pyrhonen, Jokinen, Hrabovcova, 2nd ed., section 4.3 (from
    memory).
    """
    if not 0.0 < opening <= body_width:
        raise InvalidInputError(
            f"slot permeance: opening {opening} m in a slot {body_width} m wide; the opening "
            f"must be positive and at most the width"
        )
    narrowing = body_width - opening
    if narrowing > 1e-9 * body_width:
        taper = wedge_height / narrowing * log(body_width / opening)
    else:
        taper = wedge_height / body_width
    return (
        conductor_height / (3.0 * body_width)
        + clear_height / body_width
        + taper
        + tip_height / opening
    )


def stator_slot_permeance(stator: Stator, liner: float = 0.0) -> float:
    """Return the specific slot permeance of a stator slot whose body is full of conductors.

    Parameters
    ----------
    stator : Stator
        Slot; a tapered body counts with its mean width.
    liner : float
        Thickness of the liner above and below the conductors [m].
    """
    return slot_permeance(
        body_width=0.5 * (stator.slot_width_inner + stator.slot_width_outer),
        opening=min(stator.slot_opening, 0.5 * (stator.slot_width_inner + stator.slot_width_outer)),
        conductor_height=stator.body_height - 2.0 * liner,
        clear_height=liner,
        wedge_height=stator.wedge_height,
        tip_height=stator.tip_height,
    )


def end_inductance(stator: Stator, winding: Winding) -> float:
    """Return the end-winding leakage inductance of one phase, both ends together.

    Parameters
    ----------
    stator, winding : objects
        Slots and winding.

    Returns
    -------
    float
        L = (4 m / Q) mu0 q N^2 l_w lambda_w [H], with q = Q / (2 p m) slots per pole and phase, N
        series turns and l_w lambda_w = 2 l_ew lambda_lew + W_ew lambda_W, where l_ew is the axial
        reach and W_ew = l_w - 2 l_ew the span of the end turn of length l_w. For tooth coils the
        same form with q < 1. Within some 30 % (common practice, no source); the whole term is a
        few per cent of a traction machine's inductance.

    References
    ----------
    Pyrhonen, Jokinen, Hrabovcova, 2nd ed., section 4.3.5 (from memory).
    """
    phases = 3
    q = winding.slots / (2.0 * winding.pole_pairs * phases)
    reach = min(winding.overhang, 0.5 * winding.end_turn_length)
    span = winding.end_turn_length - 2.0 * reach
    permeance_length = 2.0 * reach * END_LENGTH_PERMEANCE + span * END_WIDTH_PERMEANCE
    factor = 4.0 * phases / winding.slots * q
    return factor * MU0 * winding.series_turns**2 * permeance_length
