"""How large a conductor fits into a slot."""

from dataclasses import dataclass
from math import floor, pi

from models.errors import InfeasibleDesignError
from models.machine import Stator

THINNEST_CONDUCTOR = 0.5e-3
"""Smallest bare side of a rectangular conductor [m] (common practice, no source)."""

ASPECT_RANGE = (0.8, 6.0)
"""Allowed width over height of a rectangular conductor. Formed conductors are usually 1.2 to 3.5
times as wide as high; beyond this wider range wire is not rolled or cannot be bent on edge
(common practice, no source)."""

DENSEST_ROUND_FILL = pi / 4.0
"""Insulated round strands in a random-wound slot do not pack denser than a square pattern
(common practice, no source)."""

# Nominal thickness up to [m] -> corner radius [m], IEC 60317-0-2 (from memory). Up to 1 mm the
# standard has half the thickness.
_CORNERS = ((1.60e-3, 0.50e-3), (2.24e-3, 0.65e-3), (3.55e-3, 0.80e-3), (float("inf"), 1.00e-3))


@dataclass(frozen=True)
class ConductorFit:
    """A conductor that fits.

    Attributes
    ----------
    is_rectangular : bool
        Rectangular (True) or round strands (False).
    width, height : float
        Bare tangential width and radial height [m]; for round strands both the strand diameter.
    area : float
        Bare area, all strands together [m^2].
    strands : int
        Strands in hand.
    side_width : float
        Tangential width of an insulated coil side, for the end winding [m].
    """

    is_rectangular: bool
    width: float
    height: float
    area: float
    strands: int
    side_width: float


def corner_radius(width: float, height: float) -> float:
    """Return the corner radius [m] of rectangular winding wire of these bare sides [m].

    Steps of IEC 60317-0-2 by nominal thickness (from memory).
    """
    thickness = min(width, height)
    if thickness <= 1.0e-3:
        return 0.5 * thickness
    return next(radius for limit, radius in _CORNERS if thickness <= limit)


def fit_conductor(
    stator: Stator,
    conductors: int,
    *,
    is_rectangular: bool,
    copper_fill: float,
    strand_diameter: float,
    insulation: float,
    liner: float,
) -> ConductorFit:
    """Return the conductor that fills the slot.

    Parameters
    ----------
    stator : Stator
        Slot dimensions.
    conductors : int
        Conductors in one slot, at least 1.
    is_rectangular : bool
        Rectangular conductors one above the other, or round strands at random.
    copper_fill : float
        Conductor area over slot area inside the liner (round strands only), 0 to 0.7.
    strand_diameter : float
        Bare strand diameter [m] (round strands only).
    insulation, liner : float
        Thickness of conductor insulation on one side and of the slot liner [m].

    Returns
    -------
    ConductorFit
        Rectangular: width = slot width - 2 liner - 2 insulation,
        height = (body height - 2 liner) / conductors - 2 insulation.
        Round: as many whole strands as the copper fill allows.

    Raises
    ------
    InfeasibleDesignError
        `conductor_too_thin`, `conductor_shape`, `slot_too_small`, `strand_too_large`,
        `strand_wider_than_opening`, `copper_fill_impossible`.
    """
    if is_rectangular:
        return _rectangular(stator, conductors, insulation, liner)
    return _round(stator, conductors, copper_fill, strand_diameter, insulation, liner)


def _rectangular(stator: Stator, conductors: int, insulation: float, liner: float) -> ConductorFit:
    slot_width = min(stator.slot_width_inner, stator.slot_width_outer)
    width = slot_width - 2.0 * liner - 2.0 * insulation
    height = (stator.body_height - 2.0 * liner) / conductors - 2.0 * insulation
    if min(width, height) < THINNEST_CONDUCTOR:
        raise InfeasibleDesignError(
            "conductor_too_thin",
            f"{conductors} rectangular conductors in a slot of {slot_width * 1e3:.2f} mm x "
            f"{stator.body_height * 1e3:.2f} mm would be {width * 1e3:.2f} mm wide and "
            f"{height * 1e3:.2f} mm high; at least {THINNEST_CONDUCTOR * 1e3:g} mm is needed: "
            f"use fewer conductors or a larger slot",
        )
    aspect = width / height
    if not ASPECT_RANGE[0] <= aspect <= ASPECT_RANGE[1]:
        raise InfeasibleDesignError(
            "conductor_shape",
            f"rectangular conductor {width * 1e3:.2f} mm wide and {height * 1e3:.2f} mm high: "
            f"width over height {aspect:.2f} is outside {ASPECT_RANGE[0]} to {ASPECT_RANGE[1]}; "
            f"change conductors per slot, slot depth or tooth width",
        )
    area = width * height - (4.0 - pi) * corner_radius(width, height) ** 2
    return ConductorFit(True, width, height, area, 1, width + 2.0 * insulation)


def _round(
    stator: Stator,
    conductors: int,
    copper_fill: float,
    strand_diameter: float,
    insulation: float,
    liner: float,
) -> ConductorFit:
    mean_width = 0.5 * (stator.slot_width_inner + stator.slot_width_outer)
    net_width = mean_width - 2.0 * liner
    net_height = stator.body_height - 2.0 * liner
    if min(net_width, net_height) < THINNEST_CONDUCTOR:
        raise InfeasibleDesignError(
            "slot_too_small",
            f"slot body {mean_width * 1e3:.2f} mm x {stator.body_height * 1e3:.2f} mm leaves no "
            f"room inside a liner of {liner * 1e3:.2f} mm; make the slot larger",
        )
    outer = strand_diameter + 2.0 * insulation
    if outer > stator.slot_opening:
        raise InfeasibleDesignError(
            "strand_wider_than_opening",
            f"an insulated strand of {outer * 1e3:.2f} mm does not pass the slot opening of "
            f"{stator.slot_opening * 1e3:.2f} mm; use thinner strands or a wider opening",
        )
    packed = copper_fill * (outer / strand_diameter) ** 2
    if packed > DENSEST_ROUND_FILL:
        raise InfeasibleDesignError(
            "copper_fill_impossible",
            f"copper fill {copper_fill:.3f} with strands of {strand_diameter * 1e3:.2f} mm and "
            f"{insulation * 1e3:.3f} mm insulation would fill {packed:.2f} of the slot; at most "
            f"{DENSEST_ROUND_FILL:.3f} can be wound: lower copper_fill or insulation",
        )
    strand_area = pi / 4.0 * strand_diameter**2
    room = copper_fill * net_width * net_height / conductors
    strands = floor(room / strand_area * (1.0 + 1e-9))
    if strands < 1:
        raise InfeasibleDesignError(
            "strand_too_large",
            f"one strand of {strand_area * 1e6:.3f} mm^2 is larger than the {room * 1e6:.3f} "
            f"mm^2 of copper each of {conductors} conductors may have; use thinner strands or "
            f"fewer turns",
        )
    return ConductorFit(
        False, strand_diameter, strand_diameter, strands * strand_area, strands, net_width
    )
