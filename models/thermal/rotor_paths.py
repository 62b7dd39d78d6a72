"""How heat crosses each family's rotor: the one table `models.thermal.network` reads."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from models.machine import InteriorRotor, Machine, rotor_as
from models.thermal.conductances import tube
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


def rotor_paths(machine: Machine) -> RotorPaths:
    """Return the heat paths of a machine's rotor."""
    return PATHS[machine.family](machine)


def _iron_length(machine: Machine) -> float:
    return machine.stack_length * machine.stacking_factor


PATHS: Mapping[str, Callable[[Machine], RotorPaths]] = {
    "interior": interior_paths,
}
