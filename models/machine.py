"""What a machine is: frozen descriptions of its parts, in SI units (temperatures in degC).

`models.geometry.build` makes a `Machine` from a flat table of parameters; every model reads it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import atan2, dist, pi
from typing import TypeVar

from models.cage_rotor import CageRotor
from models.errors import InvalidInputError
from models.materials.catalogue import Conductor, Lamination, Magnet
from models.surface_rotor import SurfaceRotor

ParameterValue = float | int | str


@dataclass(frozen=True)
class Stator:
    """Stator sheets and slots. Lengths in m.

    Attributes
    ----------
    slots : int
        Number of slots.
    outer_radius, bore_radius : float
        Radii of the sheet and of the bore [m].
    slot_depth : float
        Bore to slot bottom, measured on the slot axis [m].
    slot_opening : float
        Width of the opening at the bore [m].
    tip_height, wedge_height : float
        Radial height of the straight opening and of the taper behind it [m].
    slot_width_inner, slot_width_outer : float
        Slot width at the gap side and at the bottom of the slot body [m]; equal for
        parallel-sided slots.
    is_slot_parallel : bool
        Whether the slot (True) or the tooth (False) has parallel sides.
    """

    slots: int
    outer_radius: float
    bore_radius: float
    slot_depth: float
    slot_opening: float
    tip_height: float
    wedge_height: float
    slot_width_inner: float
    slot_width_outer: float
    is_slot_parallel: bool

    @property
    def slot_pitch(self) -> float:
        """Slot pitch angle [rad]."""
        return 2.0 * pi / self.slots

    @property
    def body_inner_radius(self) -> float:
        """Radius at which the slot body (the part with conductors) starts [m]."""
        return self.bore_radius + self.tip_height + self.wedge_height

    @property
    def slot_bottom_radius(self) -> float:
        """Radius of the slot bottom [m]."""
        return self.bore_radius + self.slot_depth

    @property
    def body_height(self) -> float:
        """Radial height of the slot body [m]."""
        return self.slot_depth - self.tip_height - self.wedge_height

    @property
    def slot_body_area(self) -> float:
        """Area of one slot body [m^2]."""
        return 0.5 * (self.slot_width_inner + self.slot_width_outer) * self.body_height

    @property
    def yoke_height(self) -> float:
        """Radial height of the yoke behind the slots [m]."""
        return self.outer_radius - self.slot_bottom_radius


@dataclass(frozen=True)
class Winding:
    """A balanced three-phase winding and its conductors.

    Attributes
    ----------
    slots, pole_pairs, layers, coil_span : int
        Slots, pole pairs, coil sides per slot, coil span in slots.
    turns_per_coil, parallel_paths : int
        Turns of a coil, parallel paths of a phase.
    slot_phases : tuple of tuple of float
        `slot_phases[k][s]`: signed share of slot s's conductors that carries phase k, in
        [-1, 1]; |shares| of one slot sum to 1. Positive is current along +z.
    winding_factor : float
        Fundamental winding factor.
    is_rectangular : bool
        Rectangular conductors stacked radially (True) or round strands (False).
    conductor_width, conductor_height : float
        Bare tangential width and radial height of a rectangular conductor; for round strands
        both are the strand diameter [m].
    conductor_area : float
        Bare area of one conductor, all strands together [m^2].
    strands : int
        Strands in hand of one conductor (1 for rectangular).
    is_transposed : bool
        Whether the strands of a conductor change places (twisted), so that none circulates
        current through another.
    end_turn_length : float
        Mean length of one end turn, one side of the machine, per half turn [m].
    overhang : float
        Axial reach of the end winding beyond the stack, one side [m].
    """

    slots: int
    pole_pairs: int
    layers: int
    coil_span: int
    turns_per_coil: int
    parallel_paths: int
    slot_phases: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]
    winding_factor: float
    is_rectangular: bool
    conductor_width: float
    conductor_height: float
    conductor_area: float
    strands: int
    end_turn_length: float
    overhang: float
    is_transposed: bool = True

    @property
    def conductors_per_slot(self) -> int:
        """Conductors in one slot."""
        return self.layers * self.turns_per_coil

    @property
    def series_turns(self) -> float:
        """Series turns of one phase."""
        return self.slots * self.conductors_per_slot / (6.0 * self.parallel_paths)


@dataclass(frozen=True)
class InteriorRotor:
    """Rotor with one V (or flat) of buried magnets per pole. Lengths in m, angles in rad.

    All points are in the frame of one pole: the d axis is the x axis, the upper leg has y > 0
    and the lower leg mirrors it.

    Attributes
    ----------
    outer_radius, shaft_radius : float
        Rotor surface and shaft radii [m].
    bridge_thickness, rib_width : float
        Iron between outer barrier and surface; iron on the pole axis between the legs [m].
    magnet_thickness, magnet_width : float
        Along and across the magnetisation, one leg [m].
    leg_angle : float
        Angle between the leg and the d axis [rad]; pi/2 is flat.
    magnet_corners : tuple of 4 (x, y)
        Magnet of the upper leg: inner gap side, outer gap side, outer shaft side, inner shaft
        side [m]. "Gap side" is the face turned to the air gap.
    pocket_inner : tuple of 2 (x, y)
        Inner end of the pocket at the rib: gap side, shaft side (both at y = rib_width / 2).
    barrier_corners : tuple of 2 (x, y)
        Outer barrier at the bridge: near corner (towards the pole axis) and far corner, both at
        radius `outer_radius - bridge_thickness`.
    barrier_near_angle, barrier_far_angle : float
        Angles of these two corners from the d axis [rad].
    magnet_axial_segments, magnet_width_segments : int
        Pieces along the stack (a multiple of the slices of a skewed rotor) and across one leg.
    """

    outer_radius: float
    shaft_radius: float
    bridge_thickness: float
    rib_width: float
    magnet_thickness: float
    magnet_width: float
    leg_angle: float
    magnet_corners: tuple[tuple[float, float], ...]
    pocket_inner: tuple[tuple[float, float], ...]
    barrier_corners: tuple[tuple[float, float], ...]
    barrier_near_angle: float
    barrier_far_angle: float
    magnet_axial_segments: int
    magnet_width_segments: int


@dataclass(frozen=True)
class Barrier:
    """One flux barrier of a pole, upper half (y > 0); the lower half mirrors it.

    Both faces run from the rib on the pole axis straight to a bend and from there straight to
    the bridge. A magnet may lie between rib and bend.

    Attributes
    ----------
    rib_width, bridge_thickness : float
        Iron on the pole axis between both halves, and between barrier and surface [m].
    gap_face, shaft_face : tuple of 3 (x, y)
        Corners of the face turned to the gap and of the one turned to the shaft: at the rib, at
        the bend, at the bridge [m].
    near_angle, far_angle : float
        Angles of the two corners at the bridge from the pole axis [rad].
    magnet_corners : tuple of 4 (x, y), or empty
        Magnet of the upper half: inner gap side, outer gap side, outer shaft side, inner shaft
        side [m]; empty without magnet.
    """

    rib_width: float
    bridge_thickness: float
    gap_face: tuple[tuple[float, float], ...]
    shaft_face: tuple[tuple[float, float], ...]
    near_angle: float
    far_angle: float
    magnet_corners: tuple[tuple[float, float], ...] = ()

    @property
    def has_magnet(self) -> bool:
        """Whether a magnet lies in it."""
        return bool(self.magnet_corners)

    @property
    def magnet_width(self) -> float:
        """Magnet size across its magnetisation, one half [m]; 0 without magnet."""
        return dist(*self.magnet_corners[:2]) if self.magnet_corners else 0.0

    @property
    def magnet_thickness(self) -> float:
        """Magnet size along its magnetisation [m]; 0 without magnet."""
        return dist(*self.magnet_corners[1:3]) if self.magnet_corners else 0.0

    @property
    def thickness(self) -> float:
        """Width of the barrier beside the rib, along the pole axis [m]."""
        return self.gap_face[0][0] - self.shaft_face[0][0]

    @property
    def leg_angle(self) -> float:
        """Angle between the barrier's inner part and the pole axis [rad]; pi/2 is flat."""
        (x0, y0), (x1, y1) = self.gap_face[:2]
        return atan2(y1 - y0, x1 - x0)


@dataclass(frozen=True)
class LayeredRotor:
    """Rotor with one or more flux barriers per pole, magnets in any of them.

    Attributes
    ----------
    outer_radius, shaft_radius : float
        Rotor surface and shaft radii [m].
    barriers : tuple of Barrier
        From the gap inwards.
    magnet_axial_segments, magnet_width_segments : int
        Pieces of each magnet along the stack and across its width.
    """

    outer_radius: float
    shaft_radius: float
    barriers: tuple[Barrier, ...]
    magnet_axial_segments: int
    magnet_width_segments: int

    @property
    def magnet_barriers(self) -> tuple[Barrier, ...]:
        """The barriers that hold a magnet."""
        return tuple(b for b in self.barriers if b.has_magnet)

    @property
    def has_magnets(self) -> bool:
        """Whether any barrier holds a magnet."""
        return bool(self.magnet_barriers)


Rotor = InteriorRotor | LayeredRotor | SurfaceRotor | CageRotor
"""Any rotor: each family's class joins with `|`. Every one has `outer_radius` (inner bound of the
mechanical air gap) and `shaft_radius` [m]; all else is known only to the family's own functions,
which the family tables name (`docs/decisions/012-rotor-families.md`)."""


@dataclass(frozen=True)
class Machine:
    """A resolved design.

    Attributes
    ----------
    family : str
        Kind of rotor.
    parameters : mapping
        The full flat table of parameters (SI, names of `nomenclature.PARAMETERS`) it was
        built from.
    pole_pairs : int
        Pole pairs.
    stack_length, air_gap, stacking_factor : float
        Stack length [m], radial gap [m], iron length over stack length.
    stator, winding, rotor : objects
        Parts.
    lamination, magnet, conductor : objects
        Materials.
    """

    family: str
    parameters: Mapping[str, ParameterValue]
    pole_pairs: int
    stack_length: float
    air_gap: float
    stacking_factor: float
    stator: Stator
    winding: Winding
    rotor: Rotor
    lamination: Lamination
    magnet: Magnet
    conductor: Conductor


Kind = TypeVar("Kind")


def rotor_as(machine: Machine, kind: type[Kind]) -> Kind:
    """Return the machine's rotor as one family's class.

    Raises
    ------
    InvalidInputError
        The rotor is of another family.
    """
    if not isinstance(machine.rotor, kind):
        raise InvalidInputError(
            f"a machine of family {machine.family!r} has a {type(machine.rotor).__name__}; this "
            f"function is for a {kind.__name__}"
        )
    return machine.rotor
