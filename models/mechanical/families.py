"""What holds each family's rotor together, and its inertia: the tables of the strength chain."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from models.machine import LayeredRotor, Machine
from models.mechanical.cage_stress import cage_burst_speed, cage_inertia, cage_safety_factor
from models.mechanical.inertia import interior_inertia, section_inertia, surface_inertia
from models.mechanical.layer_field import layered_plane_stress_safety_factor
from models.mechanical.layer_stress import layer_burst_speed, layer_safety_factor
from models.mechanical.plane_stress import plane_stress_safety_factor
from models.mechanical.rotor_stress import bridge_safety_factor, burst_speed
from models.mechanical.sleeve import surface_burst_speed, surface_safety_factor


class SafetyFactor(Protocol):
    """Strength over equivalent stress at a speed [rad/s] and rotor temperature [degC]."""

    def __call__(self, machine: Machine, speed: float, *, temperature: float) -> float:
        """Return the least factor over the rotor's parts."""
        ...


@dataclass(frozen=True)
class RotorStrength:
    """Strength of a family's rotor.

    Attributes
    ----------
    safety_factor : callable
    burst_speed : callable
        Speed at which the mean stress of the holding part reaches tensile strength [rad/s].
    """

    safety_factor: SafetyFactor
    burst_speed: Callable[[Machine], float]


def interior_safety_factor(machine: Machine, speed: float, *, temperature: float) -> float:
    """Return the safety factor of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    of_layout = layer_safety_factor if is_layered else bridge_safety_factor
    return of_layout(machine, speed, temperature=temperature)


def interior_burst_speed(machine: Machine) -> float:
    """Return the burst speed [rad/s] of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    return (layer_burst_speed if is_layered else burst_speed)(machine)


def any_interior_inertia(machine: Machine) -> float:
    """Return the inertia [kg m^2] of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    return (section_inertia if is_layered else interior_inertia)(machine)


STRENGTH: Mapping[str, RotorStrength] = {
    "interior": RotorStrength(interior_safety_factor, interior_burst_speed),
    "reluctance": RotorStrength(layer_safety_factor, layer_burst_speed),
    "cage": RotorStrength(cage_safety_factor, cage_burst_speed),
    "surface": RotorStrength(surface_safety_factor, surface_burst_speed),
}

INERTIA: Mapping[str, Callable[[Machine], float]] = {
    # families not named take `section_inertia`
    "interior": any_interior_inertia,
    "cage": cage_inertia,
    "surface": surface_inertia,
}


def interior_plane_stress(machine: Machine, speed: float, temperature: float) -> float:
    """Return the finite elements' safety factor of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    of_layout = layered_plane_stress_safety_factor if is_layered else plane_stress_safety_factor
    return of_layout(machine, speed, temperature)


PLANE_STRESS: Mapping[str, Callable[[Machine, float, float], float]] = {
    # families whose rotor sheet can be checked by plane-stress finite elements
    "interior": interior_plane_stress,
    "reluctance": layered_plane_stress_safety_factor,
}


def rotor_inertia(machine: Machine) -> float:
    """Return the inertia of the rotor inside the stack, shaft included [kg m^2]."""
    return INERTIA.get(machine.family, section_inertia)(machine)
