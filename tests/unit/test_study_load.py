"""A study file becomes SI values, with defaults where it says nothing."""

from dataclasses import fields
from math import pi

import numpy as np
import pytest

from models.duty import Cooling, Supply, Temperatures, Vehicle
from models.nomenclature import METRICS, PARAMETERS
from optim.study.json_schema import json_schema
from optim.study.load import load, loads
from optim.study.model import Limit, Objective, SearchSettings
from optim.study.schema import CoolingTable, SearchTable, SupplyTable, TemperaturesTable
from tests.study_example import HARBOUR_VAN, edited


def test_values_are_si() -> None:
    study = loads(HARBOUR_VAN)
    assert study.duty.supply.dc_voltage == 350.0
    assert study.duty.supply.dc_voltage_min == pytest.approx(290.0, rel=1e-12)
    assert study.duty.cooling.coolant_flow == pytest.approx(8e-3 / 60.0, rel=1e-12)
    assert study.duty.base_speed == pytest.approx(3800.0 * 2.0 * pi / 60.0, rel=1e-12)
    # 140 km/h on a wheel of 0.33 m radius through a ratio of 10.2
    assert study.duty.top_speed == pytest.approx(140.0 / 3.6 / 0.33 * 10.2, rel=1e-12)
    assert study.fixed["stator_outer_diameter"] == 0.205
    assert study.fixed["slots"] == 48
    assert study.text == HARBOUR_VAN


def test_road_load_gives_the_same_force_in_both_units() -> None:
    vehicle = loads(HARBOUR_VAN).duty.vehicle
    f0, f1, f2 = vehicle.road_load
    kmh = 90.0
    v = kmh / 3.6
    assert f0 + f1 * v + f2 * v**2 == pytest.approx(190 + 0.6 * kmh + 0.046 * kmh**2, rel=1e-12)


def test_variables_objectives_limits() -> None:
    study = loads(HARBOUR_VAN)
    by_name = {v.name: v for v in study.variables}
    assert list(by_name)[:2] == ["stack_length", "bore_ratio"]
    grid = by_name["magnet_thickness"]
    assert (grid.kind, grid.low, grid.high, grid.step) == ("integer", 0.003, 0.007, 0.0005)
    assert by_name["magnet_grade"].choices == ("N42SH", "N45SH", "N42UH")
    assert by_name["rib_width"].high == pytest.approx(0.002, rel=1e-12)
    assert study.objectives[1] == Objective("peak_torque", "maximise")
    assert Limit("back_emf_line_peak", "<=", 480.0) in study.limits
    assert Limit("bridge_safety_factor", "<=", 8.0) in study.limits
    assert Limit("continuous_current_density", "<=", 9e6) in study.limits
    assert Limit("winding_temperature", "<=", 150.0) in study.limits


def test_baseline_takes_start_then_default_then_middle() -> None:
    study = loads(edited(("low = 0.7, high = 0.93", "low = 0.6, high = 0.7")))
    assert study.baseline["stack_length"] == 0.14  # start
    assert study.baseline["bore_ratio"] == 0.67  # default of the nomenclature
    assert study.baseline["barrier_span_ratio"] == pytest.approx(0.65)  # default 0.86 is outside
    assert study.baseline["magnet_grade"] == "N42SH"
    used = {n for n, p in PARAMETERS.items() if not p.families or "interior" in p.families}
    assert set(study.baseline) == used
    assert set(study.fixed) | {v.name for v in study.variables} == used


def test_numeric_choices_and_integer_steps() -> None:
    study = loads(
        edited(
            ("slots = 48\n", ""),
            ("bore_ratio = { low = 0.6, high = 0.74 }",
             "slots = { choices = [36, 48, 60] }\nair_gap_mm = { choices = [0.7, \"0.9 mm\"] }"),
        )
    )  # fmt: skip
    by_name = {v.name: v for v in study.variables}
    assert by_name["slots"].choices == (36, 48, 60)
    assert by_name["air_gap"].choices == (0.7e-3, 0.9e-3)
    assert study.baseline["slots"] == 48


def test_defaults_of_the_file_are_those_of_the_duty() -> None:
    study = loads(edited(('[duty.cooling]\ncoolant_flow = "8 L/min"\n', "")))
    assert study.duty.cooling == Cooling()
    assert study.duty.temperatures == Temperatures()
    vehicle = study.duty.vehicle
    for name in ("inertia_factor", "gear_efficiency", "regeneration_share"):
        assert getattr(vehicle, name) == Vehicle.__dataclass_fields__[name].default
    assert study.duty.supply.modulation == Supply.__dataclass_fields__["modulation"].default


def test_every_part_of_the_duty_can_be_set() -> None:
    pairs = ((SupplyTable, Supply), (CoolingTable, Cooling), (TemperaturesTable, Temperatures))
    for table, part in pairs:
        for item in fields(part):
            assert any(key.startswith(item.name) for key in table.model_fields), item.name
    settings = {f.name.removeprefix("is_") for f in fields(SearchSettings)}
    assert {key.removesuffix("_s") for key in SearchTable.model_fields} == settings


def test_small_budget_shrinks_the_population_and_lag() -> None:
    search = loads(edited(("budget = 2000", "budget = 40"))).search
    assert (search.population, search.lag, search.budget) == (40, 40, 40)
    search = loads(edited(("budget = 2000", "budget = 900\npopulation = 60"))).search
    assert (search.population, search.lag) == (60, 60)


def test_recorded_cycle_beside_the_study(tmp_path) -> None:
    (tmp_path / "trip.csv").write_text("# a trip\ntime,speed\n0,0\n1,3.6\n2,7.2\n4,0\n")
    path = tmp_path / "van.toml"
    path.write_text(edited(('"wltc_3b"', '{ file = "trip.csv", speed_unit = "km/h" }')))
    cycle = load(path).duty.cycle
    assert cycle.name == "trip"
    np.testing.assert_allclose(cycle.time, [0, 1, 2, 4])
    np.testing.assert_allclose(cycle.speed, [0, 1, 2, 0])


def test_file_with_byte_order_mark_opens(tmp_path) -> None:
    path = tmp_path / "van.toml"
    path.write_text("\ufeff" + HARBOUR_VAN, encoding="utf-8")
    assert load(path).name == "harbour-van"


def test_ranges_and_goals() -> None:
    study = loads(HARBOUR_VAN + '\n[ranking.goals]\ncycle_efficiency = "94 %"\ncost_eur = 300\n')
    assert study.preferences.ranges["peak_torque"] == (200.0, 320.0)
    assert study.preferences.goals == {"cycle_efficiency": 0.94, "cost": 300.0}


def test_json_schema_knows_every_parameter_metric_and_key() -> None:
    schema = json_schema()
    machine = schema["properties"]["machine"]["properties"]
    for name, parameter in PARAMETERS.items():
        assert parameter.key in machine
        assert name in machine
        if parameter.kind == "real":
            number = machine[parameter.key]["anyOf"][0]
            assert (number["minimum"], number["maximum"]) == (parameter.low, parameter.high)
    assert machine["conductor"]["enum"] == ["rectangular", "round"]
    assert "N42SH" in machine["magnet_grade"]["enum"]
    limits = schema["properties"]["limits"]["propertyNames"]["enum"]
    assert set(METRICS) <= set(limits)
    assert "peak_torque_nm" in limits
    supply = schema["$defs"]["SupplyTable"]
    assert supply["additionalProperties"] is False
    assert "dc_voltage" in supply["properties"]
    assert {"anyOf": [{"required": ["dc_voltage_v"]}, {"required": ["dc_voltage"]}]} in supply[
        "allOf"
    ]


def test_json_schema_is_plain_json() -> None:
    import json

    assert json.loads(json.dumps(json_schema())) == json_schema()
