"""How each rotor family gets its shape: the one table that `models.geometry.build` reads."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from models.geometry.interior import build_interior_rotor, interior_regions
from models.geometry.section import Region
from models.machine import Machine, ParameterValue, Rotor


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


SHAPES: Mapping[str, RotorShape] = {
    "interior": RotorShape(build_interior_rotor, interior_regions),
}
