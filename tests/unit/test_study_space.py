"""Vectors, parameter tables and keys."""

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

import models
from models.duty import DriveCycle
from optim.errors import VectorError
from optim.study.identity import design_key, study_digest
from optim.study.load import loads
from optim.study.model import Study
from optim.study.space import (
    bounds,
    canonical,
    contains,
    decode,
    encode,
    levels,
    sample,
)
from tests.study_example import HARBOUR_VAN, edited


@pytest.fixture(scope="module")
def study() -> Study:
    return loads(HARBOUR_VAN)


def key(study: Study, parameters: dict) -> str:
    return design_key(study.family, parameters, duty=study.duty, model=study.model)


def test_baseline_is_its_own_vector(study: Study) -> None:
    assert decode(study, encode(study, study.baseline)) == study.baseline
    assert contains(study, study.baseline)


def test_values_move_into_bounds_and_onto_the_grid(study: Study) -> None:
    low, high = bounds(study)
    names = [v.name for v in study.variables]
    row = low.copy()
    row[names.index("magnet_thickness")] = 0.00374
    row[names.index("turns_per_coil")] = 3.49
    row[names.index("stack_length")] = 99.0
    row[names.index("magnet_grade")] = 1.6
    parameters = decode(study, row)
    assert parameters["magnet_thickness"] == pytest.approx(0.0035, rel=1e-12)
    assert parameters["turns_per_coil"] == 3
    assert isinstance(parameters["turns_per_coil"], int)
    assert parameters["stack_length"] == high[names.index("stack_length")]
    assert parameters["magnet_grade"] == "N42UH"


def test_negative_zero_is_zero() -> None:
    study = loads(edited(("v_depth_ratio = { low = 0.1,", "v_depth_ratio = { low = 0.0,")))
    row = bounds(study)[0]
    row[row == 0.0] = -0.0
    assert np.any(np.signbit(row))
    assert not np.any(np.signbit(canonical(study, row)))


@pytest.mark.parametrize("bad", [[0.1], [[0.1] * 3], [np.nan] * 11, [np.inf] * 11])
def test_wrong_vectors(study: Study, bad: list) -> None:
    with pytest.raises(VectorError):
        decode(study, bad)


@pytest.mark.parametrize(
    ("name", "value"),
    [("stack_length", 0.3), ("magnet_grade", "N35"), ("turns_per_coil", 2.5),
     ("magnet_thickness", 0.0031), ("bore_ratio", "wide")],
)  # fmt: skip
def test_values_that_are_no_designs(study: Study, name: str, value: object) -> None:
    table = {**study.baseline, name: value}
    with pytest.raises(VectorError, match=name):
        encode(study, table)
    assert not contains(study, table)


def test_other_fixed_parameter_is_another_space(study: Study) -> None:
    assert not contains(study, {**study.baseline, "slots": 36})


def test_sampling_fills_the_space_evenly(study: Study) -> None:
    rows = sample(study, np.random.default_rng(5), count=4000)
    low, high = bounds(study)
    assert np.all(rows >= low)
    assert np.all(rows <= high)
    for k, variable in enumerate(study.variables):
        if variable.kind == "real":
            share = (rows[:, k].mean() - low[k]) / (high[k] - low[k])
            assert share == pytest.approx(0.5, abs=0.03)
        else:
            values, counts = np.unique(rows[:, k], return_counts=True)
            assert len(values) == levels(variable)
            # six standard deviations of a binomial count
            expected = 4000 / levels(variable)
            assert np.all(np.abs(counts - expected) < 6 * np.sqrt(expected))
    again = sample(study, np.random.default_rng(5), count=4000)
    assert np.array_equal(rows, again)


def test_key_depends_on_what_changes_the_metrics(study: Study) -> None:
    base = dict(study.baseline)
    one = key(study, base)
    assert len(one) == 64
    assert key(study, dict(reversed(base.items()))) == one
    assert key(study, {**base, "slots": 48.0}) == one
    assert key(study, {**base, "slots": np.int64(48)}) == one
    assert key(study, {**base, "stack_length": np.nextafter(0.14, 1.0)}) != one
    assert key(study, {**base, "magnet_grade": "N45SH"}) != one
    assert design_key(study.family, base, duty=study.duty, model="field") != one
    assert design_key("cage", base, duty=study.duty, model=study.model) != one
    hotter = replace(study.duty, temperatures=replace(study.duty.temperatures, magnet_hot=150.0))
    assert design_key(study.family, base, duty=hotter, model=study.model) != one
    cycle = study.duty.cycle
    renamed = replace(study.duty, cycle=DriveCycle("other", cycle.time, cycle.speed))
    assert design_key(study.family, base, duty=renamed, model=study.model) == one
    faster = replace(study.duty, cycle=DriveCycle(cycle.name, cycle.time, 1.01 * cycle.speed))
    assert design_key(study.family, base, duty=faster, model=study.model) != one


def test_key_changes_with_the_physics(study: Study, monkeypatch) -> None:
    one = key(study, dict(study.baseline))
    monkeypatch.setattr("optim.study.identity.PHYSICS_VERSION", models.PHYSICS_VERSION + 1)
    assert key(study, dict(study.baseline)) != one


def test_key_does_not_depend_on_the_process(study: Study) -> None:
    code = (
        "from optim.study.identity import design_key\n"
        "from models.duty import *\nimport numpy as np\n"
        "duty = Duty(Supply(350.0, 290.0, 420.0), Vehicle(2e3, (1.0, 2.0, 3.0), 0.3, 10.0),"
        "DriveCycle('x', np.arange(3.0), np.arange(3.0)), 1e3, 5e2, 5e2, 80.0)\n"
        "print(design_key('interior', {'slots': 48, 'air_gap': 1e-3}, duty=duty, model='circuit'))"
    )
    runs = {
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(filter(None, sys.path))},
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(runs) == 1


def test_key_of_a_number_that_is_none(study: Study) -> None:
    with pytest.raises(VectorError):
        key(study, {**study.baseline, "air_gap": float("nan")})


def test_digest_covers_the_aims_but_not_the_words(study: Study) -> None:
    one = study_digest(study)
    assert study_digest(replace(study, name="other", title="other", text="other")) == one
    assert study_digest(loads(HARBOUR_VAN + "# a comment\n")) == one
    assert study_digest(replace(study, limits=study.limits[1:])) != one
    assert study_digest(replace(study, search=replace(study.search, seed=8))) != one
    assert study_digest(replace(study, prices={**study.prices, "extra": 1.0})) != one
