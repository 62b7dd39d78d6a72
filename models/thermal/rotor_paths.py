"""How heat crosses each family's rotor: the one table `models.thermal.network` reads."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import dist, pi

import numpy as np

from models.cage_rotor import CageRotor
from models.geometry.cage import bar_outline
from models.machine import InteriorRotor, LayeredRotor, Machine, rotor_as
from models.materials.sleeve import sleeve
from models.surface_rotor import SurfaceRotor
from models.thermal.conductances import in_series, tube
from models.thermal.coolants import STILL_AIR

MAGNET_CONTACT = 30e-6
"""Air gap equal to the contact of each magnet face [m] (common practice, no source)."""


@dataclass(frozen=True)
class RotorPaths:
    """Conductances inside a rotor [W/K].

    Attributes
    ----------
    outside : float
        From the air-gap surface to the node that faces the gap.
    gap_node : str
        That node: `rotor_iron`, or `magnets` where they cover the surface.
    magnets : float
        Between magnets and rotor iron.
    inside : float
        From rotor iron to the shaft seat.
    """

    outside: float
    gap_node: str
    magnets: float
    inside: float


def interior_paths(machine: Machine) -> RotorPaths:
    """Return the paths of a rotor with buried magnets.

    The rotor-iron node lies at the mean radius of the magnets' corners.
    """
    r, magnet = rotor_as(machine, InteriorRotor), machine.magnet
    k, length = machine.lamination.thermal_conductivity, _iron_length(machine)
    middle = float(np.mean([np.hypot(x, y) for x, y in r.magnet_corners]))
    faces = 2.0 * 4.0 * machine.pole_pairs * r.magnet_width * machine.stack_length
    depth = r.magnet_thickness / (6.0 * magnet.thermal_conductivity) + MAGNET_CONTACT / STILL_AIR
    return RotorPaths(
        outside=tube(k, inner=middle, outer=r.outer_radius, length=length),
        gap_node="rotor_iron",
        magnets=faces / depth,
        inside=tube(k, inner=r.shaft_radius, outer=middle, length=length),
    )


def layered_paths(machine: Machine) -> RotorPaths:
    """Return the paths of a rotor with layers of barriers.

    The rotor-iron node lies at the mean radius of the magnets' corners, without magnets at that
    of the barriers' corners; then the magnets' node is the air in the barriers.
    """
    r = rotor_as(machine, LayeredRotor)
    k, length = machine.lamination.thermal_conductivity, _iron_length(machine)
    holders = r.magnet_barriers or r.barriers
    corners = [p for b in holders for p in b.magnet_corners or (*b.gap_face, *b.shaft_face)]
    middle = float(np.mean([np.hypot(x, y) for x, y in corners]))
    inside_magnet = machine.magnet.thermal_conductivity if r.has_magnets else STILL_AIR
    across = 0.0
    for b in holders:
        width = b.magnet_width or dist(*b.gap_face[:2]) + dist(*b.gap_face[1:])
        depth = (b.magnet_thickness or b.thickness) / (6.0 * inside_magnet)
        across += width / (depth + MAGNET_CONTACT / STILL_AIR)
    return RotorPaths(
        outside=tube(k, inner=middle, outer=r.outer_radius, length=length),
        gap_node="rotor_iron",
        magnets=2.0 * 4.0 * machine.pole_pairs * across * machine.stack_length,
        inside=tube(k, inner=r.shaft_radius, outer=middle, length=length),
    )


CAGE_CONTACT = 20e-6
"""Air gap equal to the contact of a bar in its slot [m] (common practice, no source)."""


def cage_paths(machine: Machine) -> RotorPaths:
    """Return the paths of a rotor with a cage, whose node takes the place of the magnets'.

    Bars are as warm as their rings; heat leaves them over their whole outline. The rotor-iron
    node lies at half of the bars' height. Outwards the teeth between the bars carry it: iron's
    share of the circumference there.
    """
    r = rotor_as(machine, CageRotor)
    k, length = machine.lamination.thermal_conductivity, _iron_length(machine)
    middle = 0.5 * (r.bar_top + r.bar_bottom)
    outline = bar_outline(r).polygon(0.1)
    perimeter = float(np.hypot(*(outline - np.roll(outline, 1, axis=0)).T).sum())
    share = 1.0 - float(r.width(np.array([middle]))[0]) / (r.slot_pitch * middle)
    return RotorPaths(
        outside=share * tube(k, inner=middle, outer=r.outer_radius, length=length),
        gap_node="rotor_iron",
        magnets=r.bars * perimeter * machine.stack_length * STILL_AIR / CAGE_CONTACT,
        inside=tube(k, inner=r.shaft_radius, outer=middle, length=length),
    )


def any_interior_paths(machine: Machine) -> RotorPaths:
    """Return the paths of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    return (layered_paths if is_layered else interior_paths)(machine)


def surface_paths(machine: Machine) -> RotorPaths:
    """Return the paths of a rotor with magnets on its surface.

    The magnets' node lies at half their thickness and faces the gap through the sleeve; the
    rotor-iron node at the magnets' base. Heat that would cross the air between magnets is left out.
    """
    r, magnet = rotor_as(machine, SurfaceRotor), machine.magnet
    length = machine.stack_length
    share = 2.0 * machine.pole_pairs * r.arc_half_angle / pi
    middle = 0.5 * (r.base_radius + r.magnet_radius)
    to_face = share * tube(
        magnet.thermal_conductivity, inner=middle, outer=r.magnet_radius, length=length
    )
    if r.sleeve_thickness > 0.0:
        cover = tube(
            sleeve(r.sleeve_material).thermal_conductivity,
            inner=r.magnet_radius,
            outer=r.outer_radius,
            length=length,
        )
        contact = STILL_AIR / MAGNET_CONTACT * 2.0 * pi * r.magnet_radius * length
        to_face = in_series(to_face, contact, cover)
    to_base = share * tube(
        magnet.thermal_conductivity, inner=r.base_radius, outer=middle, length=length
    )
    seat = share * STILL_AIR / MAGNET_CONTACT * 2.0 * pi * r.base_radius * length
    return RotorPaths(
        outside=to_face,
        gap_node="magnets",
        magnets=in_series(to_base, seat),
        inside=tube(
            machine.lamination.thermal_conductivity,
            inner=r.shaft_radius,
            outer=r.base_radius,
            length=_iron_length(machine),
        ),
    )


def rotor_paths(machine: Machine) -> RotorPaths:
    """Return the heat paths of a machine's rotor."""
    return PATHS[machine.family](machine)


def _iron_length(machine: Machine) -> float:
    return machine.stack_length * machine.stacking_factor


PATHS: Mapping[str, Callable[[Machine], RotorPaths]] = {
    "interior": any_interior_paths,
    "reluctance": layered_paths,
    "cage": cage_paths,
    "surface": surface_paths,
}
