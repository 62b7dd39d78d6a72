"""What holds each family's rotor together, and its inertia: the tables of the strength chain."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from models.machine import Machine
from models.mechanical.inertia import interior_inertia, section_inertia
from models.mechanical.rotor_stress import bridge_safety_factor, burst_speed


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


STRENGTH: Mapping[str, RotorStrength] = {
    "interior": RotorStrength(bridge_safety_factor, burst_speed),
}

INERTIA: Mapping[str, Callable[[Machine], float]] = {
    # families not named take `section_inertia`
    "interior": interior_inertia,
}


def rotor_inertia(machine: Machine) -> float:
    """Return the inertia of the rotor inside the stack, shaft included [kg m^2]."""
    return INERTIA.get(machine.family, section_inertia)(machine)
