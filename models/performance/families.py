"""What only one rotor family can tell about its shape: the one table `metrics` reads."""

from collections.abc import Callable, Mapping

from models.machine import InteriorRotor, Machine, rotor_as
from models.mechanical.retention import magnet_retention_factor
from models.mechanical.rotor_stress import bridge_safety_factor

ShapeMetrics = Callable[[Machine, float, float], dict[str, float]]
"""From a machine, its overspeed [rad/s] and the rotor's temperature then [degC] to the family's own
metrics and its number of magnet pieces (SI)."""


def interior_metrics(machine: Machine, overspeed: float, temperature: float) -> dict[str, float]:
    """Return the shape of the V, the strength of bridges and ribs, and the magnet pieces."""
    rotor = rotor_as(machine, InteriorRotor)
    legs = 4 * machine.pole_pairs
    return {
        "bridge_safety_factor": bridge_safety_factor(machine, overspeed, temperature=temperature),
        "magnet_retention_factor": magnet_retention_factor(machine, overspeed),
        "v_angle": 2.0 * rotor.leg_angle,
        "magnet_width": rotor.magnet_width,
        "magnet_pieces": float(legs * rotor.magnet_axial_segments * rotor.magnet_width_segments),
    }


SHAPE_METRICS: Mapping[str, ShapeMetrics] = {
    "interior": interior_metrics,
}
