"""Thermal classes of winding insulation."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class InsulationClass:
    """A class of winding insulation.

    Attributes
    ----------
    temperature : float
        Hot-spot temperature that the insulation is made for [degC] (IEC 60085).
    rise : float or None
        Largest mean temperature rise of the winding by resistance [K], indirect air cooling at 40
        degC ambient, below 5 MVA (IEC 60034-1); None where the standard's table was not at hand.
    """

    temperature: float
    rise: float | None


INSULATION_CLASSES: Mapping[str, InsulationClass] = MappingProxyType(
    {
        "A": InsulationClass(105.0, 60.0),
        "E": InsulationClass(120.0, 75.0),
        "B": InsulationClass(130.0, 80.0),
        "F": InsulationClass(155.0, 105.0),
        "H": InsulationClass(180.0, 125.0),
        "N": InsulationClass(200.0, None),
        "R": InsulationClass(220.0, None),
    }
)
"""By letter. What is left between ambient, rise and class temperature, 5 to 15 K, is what the hot
spot may lie above the mean."""
