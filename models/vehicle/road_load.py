"""From a drive cycle to what the wheel and the motor must deliver."""

from dataclasses import dataclass
from math import atan, cos, sin

import numpy as np
from numpy.typing import NDArray

from models.constants import GRAVITY
from models.duty import DriveCycle, Vehicle
from models.errors import InvalidInputError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class WheelEnergy:
    """Energy and power at the wheel over a cycle.

    Attributes
    ----------
    traction, braking : float
        Sum of the positive and of the negative energies of the intervals [J]; braking <= 0.
    power_max, power_min : float
        Largest and smallest mean power of an interval [W].
    distance : float
        Distance [m].
    """

    traction: float
    braking: float
    power_max: float
    power_min: float
    distance: float


@dataclass(frozen=True, eq=False)
class MotorDemand:
    """What a cycle asks of the motor, one entry per interval.

    Attributes
    ----------
    duration : ndarray, shape (n,)
        Length of the interval [s].
    speed : ndarray, shape (n,)
        Motor speed [rad/s], >= 0; 0 at standstill.
    torque : ndarray, shape (n,)
        Motor shaft torque [N*m], motoring positive, regeneration negative; 0 at standstill.
    distance : float
        Distance of the cycle [m].
    """

    duration: Array
    speed: Array
    torque: Array
    distance: float


def wheel_force(vehicle: Vehicle, cycle: DriveCycle) -> tuple[Array, Array, Array]:
    """Return duration [s], mean speed [m/s] and wheel force [N] of each interval, shape (n - 1,).

    Notes
    -----
    F = f0 + f1 v + f2 v^2 + k m a with v the mean of the speeds at both ends, a their difference
    over the interval, and k the inertia factor (1.03 in UN GTR 15) [1]_.

    References
    ----------
    .. [1] UN Global Technical Regulation No. 15, Annex 7, par. 5 (from memory).
    """
    duration = np.diff(cycle.time)
    v = 0.5 * (cycle.speed[1:] + cycle.speed[:-1])
    a = np.diff(cycle.speed) / duration
    f0, f1, f2 = vehicle.road_load
    force = f0 + f1 * v + f2 * v**2 + vehicle.inertia_factor * vehicle.mass * a
    return duration, v, force


def wheel_energy(vehicle: Vehicle, cycle: DriveCycle) -> WheelEnergy:
    """Return energy and power at the wheel over a cycle, by the rule of UN GTR 15.

    Parameters
    ----------
    vehicle : Vehicle
        Mass and road load; gear and regeneration are not used.
    cycle : DriveCycle
        Speed against time.

    Notes
    -----
    E_i = F_i d_i with d_i = v_i dt, positive and negative ones summed apart; see `wheel_force`.
    """
    duration, v, force = wheel_force(vehicle, cycle)
    energy = force * v * duration
    power = force * v
    return WheelEnergy(
        traction=float(np.sum(energy[energy > 0.0])),
        braking=float(np.sum(energy[energy < 0.0])),
        power_max=float(np.max(power)),
        power_min=float(np.min(power)),
        distance=float(np.sum(v * duration)),
    )


def motor_demand(vehicle: Vehicle, cycle: DriveCycle) -> MotorDemand:
    """Return motor speed and torque of each interval of a cycle.

    Parameters
    ----------
    vehicle : Vehicle
        Road load and driveline; checked, see Raises.
    cycle : DriveCycle
        Speed against time, n points.

    Returns
    -------
    MotorDemand
        n - 1 intervals.

    Raises
    ------
    InvalidInputError
        Mass, radius, ratio or inertia factor not positive, efficiency outside (0, 1], or
        regeneration share outside [0, 1].

    Notes
    -----
    With wheel force F, radius r, ratio G, efficiency eta: traction T = F r / (G eta); braking
    T = F r eta s / G with s the regeneration share, the rest goes to the friction brakes. At
    standstill the brakes hold the vehicle and the motor gives nothing (see `torque_on_slope`
    for a start on a hill).
    """
    _require_valid(vehicle)
    duration, v, force = wheel_force(vehicle, cycle)
    at_shaft = force * vehicle.wheel_radius / vehicle.gear_ratio
    torque = np.where(
        force >= 0.0,
        at_shaft / vehicle.gear_efficiency,
        at_shaft * vehicle.gear_efficiency * vehicle.regeneration_share,
    )
    return MotorDemand(
        duration=duration,
        speed=v / vehicle.wheel_radius * vehicle.gear_ratio,
        torque=np.where(v > 0.0, torque, 0.0),
        distance=float(np.sum(v * duration)),
    )


def torque_on_slope(vehicle: Vehicle, slope: float) -> float:
    """Return the motor torque [N*m] that just holds the vehicle, about to move, on a slope.

    Parameters
    ----------
    vehicle : Vehicle
        Mass, f0 and driveline.
    slope : float
        Rise over horizontal run, 0 to 1 (0.30 is a 30 % hill).

    Raises
    ------
    InvalidInputError
        Slope outside 0 to 1, or a vehicle that `motor_demand` refuses.

    Notes
    -----
    T = (m g sin(phi) + f0 cos(phi)) r / (G eta), phi = atan(slope): rolling resistance goes with
    the force normal to the road. No reserve to accelerate is included.
    """
    if not 0.0 <= slope <= 1.0:
        raise InvalidInputError(f"slope {slope!r}: allowed is 0 to 1 (rise over horizontal run)")
    _require_valid(vehicle)
    phi = atan(slope)
    force = vehicle.mass * GRAVITY * sin(phi) + vehicle.road_load[0] * cos(phi)
    return force * vehicle.wheel_radius / (vehicle.gear_ratio * vehicle.gear_efficiency)


def _require_valid(vehicle: Vehicle) -> None:
    wrong = [
        f"{name} is {getattr(vehicle, name)!r}, must be positive"
        for name in ("mass", "wheel_radius", "gear_ratio", "inertia_factor")
        if not getattr(vehicle, name) > 0.0
    ]
    if not 0.0 < vehicle.gear_efficiency <= 1.0:
        wrong.append(f"gear_efficiency is {vehicle.gear_efficiency!r}, must be above 0, at most 1")
    if not 0.0 <= vehicle.regeneration_share <= 1.0:
        wrong.append(f"regeneration_share is {vehicle.regeneration_share!r}, must be 0 to 1")
    if wrong:
        raise InvalidInputError("vehicle: " + "; ".join(wrong))
