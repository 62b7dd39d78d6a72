"""Trends: what more pieces, cooler coolant, thinner sheet or a wider gap do to which metric.

Each pair is one design changed in one way. Where a change does not move its metric the way one
would guess, the test says why.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.duty import Duty
from models.evaluate import perform_design
from models.performance.drive import terminal_voltage
from models.performance.policy import policy_saving
from models.performance.summary import Performance, metrics
from optim.study.load import load

STUDY = load(Path(__file__).parents[2] / "studies" / "island-post-van.toml")


@cache
def _run(changes: tuple[tuple[str, Any], ...], coolant: float) -> tuple[Performance, dict]:
    duty: Duty = replace(
        STUDY.duty, cooling=replace(STUDY.duty.cooling, coolant_temperature=coolant)
    )
    result = perform_design({**STUDY.baseline, **dict(changes)}, duty)
    return result, metrics(result)


def values(coolant: float = 65.0, **changes: Any) -> dict[str, float]:
    return _run(tuple(sorted(changes.items())), coolant)[1]


def test_energy_balances_at_every_point_of_the_map() -> None:
    result = _run((), 65.0)[0]
    grid = result.grid
    electrical = grid.terminal_power
    mechanical = grid.shaft_torque * grid.speed[:, None]
    turning = grid.speed > 0.0
    balance = (electrical - mechanical - grid.losses.total)[turning]
    scale = np.maximum(np.abs(electrical), np.abs(mechanical))[turning] + grid.losses.total[turning]
    assert np.max(np.abs(balance) / scale) < 1e-6
    for part in (grid.losses.rotor_iron, grid.losses.magnet, grid.losses.winding_ac):
        assert np.all(part >= -1e-9)
    opening = grid.losses.winding_ac_opening
    assert np.all(opening <= grid.losses.winding_ac + 1e-9)
    assert np.all(opening >= grid.losses.winding_ac / 4.0 - 1e-9)


def test_voltage_stays_within_its_limit_with_the_resistance_of_each_speed() -> None:
    result = _run((), 65.0)[0]
    grid, duty = result.grid, result.duty
    speed = np.repeat(grid.speed, grid.share.size)
    v_d, v_q = terminal_voltage(
        result.drive, grid.i_d.ravel(), grid.i_q.ravel(), speed, grid.losses.each(np.ravel)
    )
    voltage = np.hypot(v_d, v_q).reshape(grid.torque.shape)
    limit = duty.supply.voltage_peak(duty.supply.dc_voltage)
    assert voltage.max() <= limit * (1.0 + 1e-4)
    # field weakening uses all of it
    assert voltage[-1, -1] == pytest.approx(limit, rel=1e-4)
    assert result.drive.factors.resistance_ratio[-1] > 2.0


def test_magnet_pieces() -> None:
    base, more = values(), values(magnet_axial_segments=12)
    assert more["top_speed_magnet_loss"] < base["top_speed_magnet_loss"]
    assert more["cycle_loss_magnet"] < base["cycle_loss_magnet"]
    assert more["magnet_skin_ratio"] <= base["magnet_skin_ratio"]
    assert more["magnet_temperature"] < base["magnet_temperature"]
    # A single long piece is already as wide as the skin depth at the slot harmonic: its ratio is
    # set by the width, so two pieces leave it as it was.
    one, two = values(magnet_axial_segments=1), values(magnet_axial_segments=2)
    assert one["magnet_skin_ratio"] == pytest.approx(two["magnet_skin_ratio"])


def test_cooler_coolant() -> None:
    warm, cool = values(), values(coolant=45.0)
    assert cool["winding_temperature"] < warm["winding_temperature"]
    assert cool["magnet_temperature"] < warm["magnet_temperature"]
    # Cooler magnets are stronger: continuous torque gains even where current is what limits it.
    assert cool["continuous_torque"] > warm["continuous_torque"]


def test_wider_gap_and_thinner_sheet() -> None:
    base = values()
    wide, thin = values(air_gap=1.1e-3), values(lamination="NO20-1200H")
    assert wide["cycle_loss_rotor_iron"] < base["cycle_loss_rotor_iron"]
    assert thin["cycle_loss_iron"] < base["cycle_loss_iron"]
    assert thin["cycle_loss_rotor_iron"] < base["cycle_loss_rotor_iron"]


def test_flatter_bars() -> None:
    """More bars of less height in the same slot lower the rise of resistance with frequency."""
    base, flat = values(), values(turns_per_coil=4)
    assert flat["ac_resistance_ratio"] < base["ac_resistance_ratio"]
    assert 1.0 / 3.0 < flat["opening_loss_share"] < base["opening_loss_share"]


def test_faults() -> None:
    base = values()
    # From the peak of torque the transient drives i_d beyond the inverter's largest current.
    assert base["short_circuit_peak_current"] > np.sqrt(2.0) * base["characteristic_current"]
    assert base["demagnetisation_margin_short_circuit"] < base["demagnetisation_margin"]
    assert base["short_circuit_peak_torque"] > base["short_circuit_torque"]
    thick = values(magnet_thickness=6.5e-3)
    assert thick["demagnetisation_margin"] > base["demagnetisation_margin"]
    assert (
        thick["demagnetisation_margin_short_circuit"]
        > (base["demagnetisation_margin_short_circuit"])
    )
    # Its back-EMF falls all the same: barrier and pocket grow with the magnet's thickness, which
    # leaves it less width.
    assert thick["magnet_width"] < base["magnet_width"]
    strong = values(magnet_grade="N48H")
    assert strong["back_emf_line_peak"] > base["back_emf_line_peak"]
    assert strong["rectification_voltage"] > base["rectification_voltage"]
    assert strong["demagnetisation_margin"] < base["demagnetisation_margin"]
    # 2 / pi of the link against sqrt(3) of the phase: without saliency's help the link reached is
    # pi / (2 sqrt(3)) of the line's peak; saliency can only raise it.
    assert base["rectification_voltage"] >= 0.9 * base["back_emf_line_peak"]


def test_least_loss_saves_and_never_costs() -> None:
    result = _run((), 65.0)[0]
    saving = policy_saving(result.drive, result.grid, result.cycle)
    assert 0.0 <= saving.over_cycle < 0.15
    assert np.all(saving.saving >= 0.0)
    # At standstill there is no iron loss: both policies are one, but for the search's steps.
    assert saving.saving[0].max() < 0.01 * result.grid.losses.total[0].max()
    assert saving.saving[-1].max() > 0.0
