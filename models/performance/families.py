"""What only one rotor family can tell about its shape: the one table `metrics` reads."""

from collections.abc import Callable, Mapping

from models.cage_rotor import CageRotor
from models.duty import Duty, Temperatures
from models.induction.combinations import slot_bar_conflicts
from models.machine import InteriorRotor, LayeredRotor, Machine, rotor_as
from models.mechanical.layer_stress import layer_safety_factor
from models.mechanical.retention import magnet_retention_factor
from models.mechanical.rotor_stress import bridge_safety_factor
from models.mechanical.sleeve import magnet_contact_factor, sleeve_safety_factor
from models.surface_rotor import SurfaceRotor

ShapeMetrics = Callable[[Machine, float, float], dict[str, float]]
"""From a machine, its overspeed [rad/s] and the rotor's temperature then [degC] to the family's own
metrics and its number of magnet pieces (SI)."""


def interior_metrics(machine: Machine, overspeed: float, temperature: float) -> dict[str, float]:
    """Return the shape of the V, the strength of bridges and ribs, and the magnet pieces."""
    if isinstance(machine.rotor, LayeredRotor):
        inner = machine.rotor.barriers[-1]
        return {
            **layered_metrics(machine, overspeed, temperature),
            "v_angle": 2.0 * inner.leg_angle,
            "magnet_width": inner.magnet_width,
        }
    rotor = rotor_as(machine, InteriorRotor)
    legs = 4 * machine.pole_pairs
    return {
        "bridge_safety_factor": bridge_safety_factor(machine, overspeed, temperature=temperature),
        "magnet_retention_factor": magnet_retention_factor(machine, overspeed),
        "v_angle": 2.0 * rotor.leg_angle,
        "magnet_width": rotor.magnet_width,
        "magnet_pieces": float(legs * rotor.magnet_axial_segments * rotor.magnet_width_segments),
    }


def surface_metrics(machine: Machine, overspeed: float, temperature: float) -> dict[str, float]:
    """Return strength of sleeve and seat, and the magnet pieces."""
    rotor = rotor_as(machine, SurfaceRotor)
    poles = 2 * machine.pole_pairs
    contact = magnet_contact_factor(machine, overspeed, temperature=temperature)
    return {
        "sleeve_safety_factor": sleeve_safety_factor(machine, overspeed, temperature=temperature),
        "magnet_contact_factor": contact,
        "magnet_pieces": float(poles * rotor.magnet_axial_segments * rotor.magnet_width_segments),
    }


def layered_metrics(machine: Machine, overspeed: float, temperature: float) -> dict[str, float]:
    """Return the strength of bridges and ribs, and the magnet pieces, of any layered rotor."""
    rotor = rotor_as(machine, LayeredRotor)
    pieces = rotor.magnet_axial_segments * rotor.magnet_width_segments
    return {
        "bridge_safety_factor": layer_safety_factor(machine, overspeed, temperature=temperature),
        "magnet_retention_factor": magnet_retention_factor(machine, overspeed),
        "magnet_pieces": float(4 * machine.pole_pairs * len(rotor.magnet_barriers) * pieces),
    }


def cage_metrics(machine: Machine, overspeed: float, temperature: float) -> dict[str, float]:
    """Return the rules that slots and bars break; there are no magnets."""
    del overspeed, temperature
    rotor = rotor_as(machine, CageRotor)
    broken = slot_bar_conflicts(machine.stator.slots, rotor.bars, 2 * machine.pole_pairs)
    return {"slot_bar_conflicts": float(len(broken)), "magnet_pieces": 0.0}


SHAPE_METRICS: Mapping[str, ShapeMetrics] = {
    "cage": cage_metrics,
    "interior": interior_metrics,
    "reluctance": layered_metrics,
    "surface": surface_metrics,
}


def _of_magnets(limits: Temperatures) -> tuple[float, float]:
    return limits.magnet_rated, limits.magnet_limit


ROTOR_TEMPERATURES: Mapping[str, Callable[[Temperatures], tuple[float, float]]] = {
    # families not named take the magnets'
    "cage": lambda limits: (limits.cage_rated, limits.cage_limit),
}


def rotor_temperatures(machine: Machine, duty: Duty) -> tuple[float, float]:
    """Return the temperature at which a rotor's maps are stated, and its limit [degC]."""
    return ROTOR_TEMPERATURES.get(machine.family, _of_magnets)(duty.temperatures)
