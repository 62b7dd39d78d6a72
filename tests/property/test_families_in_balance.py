"""Every family: energy balances at every point of its maps, and temperatures settle from any
start."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from models.evaluate import perform_design
from models.nomenclature import FAMILIES
from models.performance.efficiency import efficiency_map
from models.performance.heat import thermal_load
from models.performance.summary import Performance
from models.thermal.nodes import NODES
from models.thermal.steady import Load, heat_removed, steady_temperatures, winding_loss
from models.thermal.transient import settled_cycle_temperatures, temperatures_after
from optim.study.load import load

DUTY = load(Path(__file__).parents[2] / "studies" / "island-post-van.toml").duty
YEARS = 1e8
"""Seconds after which nothing is left of any start."""


@cache
def run(family: str) -> Performance:
    """The family's default design with every loss there is, switching too."""
    supply = replace(DUTY.supply, switching_frequency=10e3)
    return perform_design({}, replace(DUTY, supply=supply), family=family)


@pytest.mark.parametrize("family", FAMILIES)
def test_electrical_in_is_mechanical_out_and_every_loss(family: str) -> None:
    result = run(family)
    supply = result.duty.supply
    for voltage in (supply.dc_voltage, supply.dc_voltage_min):
        grid = efficiency_map(result.drive, voltage)
        loss = grid.losses
        # by the parts, so that a part left out of the sum shows
        parts = sum(
            part
            for part in (
                loss.winding_dc, loss.winding_ac, loss.iron, loss.rotor_iron, loss.magnet,
                loss.sleeve, loss.cage, loss.stray, loss.switching_iron, loss.switching_winding,
                loss.mechanical.bearings, loss.mechanical.gap, loss.mechanical.ends,
            )
        )  # fmt: skip
        mechanical = grid.shaft_torque * grid.speed[:, None]
        # At standstill nothing turns: what would brake a rotor is no power drawn.
        braking = np.where(grid.speed[:, None] > 0.0, loss.braking, 0.0)
        drawn = parts - loss.braking + braking
        rest = grid.terminal_power - mechanical - drawn
        scale = np.maximum(np.abs(grid.terminal_power), np.abs(mechanical)) + parts
        assert grid.torque.shape == (25, 25)
        # without current and speed nothing flows at all
        assert np.max(np.abs(rest) / np.maximum(scale, 1.0)) < 1e-6
        assert loss.braking[0].max() < 1e-6 * loss.braking.max()


@pytest.mark.parametrize("family", FAMILIES)
def test_temperatures_settle_from_any_start(family: str) -> None:
    result = run(family)
    network = result.heat.network
    rng = np.random.default_rng(5)
    # a quarter of the envelope's losses, held without end
    grid, k = result.grid, len(result.grid.speed) // 2
    point = grid.losses.each(lambda values: 0.25 * values[k, -1:])
    load_there = thermal_load(result.drive, network, point, grid.speed[k : k + 1]).at(0)
    steady = steady_temperatures(network, load_there)
    assert np.all(np.isfinite(steady))
    starts = [np.full(len(NODES), t) for t in (-40.0, 65.0, 400.0)]
    starts += [rng.uniform(-40.0, 400.0, len(NODES)) for _ in range(5)]
    for start in starts:
        (end,) = temperatures_after(network, load_there, start=start, times=[YEARS])
        assert np.max(np.abs(end - steady)) < 1e-6
    removed = sum(heat_removed(network, steady).values())
    brought = load_there.losses.sum() + winding_loss(network, load_there, steady)
    assert removed == pytest.approx(float(brought), rel=1e-9)


@pytest.mark.parametrize("family", FAMILIES)
def test_repeated_cycles_settle_from_any_start(family: str) -> None:
    """The cycle found at once is the one that marching from cold and from hot runs into."""
    result = run(family)
    network, cycle = result.heat.network, result.cycle
    joined = 10  # intervals of the cycle in one step of the march
    edges = np.arange(0, cycle.duration.size, joined)
    duration = np.add.reduceat(cycle.duration, edges)

    def mean(values: np.ndarray) -> np.ndarray:
        return np.add.reduceat(values * cycle.duration, edges) / duration

    whole = thermal_load(result.drive, network, cycle.losses.each(mean), mean(cycle.speed))
    settled = settled_cycle_temperatures(network, whole, duration, step=duration.max())
    ends = []
    for start in (np.full(len(NODES), -20.0), np.full(len(NODES), 250.0)):
        now = start
        for _ in range(12):
            now = _after_one_cycle(result, whole, duration, now)
        ends.append(now)
    assert np.max(np.abs(ends[0] - ends[1])) < 0.1
    # the march takes second-order steps of ten seconds where these are exact exponentials
    assert np.max(np.abs(ends[0] - settled.start)) < 0.3


def _after_one_cycle(
    result: Performance, load_: Load, duration: np.ndarray, start: np.ndarray
) -> np.ndarray:
    for k in range(duration.size):
        (start,) = temperatures_after(
            result.heat.network, load_.at(k), start=start, times=[duration[k]]
        )
    return start
