"""Length and reach of the end turns, from the coil pitch and the bending radius.

Distributed coils are diamonds unrolled on the cylinder through the middle of the slots: a
straight piece out of the stack, a bend, an oblique leg, the crown, and back the same way. Legs
of neighbouring coil sides lie side by side, so their slope follows from the width of a coil side
and the slot pitch: sin(alpha) = (b + gap) / tau_s (Liwschitz's diamond coil, as in Boldea, Nasar,
The Induction Machine Handbook, from memory). All bends have the same radius; the path is then
exact. Tooth coils run straight across the tooth with a quarter turn at each corner.
"""

from math import asin, cos, pi, sin

from models.errors import InfeasibleDesignError
from models.geometry.conductor_fit import ConductorFit
from models.machine import Stator

STRAIGHT_RECTANGULAR = 7.0e-3
"""Straight length outside the stack before the first bend [m], mean of the bent side (about 4 mm)
and the welded side (about 10 mm with the weld) (common practice, no source)."""

STRAIGHT_ROUND = 4.0e-3
"""The same for random-wound coils: the liner's collar [m] (common practice, no source)."""

BEND_RADIUS_RATIO = 2.0
"""Centre-line bending radius over the width bent (common practice, no source)."""

LEAST_BEND_RATIO = 1.5
"""Smallest centre-line radius of a bar's edgewise bend over its width: the outer fibre stretches
by a third, about what enamel bears (common practice, no source)."""

LEG_GAP = 0.5e-3
"""Clear distance between neighbouring legs [m] (common practice, no source)."""

STEEPEST_LEG = 0.9
"""Largest sin(alpha): steeper legs leave no room to form the crown (common practice, no
source)."""


def end_turn(
    stator: Stator, fit: ConductorFit, *, layers: int, coil_span: int
) -> tuple[float, float]:
    """Return length and overhang of one end turn.

    Parameters
    ----------
    stator : Stator
        Slot dimensions.
    fit : ConductorFit
        Conductor in the slot.
    layers : int
        Coil sides per slot.
    coil_span : int
        Span of a coil [slots]; 1 is a tooth coil.

    Returns
    -------
    length : float
        Mean length of one end turn on one side, from slot to slot [m].
    overhang : float
        Axial reach beyond the stack on one side [m].

    Raises
    ------
    InfeasibleDesignError
        `end_winding_crowded` when neighbouring legs would touch; `bend_too_tight` when a bar
        would be bent more sharply than its insulation bears.
    """
    radius = stator.body_inner_radius + 0.5 * stator.body_height
    pitch = stator.slot_pitch * radius
    straight = STRAIGHT_RECTANGULAR if fit.is_rectangular else STRAIGHT_ROUND
    if coil_span == 1:
        slot_width = 0.5 * (stator.slot_width_inner + stator.slot_width_outer)
        return tooth_coil_end(pitch - slot_width, slot_width / layers, straight=straight)
    slope = (fit.side_width + LEG_GAP) / pitch
    if slope > STEEPEST_LEG:
        raise InfeasibleDesignError(
            "end_winding_crowded",
            f"coil sides {fit.side_width * 1e3:.2f} mm wide at a slot pitch of "
            f"{pitch * 1e3:.2f} mm leave no room for the end turns: with {LEG_GAP * 1e3:g} mm "
            f"between them at most {STEEPEST_LEG:.0%} of the pitch may be used; widen the teeth",
        )
    bend = BEND_RADIUS_RATIO * (fit.width if fit.is_rectangular else 0.5 * fit.side_width)
    if fit.is_rectangular and 0.5 * coil_span * pitch < LEAST_BEND_RATIO * fit.width:
        raise InfeasibleDesignError(
            "bend_too_tight",
            f"bars {fit.width * 1e3:.2f} mm wide on a coil pitch of {coil_span * pitch * 1e3:.2f} "
            f"mm would be bent on a radius below {LEAST_BEND_RATIO:g} times their width; use "
            f"narrower bars, a longer coil pitch or round strands",
        )
    return diamond_end(
        coil_span * pitch, slope, straight=straight, bend_radius=bend, thickness=fit.side_width
    )


def diamond_end(
    coil_pitch: float, slope: float, *, straight: float, bend_radius: float, thickness: float
) -> tuple[float, float]:
    """Return length and overhang [m] of a diamond-shaped end turn.

    Parameters
    ----------
    coil_pitch : float
        Arc between the coil's two sides [m].
    slope : float
        sin(alpha) of the legs against the circumference, 0 to 1.
    straight : float
        Straight piece outside the stack, each side [m].
    bend_radius : float
        Centre-line radius of all bends [m]; made smaller where the pitch leaves no leg.
    thickness : float
        Width of the coil side, of which half lies beyond its centre line [m].

    Returns
    -------
    length, overhang : float
        length = 2 s + pi r + 2 l with legs
        l = (tau - 2 r (1 - sin(alpha)) - 2 r sin(alpha)) / (2 cos(alpha)) = (tau/2 - r)/cos(alpha)
    """
    alpha = asin(slope)
    r = min(bend_radius, 0.5 * coil_pitch)
    leg = (0.5 * coil_pitch - r) / cos(alpha)
    length = 2.0 * straight + pi * r + 2.0 * leg
    height = straight + r * cos(alpha) + leg * sin(alpha) + r * (1.0 - cos(alpha))
    return length, height + 0.5 * thickness


def tooth_coil_end(
    tooth_width: float, side_width: float, *, straight: float
) -> tuple[float, float]:
    """Return length and overhang [m] of a coil wound round one tooth.

    Parameters
    ----------
    tooth_width : float
        Mean tooth width [m].
    side_width : float
        Tangential width of the coil side in the slot [m].
    straight : float
        Insulation piece between stack and coil, each side [m].

    Returns
    -------
    length, overhang : float
        The mean turn lies in the middle of the coil side: length = 2 s + b_t + pi b_c / 2,
        overhang = s + b_c.
    """
    return (
        2.0 * straight + tooth_width + 0.5 * pi * side_width,
        straight + side_width,
    )
