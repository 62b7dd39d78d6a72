"""Loss by switching in the whole chain: off by default, balanced, falling with frequency."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from models.evaluate import perform_design
from models.performance.summary import Performance, metrics
from optim.study.load import load

STUDY = load(Path(__file__).parents[2] / "studies" / "island-post-van.toml")


@cache
def run(frequency: float) -> Performance:
    supply = replace(STUDY.duty.supply, switching_frequency=frequency)
    return perform_design(STUDY.baseline, replace(STUDY.duty, supply=supply))


def test_a_sine_supply_is_the_default() -> None:
    assert STUDY.duty.supply.switching_frequency == 0.0
    result = run(0.0)
    assert not result.grid.losses.switching.any()
    assert metrics(result)["cycle_loss_switching"] == 0.0


def test_losses_of_switching() -> None:
    none, slow, fast = (metrics(run(f)) for f in (0.0, 5e3, 10e3))
    # Twice the frequency: a quarter of the current's square, at somewhat more resistance; in the
    # sheets only their skin effect tells, since eddy loss follows voltage.
    assert 0.0 < fast["cycle_loss_switching"] < slow["cycle_loss_switching"]
    for name in ("cycle_loss", "winding_temperature"):
        assert none[name] < fast[name] < slow[name]
    # Every other part but what temperature moves stays as it is: power factor is the fundamental's.
    for name in ("cycle_loss_iron", "cycle_loss_winding", "power_factor", "peak_torque"):
        assert fast[name] == none[name]
    grid = run(10e3).grid
    iron = grid.losses.switching_iron
    assert np.all(iron[1:] > 0.0)
    # 10 to 40 % of iron loss is what is known of converters (from memory); light load has more.
    assert 0.05 < iron[12, -1] / grid.losses.iron[12, -1] < 0.4


def test_energy_balances_with_switching() -> None:
    grid = run(10e3).grid
    mechanical = grid.shaft_torque * grid.speed[:, None]
    balance = (grid.terminal_power - mechanical - grid.losses.total)[1:]
    assert np.max(np.abs(balance) / grid.losses.total[1:]) < 1e-6
