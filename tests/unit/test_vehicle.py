"""Cycles and road load: hand calculations, energy balance, errors."""

from dataclasses import replace
from math import atan, cos, sin

import numpy as np
import pytest

from models.duty import Vehicle
from models.errors import InvalidInputError
from models.vehicle.cycles import built_in, from_columns, names
from models.vehicle.road_load import motor_demand, torque_on_slope, wheel_energy

CAR = Vehicle(
    mass=1500.0,
    road_load=(110.0, 1.2, 0.4),
    wheel_radius=0.32,
    gear_ratio=9.5,
    gear_efficiency=0.96,
    regeneration_share=0.8,
)


def test_speed_units_agree() -> None:
    a = from_columns("a", time=[0, 1, 2], speed=[0, 36, 72], unit="km/h")
    b = from_columns("b", time=[0, 1, 2], speed=[0, 10, 20], unit="m/s")
    c = from_columns("c", time=[0, 1, 2], speed=np.array([0, 10, 20]) / 0.44704, unit="mph")
    assert a.speed == pytest.approx(b.speed, rel=1e-15)
    assert c.speed == pytest.approx(b.speed, rel=1e-15)


@pytest.mark.parametrize(
    ("time", "speed", "unit", "message"),
    [
        ([0, 1], [0, 1], "knots", "unknown unit of speed 'knots'; allowed are m/s, km/h, mph"),
        ([0, 1], [0, "fast"], "m/s", "columns of numbers"),
        ([0, 1, 1], [0, 1, 2], "m/s", "time must increase"),
        ([0, 1, 2], [0, -1, 2], "m/s", "must not be negative"),
        ([0, 1, 2], [0, 1], "m/s", "equal columns"),
        ([0, 1, 2], [0, float("nan"), 1], "m/s", "not a finite number"),
    ],
)
def test_unusable_columns_are_refused(time, speed, unit, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InvalidInputError, match=f"'mine'.*{message}"):
        from_columns("mine", time=time, speed=speed, unit=unit)


def test_columns_are_copied_and_locked() -> None:
    speed = np.array([0.0, 10.0, 20.0])
    cycle = from_columns("mine", time=[0, 1, 2], speed=speed, unit="km/h")
    assert speed[1] == 10.0
    with pytest.raises(ValueError, match="read-only"):
        cycle.speed[0] = 1.0


def test_unknown_cycle_gives_nearest_spelling() -> None:
    with pytest.raises(InvalidInputError, match="did you mean 'wltc_3b'"):
        built_in("wltc3b")


def test_constant_speed_by_hand() -> None:
    cycle = from_columns("steady", time=[0, 5, 10], speed=[20, 20, 20], unit="m/s")
    force = 110.0 + 1.2 * 20.0 + 0.4 * 400.0  # 294 N
    demand = motor_demand(CAR, cycle)
    assert demand.torque == pytest.approx([force * 0.32 / (9.5 * 0.96)] * 2)
    assert demand.speed == pytest.approx([20.0 / 0.32 * 9.5] * 2)
    assert demand.duration == pytest.approx([5.0, 5.0])
    assert demand.distance == 200.0
    assert wheel_energy(CAR, cycle).traction == pytest.approx(force * 200.0)


def test_braking_by_hand() -> None:
    cycle = from_columns("stop", time=[0, 2], speed=[10, 4], unit="m/s")
    force = 110.0 + 1.2 * 7.0 + 0.4 * 49.0 - 1.03 * 1500.0 * 3.0
    assert force < 0.0
    demand = motor_demand(CAR, cycle)
    assert demand.torque[0] == pytest.approx(force * 0.32 * 0.96 * 0.8 / 9.5)


def test_motor_gives_nothing_at_standstill() -> None:
    demand = motor_demand(CAR, built_in("udds"))
    still = demand.speed == 0.0
    assert still.sum() > 200
    assert np.all(demand.torque[still] == 0.0)


@pytest.mark.parametrize("name", names())
def test_motor_energy_balances_wheel_energy(name: str) -> None:
    """Shaft energy is wheel energy over efficiency, and braking times efficiency and share."""
    cycle = built_in(name)
    wheel = wheel_energy(CAR, cycle)
    demand = motor_demand(CAR, cycle)
    energy = demand.torque * demand.speed * demand.duration
    assert energy[energy > 0].sum() == pytest.approx(wheel.traction / 0.96, rel=1e-12)
    assert energy[energy < 0].sum() == pytest.approx(wheel.braking * 0.96 * 0.8, rel=1e-12)
    assert demand.distance == pytest.approx(wheel.distance, rel=1e-14)


@pytest.mark.parametrize("name", names())
def test_net_wheel_energy_is_road_load_work(name: str) -> None:
    """Start and end at rest: kinetic energy cancels, only the road load remains."""
    cycle = built_in(name)
    assert cycle.speed[0] == cycle.speed[-1] == 0.0
    v = 0.5 * (cycle.speed[1:] + cycle.speed[:-1])
    f0, f1, f2 = CAR.road_load
    work = np.sum((f0 + f1 * v + f2 * v**2) * v * np.diff(cycle.time))
    total = wheel_energy(CAR, cycle)
    assert total.traction + total.braking == pytest.approx(work, rel=1e-9)


def test_torque_on_slope_by_hand() -> None:
    phi = atan(0.3)
    force = 1500.0 * 9.80665 * sin(phi) + 110.0 * cos(phi)
    assert torque_on_slope(CAR, 0.3) == pytest.approx(force * 0.32 / (9.5 * 0.96))
    assert torque_on_slope(CAR, 0.0) == pytest.approx(110.0 * 0.32 / (9.5 * 0.96))


@pytest.mark.parametrize("slope", [-0.1, 1.5, float("nan")])
def test_slope_range(slope: float) -> None:
    with pytest.raises(InvalidInputError, match="0 to 1"):
        torque_on_slope(CAR, slope)


def test_wrong_vehicle_lists_every_mistake() -> None:
    wrong = replace(CAR, mass=0.0, gear_efficiency=1.2, regeneration_share=-1.0)
    with pytest.raises(InvalidInputError, match=r"mass.*gear_efficiency.*regeneration_share"):
        motor_demand(wrong, built_in("us06"))
