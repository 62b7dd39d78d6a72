"""Design files: the same SI numbers bit for bit, and clear errors."""

import json
import struct
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.geometry.build import complete
from models.nomenclature import PARAMETERS
from optim.export.design_file import (
    DesignRecord,
    design_json,
    design_record,
    design_toml,
    read_design,
)
from optim.export.errors import DesignFileError
from tests.export_case import CONTEXT, DUTY


def _record(parameters):
    return DesignRecord(
        family="interior", model="circuit", parameters=parameters, physics_version=1,
        version="0.1.0", study_name="harbour-shuttle", run_id="r7", candidate=12,
        duty_digest="0" * 64, design_key="1" * 64,
    )  # fmt: skip


def _value(parameter):
    if parameter.kind == "choice":
        return st.sampled_from(parameter.choices) if parameter.choices else st.text(max_size=12)
    if parameter.kind == "integer":
        return st.integers(int(parameter.low), int(parameter.high))
    low, high = parameter.low / parameter.shown_factor, parameter.high / parameter.shown_factor
    return st.floats(low, high)


TABLES = st.fixed_dictionaries({name: _value(p) for name, p in PARAMETERS.items()})


def _bits(table):
    return {
        name: struct.pack("<d", value) if isinstance(value, float) else value
        for name, value in table.items()
    }


@settings(max_examples=60, deadline=None)
@given(TABLES)
def test_a_design_reads_back_bit_for_bit_from_toml_and_json(table):
    record = _record(table)
    for text in (design_toml(record), design_json(record)):
        again = read_design(text)
        assert _bits(again.parameters) == _bits(table)
        assert again == record


@settings(max_examples=60, deadline=None)
@given(TABLES)
def test_shown_values_divide_back_within_rounding(table):
    shown = tomllib.loads(design_toml(_record(table)))["shown"]
    for name, value in table.items():
        p = PARAMETERS[name]
        if p.kind == "real":
            # two roundings of one half unit in the last place each
            assert shown[p.key] / p.shown_factor == pytest.approx(value, rel=4.5e-16)


def test_shown_values_of_round_designs_are_round():
    shown = tomllib.loads(design_toml(_record(complete({}))))["shown"]
    assert shown["stack_length_mm"] == 140.0
    assert shown["air_gap_mm"] == 0.8
    assert shown["magnet_thickness_mm"] == 5.0


def test_a_shown_value_counts_where_no_exact_one_stands():
    data = json.loads(design_json(_record(complete({}))))
    data["shown"]["stack_length_mm"] = 151.5
    del data["exact_si"]["stack_length"]
    assert read_design(json.dumps(data)).parameters["stack_length"] == 151.5 / 1e3


def test_the_record_names_duty_and_evaluation():
    record = design_record(complete({}), DUTY, family="interior", model="circuit", context=CONTEXT)
    assert len(record.duty_digest) == len(record.design_key) == 64
    other = design_record(
        complete({"air_gap": 0.9e-3}), DUTY, family="interior", model="circuit", context=CONTEXT
    )
    assert other.duty_digest == record.duty_digest
    assert other.design_key != record.design_key


def _changed(table, key, value):
    data = json.loads(design_json(_record(complete({}))))
    data[table][key] = value
    return json.dumps(data)


@pytest.mark.parametrize(
    ("table", "key", "value", "words"),
    [
        ("shown", "stack_lenght_mm", 140.0, ("shown.stack_lenght_mm", "stack_length_mm")),
        ("exact_si", "air_gpa", 1e-3, ("exact_si.air_gpa", "air_gap")),
        ("design", "famly", "interior", ("design.famly", "family")),
        ("design", "family", "inside", ("design.family", "interior")),
        ("design", "candidate", 1.5, ("design.candidate", "whole number")),
        ("shown", "poles", 8.5, ("shown.poles", "whole number")),
        ("shown", "poles", True, ("shown.poles", "whole number")),
        ("shown", "air_gap_mm", "wide", ("shown.air_gap_mm", "finite number")),
        ("shown", "air_gap_mm", float("nan"), ("shown.air_gap_mm", "finite number")),
        ("shown", "conductor", "flat", ("shown.conductor", "rectangular, round")),
        ("shown", "air_gap_mm", 0.9, ("shown.air_gap_mm", "0.9 beside 0.0008 m", "exact_si")),
    ],
)
def test_mistakes_are_told_with_place_and_way_out(table, key, value, words):
    with pytest.raises(DesignFileError) as caught:
        read_design(_changed(table, key, value), source="pack/design.json")
    assert len(caught.value.problems) == 1
    for word in ("pack/design.json", *words):
        assert word in str(caught.value)


def test_all_mistakes_come_at_once():
    data = json.loads(design_json(_record(complete({}))))
    data["shown"]["poles"] = "eight"
    data["shown"]["slost"] = 48
    del data["design"]["model"]
    with pytest.raises(DesignFileError) as caught:
        read_design(json.dumps(data))
    assert len(caught.value.problems) == 3


def test_a_newer_format_is_refused_before_anything_else():
    data = {"design": {"format": 2}, "another": 1}
    with pytest.raises(DesignFileError, match="newer version"):
        read_design(json.dumps(data))


@pytest.mark.parametrize("text", ["", "{", "[[[", "shown = 3", "[]"])
def test_other_text_is_refused(text):
    with pytest.raises(DesignFileError):
        read_design(text)


def test_a_value_that_is_not_finite_is_not_written():
    with pytest.raises(DesignFileError, match="air_gap"):
        design_toml(_record(complete({"air_gap": float("inf")})))
