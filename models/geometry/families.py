"""How each rotor family gets its shape: the one table that `models.geometry.build` reads."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from models.geometry.barriers import layered_regions
from models.geometry.cage import build_cage_rotor, cage_regions
from models.geometry.interior import interior_regions
from models.geometry.interior_layers import build_interior
from models.geometry.reluctance import build_reluctance_rotor
from models.geometry.section import Region
from models.geometry.surface import build_surface_rotor, surface_regions
from models.machine import LayeredRotor, Machine, ParameterValue, Rotor


class BuildRotor(Protocol):
    """From the flat parameter table (SI) to a rotor that fits the bore."""

    def __call__(
        self, parameters: Mapping[str, ParameterValue], *, outer_radius: float, pole_pairs: int
    ) -> Rotor:
        """Return the rotor, or raise InfeasibleDesignError with a named reason."""
        ...


class DrawRotor(Protocol):
    """From a machine to the regions of one rotor pole."""

    def __call__(self, machine: Machine) -> list[Region]:
        """Return regions that fill the pole's sector up to the rotor radius without overlap."""
        ...


@dataclass(frozen=True)
class RotorShape:
    """Shape of a family's rotor.

    Attributes
    ----------
    build : callable
        Dimensions from parameters.
    regions : callable
        One pole, d axis on the x axis.
    """

    build: BuildRotor
    regions: DrawRotor


def any_interior_regions(machine: Machine) -> list[Region]:
    """Return the regions of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    return layered_regions(machine) if is_layered else interior_regions(machine)


SHAPES: Mapping[str, RotorShape] = {
    "interior": RotorShape(build_interior, any_interior_regions),
    "reluctance": RotorShape(build_reluctance_rotor, layered_regions),
    "cage": RotorShape(build_cage_rotor, cage_regions),
    "surface": RotorShape(build_surface_rotor, surface_regions),
}
