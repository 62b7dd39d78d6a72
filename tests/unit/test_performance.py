"""The chain from maps to metrics: energy balance, cycle against direct solution, trends."""

from dataclasses import replace

import numpy as np
import pytest

from models.circuit.model import CircuitModel
from models.cost import PRICED
from models.duty import Cooling, Duty, Supply, Vehicle, rpm
from models.evaluate import evaluate, perform_design
from models.nomenclature import family_metrics
from models.performance.drive import losses, shaft_points, terminal_power
from models.performance.summary import Performance, metrics
from models.vehicle.cycles import built_in


@pytest.fixture(scope="module")
def duty() -> Duty:
    return Duty(
        supply=Supply(dc_voltage=350.0, dc_voltage_min=300.0, phase_current=400.0),
        vehicle=Vehicle(
            mass=2100.0, road_load=(170.0, 1.5, 0.55), wheel_radius=0.33, gear_ratio=9.0
        ),
        cycle=built_in("wltc_3b"),
        top_speed=rpm(13000),
        base_speed=rpm(4000),
        continuous_speed=rpm(6000),
        continuous_torque=80.0,
    )


@pytest.fixture(scope="module")
def result(duty: Duty) -> Performance:
    return perform_design({}, duty)


def test_energy_balances_at_every_map_point(result: Performance) -> None:
    grid = result.grid
    shaft = grid.shaft_torque * grid.speed[:, None]
    rest = grid.terminal_power - shaft - grid.losses.total
    assert np.abs(rest).max() < 1e-9 * np.abs(grid.terminal_power).max()


def test_no_loss_is_negative(result: Performance) -> None:
    loss = result.grid.losses
    for part in (loss.winding_dc, loss.winding_ac, loss.iron, loss.magnet, loss.mechanical.total):
        assert part.min() >= 0.0


def test_efficiency_is_output_over_input(result: Performance) -> None:
    grid = result.grid
    assert 0.9 < grid.efficiency.max() < 0.99
    assert grid.efficiency.min() >= 0.0


def test_cycle_from_the_map_equals_solving_every_interval(result: Performance) -> None:
    """Reading the cycle off the map costs less than 0.1 % of the loss."""
    drive, cycle = result.drive, result.cycle
    voltage = result.duty.supply.voltage_peak(result.duty.supply.dc_voltage)
    points, loss = shaft_points(drive, cycle.demand, cycle.speed, voltage)
    power_in = terminal_power(drive, points.i_d, points.i_q, points.speed, loss)
    assert np.all(np.isfinite(power_in))
    moving = cycle.speed > 0.0
    direct = float(cycle.duration[moving] @ loss.total[moving])
    assert cycle.loss_energy == pytest.approx(direct, rel=1e-3)
    assert cycle.missed_energy == 0.0


def test_every_metric_is_there_and_finite(result: Performance) -> None:
    values = metrics(result)
    assert set(values) == set(family_metrics("interior")) - set(PRICED)
    assert all(np.isfinite(v) for v in values.values())


def test_evaluation_is_repeatable(duty: Duty) -> None:
    assert dict(evaluate({}, duty).metrics) == dict(evaluate({}, duty).metrics)


def test_impossible_design_has_a_named_reason(duty: Duty) -> None:
    outcome = evaluate({"shaft_ratio": 0.9}, duty)
    assert (outcome.status, outcome.reason) == ("infeasible", "magnet_too_deep")
    assert not outcome.metrics


def test_a_cycle_beyond_the_machine_is_reported_not_hidden(duty: Duty) -> None:
    heavy = replace(duty, vehicle=replace(duty.vehicle, mass=9000.0))
    values = evaluate({}, heavy).metrics
    assert values["cycle_missed_energy"] > 0.01
    assert values["cycle_missed_time"] > 0.01


def test_thermal_runaway_is_a_named_outcome(duty: Duty) -> None:
    starved = replace(
        duty,
        cooling=Cooling(coolant_flow=1e-7),
        continuous_torque=180.0,
        supply=replace(duty.supply, phase_current=900.0),
    )
    outcome = evaluate({"slot_depth_ratio": 0.4, "parallel_paths": 1, "turns_per_coil": 2}, starved)
    assert outcome.status in {"ok", "infeasible"}
    assert all(np.isfinite(v) for v in outcome.metrics.values())


@pytest.mark.parametrize(
    ("change", "metric", "sign"),
    [
        # a thicker magnet also widens its barrier unless that ratio falls
        ({"magnet_thickness": 6e-3, "barrier_width_ratio": 0.75}, "open_circuit_flux", 1),
        ({"magnet_thickness": 6e-3}, "magnet_mass", 1),
        ({"magnet_thickness": 6e-3}, "demagnetisation_margin", 1),
        # a thicker bridge lowers mean stress; its fillet may see more, since it bends stiffer
        ({"bridge_thickness": 2.0e-3}, "burst_speed", 1),
        ({"rib_width": 4.0e-3}, "bridge_safety_factor", 1),
        ({"rib_width": 3.0e-3}, "open_circuit_flux", -1),
        ({"turns_per_coil": 4}, "base_speed", -1),
        ({"turns_per_coil": 4}, "back_emf_line_peak", 1),
        ({"stack_length": 0.16}, "peak_torque", 1),
        ({"air_gap": 1.0e-3}, "open_circuit_flux", -1),
        ({"magnet_axial_segments": 12}, "cycle_loss_magnet", -1),
    ],
)
def test_trends(
    duty: Duty, result: Performance, change: dict[str, float], metric: str, sign: int
) -> None:
    before, after = metrics(result)[metric], evaluate(change, duty).metrics[metric]
    assert sign * (after - before) > 0.0


def test_cooler_coolant_makes_everything_cooler(duty: Duty, result: Performance) -> None:
    cool = replace(duty, cooling=replace(duty.cooling, coolant_temperature=45.0))
    before, after = metrics(result), evaluate({}, cool).metrics
    for name in ("winding_temperature", "magnet_temperature", "cycle_winding_temperature"):
        assert after[name] < before[name] - 10.0


def test_reluctance_share_agrees_with_the_torque_split(result: Performance) -> None:
    """Both come by frozen permeability; the split's total agrees with the map's torque."""
    model = result.model
    assert isinstance(model, CircuitModel)
    rated = result.duty.temperatures.magnet_rated
    peak = result.duty.supply.current_peak
    split = model.torque_split(current_peak=peak, magnet_temperature=rated)
    assert split.total.max() == pytest.approx(result.drive.table.peak_torque, rel=5e-3)
    best = int(split.total.argmax())
    share = split.reluctance[best] / split.total[best]
    assert metrics(result)["reluctance_share"] == pytest.approx(share, abs=0.02)


def test_losses_vanish_without_current_and_speed(result: Performance) -> None:
    zero = np.zeros(1)
    assert losses(result.drive, zero, zero, zero).total[0] == 0.0
