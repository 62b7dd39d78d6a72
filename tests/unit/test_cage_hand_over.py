"""What a cage machine hands over: drawing, tables, torque against angle; its loss at cruise."""

from math import pi

import numpy as np
import pytest

from models.duty import rpm
from models.evaluate import perform_design
from models.performance.drive import shaft_points
from models.performance.summary import Performance, metrics
from optim.export.families import NOTES, carried_temperature
from optim.export.map_tables import cage_table
from optim.export.outlines import machine_regions
from optim.export.plots.loss_split import loss_split_data
from optim.export.plots.torque_angle import torque_angle_data
from tests.export_case import DUTY
from tests.unit.test_cage_machine import FOUR_POLES


@pytest.fixture(scope="module")
def result() -> Performance:
    # 58 bars: not whole over a pole
    return perform_design({**FOUR_POLES, "bars": 58}, DUTY, family="cage")


def test_cage_drawing_covers_the_rotor_once(result):
    machine = result.machine
    regions = machine_regions(machine, result.section)
    rotor = sum(r.area() for r in regions if r.part in (
        "rotor_core", "bar", "rotor_slot_air", "shaft"))  # fmt: skip
    assert rotor == pytest.approx(pi * machine.rotor.outer_radius**2, rel=1e-9)
    assert sum(r.part == "bar" for r in regions) == 58
    bars = sum(r.area() for r in regions if r.part == "bar")
    assert result.areas.bar == pytest.approx(bars, rel=1e-9)
    sheet = sum(r.area() for r in regions if r.part == "rotor_core")
    assert result.areas.rotor_sheet == pytest.approx(sheet, rel=1e-9)


def test_cage_tables_and_words(result):
    table = cage_table(result)
    assert table is not None
    by_name = {c.name: np.asarray(c.values, dtype=float) for c in table.columns}
    busy = by_name["slip_frequency"] > 0.0
    assert busy.any()
    assert np.all(by_name["loss_cage"] >= 0.0)
    marks = NOTES["cage"].marks(result.machine)
    assert any("58 of copper" in mark.text for mark in marks)
    assert carried_temperature(result.machine, DUTY) == "cage 120"
    assert NOTES["cage"].block(result.machine) == ""


def test_cage_torque_against_angle_has_one_peak_within_the_current(result):
    data = torque_angle_data(result, points=31)
    assert data.total[0] == pytest.approx(0.0, abs=1e-6 * data.best_torque)
    assert np.max(data.total) == pytest.approx(data.best_torque, rel=0.01)
    assert 0.0 < data.best_angle < pi / 4
    assert not np.any(data.reluctance)


def test_cage_has_no_emf_and_costs_a_few_per_cent_at_cruise(result):
    """Common practice, no source: no open-circuit EMF; the cage loses a few per cent at cruise."""
    values = metrics(result)
    assert values["back_emf_line_peak"] == pytest.approx(0.0, abs=1e-6)
    assert "magnet_temperature" not in values
    points, loss = shaft_points(
        result.drive, np.array([25.0]), np.array([rpm(7000.0)]),
        DUTY.supply.voltage_peak(DUTY.supply.dc_voltage),
    )  # fmt: skip
    assert points.is_reached[0]
    share = float(loss.cage[0]) / (25.0 * rpm(7000.0))
    assert 0.003 < share < 0.05
    # slip is a small part of the frequency there
    gap_power = float(loss.cage[0] + points.torque[0] * points.speed[0])
    assert float(loss.cage[0]) / gap_power < 0.05


def test_cage_losses_of_every_case_add_up(result):
    for case in loss_split_data(result):
        assert case.total == pytest.approx(sum(case.parts))
    cycle = result.cycle.losses
    parts = cycle.winding + cycle.iron + cycle.rotor_iron + cycle.cage + cycle.stray
    parts = parts + cycle.magnet + cycle.sleeve + cycle.mechanical.total
    np.testing.assert_allclose(cycle.total, parts, rtol=1e-12)
