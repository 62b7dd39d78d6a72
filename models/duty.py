"""What a machine must do: supply, speeds, vehicle, cooling, temperatures. SI units, degC."""

from dataclasses import dataclass, field
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Supply:
    """DC link and inverter.

    Attributes
    ----------
    dc_voltage, dc_voltage_min : float
        Nominal and lowest DC-link voltage [V].
    phase_current : float
        Largest phase current, rms [A].
    modulation : float
        Usable share of the linear space-vector limit U_dc / sqrt(3), 0.5 to 1.1.
    stall_current_ratio : float
        Phase current allowed at standstill over `phase_current`, 0 to 1.
    switching_frequency : float
        Of the inverter [Hz]; 0 takes its voltage for a sine (no switching loss in the machine).
    """

    dc_voltage: float
    dc_voltage_min: float
    phase_current: float
    modulation: float = 0.95
    stall_current_ratio: float = 1.0
    switching_frequency: float = 0.0

    @property
    def current_peak(self) -> float:
        """Largest dq current amplitude [A]."""
        return sqrt(2.0) * self.phase_current

    def voltage_peak(self, dc_voltage: float) -> float:
        """Return the largest phase-voltage amplitude [V] at a DC voltage [V]."""
        return self.modulation * dc_voltage / sqrt(3.0)


@dataclass(frozen=True)
class Vehicle:
    """Road load and driveline. One motor drives the vehicle.

    Attributes
    ----------
    mass : float
        Test mass [kg].
    road_load : tuple of 3 float
        f0 [N], f1 [N/(m/s)], f2 [N/(m/s)^2].
    inertia_factor : float
        Effective over test mass for rotating parts (UN GTR 15 uses 1.03).
    wheel_radius : float
        Rolling radius [m].
    gear_ratio, gear_efficiency : float
        Motor over wheel speed; driveline efficiency in both directions.
    regeneration_share : float
        Share of braking power at the wheel that the motor may take, 0 to 1.
    """

    mass: float
    road_load: tuple[float, float, float]
    wheel_radius: float
    gear_ratio: float
    inertia_factor: float = 1.03
    gear_efficiency: float = 0.97
    regeneration_share: float = 0.85


@dataclass(frozen=True, eq=False)
class DriveCycle:
    """Speed against time.

    Attributes
    ----------
    name : str
        Short name.
    time : ndarray, shape (n,)
        Strictly increasing time [s].
    speed : ndarray, shape (n,)
        Vehicle speed [m/s], >= 0.
    """

    name: str
    time: Array
    speed: Array

    def __post_init__(self) -> None:
        if self.time.ndim != 1 or self.time.shape != self.speed.shape or self.time.size < 2:
            raise InvalidInputError(f"cycle {self.name!r}: time and speed must be equal columns")
        if not (np.all(np.isfinite(self.time)) and np.all(np.isfinite(self.speed))):
            raise InvalidInputError(f"cycle {self.name!r}: a value is not a finite number")
        if np.any(np.diff(self.time) <= 0):
            raise InvalidInputError(f"cycle {self.name!r}: time must increase")
        if np.any(self.speed < 0):
            raise InvalidInputError(f"cycle {self.name!r}: speed must not be negative")


@dataclass(frozen=True)
class Cooling:
    """Coolants: water jacket around the stator, oil on the end windings, oil in the shaft.

    Attributes
    ----------
    coolant_temperature : float
        Inlet temperature of the jacket [degC].
    coolant_flow : float
        Volume flow of the jacket [m^3/s]; 0 is no jacket.
    glycol_share : float
        Volume share of ethylene glycol, 0 to 0.6.
    duct_width, duct_height : float
        Section of the helical jacket duct [m].
    ambient_temperature : float
        Air around the machine [degC].
    oil_temperature : float
        Inlet temperature of spray and shaft oil [degC].
    spray_flow, shaft_flow : float
        Volume flow of oil sprayed on both end windings together, and through the hollow shaft
        [m^3/s]; 0 is none.
    """

    coolant_temperature: float = 65.0
    coolant_flow: float = 8.0 / 60e3
    glycol_share: float = 0.5
    duct_width: float = 0.02
    duct_height: float = 0.006
    ambient_temperature: float = 40.0
    oil_temperature: float = 80.0
    spray_flow: float = 0.0
    shaft_flow: float = 0.0


@dataclass(frozen=True)
class Temperatures:
    """Design temperatures [degC].

    Attributes
    ----------
    winding_limit, magnet_limit : float
        Highest allowed hot-spot and magnet temperature (define continuous torque).
    winding_rated, magnet_rated : float
        Winding and magnet temperature at which torque, maps and cycle are stated.
    magnet_hot, magnet_cold : float
        Magnet temperature for demagnetisation and for highest back-EMF.
    rotor_hot : float
        Rotor sheet temperature for strength.
    cage_rated, cage_limit : float
        Cage temperature at which a cage machine is stated, and the highest allowed.
    bearing_rated : float
        Temperature of the bearings' grease at which their friction is stated.
    """

    winding_limit: float = 155.0
    magnet_limit: float = 140.0
    winding_rated: float = 100.0
    magnet_rated: float = 90.0
    magnet_hot: float = 140.0
    magnet_cold: float = -20.0
    rotor_hot: float = 140.0
    cage_rated: float = 120.0
    cage_limit: float = 180.0
    bearing_rated: float = 80.0


@dataclass(frozen=True, eq=False)
class Duty:
    """All that is asked of the machine.

    Attributes
    ----------
    supply, vehicle, cycle, cooling, temperatures : objects
        See their classes.
    top_speed, base_speed : float
        Highest motor speed and the speed at which `torque_at_base_speed` is asked [rad/s].
    continuous_speed, continuous_torque : float
        Load point [rad/s], [N*m] at which steady winding and magnet temperatures are stated.
    launch_time : float
        Time that launch torque must be held at standstill [s].
    overspeed_factor : float
        Overspeed for strength over top speed.
    """

    supply: Supply
    vehicle: Vehicle
    cycle: DriveCycle
    top_speed: float
    base_speed: float
    continuous_speed: float
    continuous_torque: float
    launch_time: float = 10.0
    overspeed_factor: float = 1.2
    cooling: Cooling = field(default_factory=Cooling)
    temperatures: Temperatures = field(default_factory=Temperatures)


def rpm(value: float) -> float:
    """Convert revolutions per minute to rad/s."""
    return value * 2.0 * pi / 60.0
