"""Objectives and violations by hand calculation."""

from dataclasses import replace

import numpy as np
import pytest

from models.evaluation import Evaluation
from optim.errors import MissingMetricError
from optim.study.judge import judge, limit_scale, margin
from optim.study.load import loads
from optim.study.model import Limit, Objective, Study
from tests.study_example import HARBOUR_VAN


@pytest.fixture
def study() -> Study:
    return replace(
        loads(HARBOUR_VAN),
        objectives=(Objective("magnet_mass", "minimise"), Objective("peak_torque", "maximise")),
        limits=(
            Limit("launch_torque", ">=", 200.0),
            Limit("back_emf_line_peak", "<=", 500.0),
            Limit("demagnetisation_margin", ">=", 0.0),
        ),
    )


def evaluation(**metrics: float) -> Evaluation:
    usual = {
        "magnet_mass": 1.5, "peak_torque": 300.0, "launch_torque": 220.0,
        "back_emf_line_peak": 450.0, "demagnetisation_margin": 0.1,
    }  # fmt: skip
    return Evaluation("ok", "circuit", usual | metrics)


def test_objectives_are_minimised(study: Study) -> None:
    judgement = judge(study, evaluation(), {})
    np.testing.assert_array_equal(judgement.objectives, [1.5, -300.0])
    np.testing.assert_array_equal(judgement.violations, [0.0, 0.0, 0.0])
    assert judgement.is_feasible
    assert judgement.status == "ok"


def test_violations_are_in_parts_of_the_bound(study: Study) -> None:
    missed = evaluation(launch_torque=150.0, back_emf_line_peak=600.0, demagnetisation_margin=-0.13)
    judgement = judge(study, missed, {})
    # by hand: 50/200, 100/500, and 0.13 T over the plausible width of 1.3 T (-0.5 to 0.8)
    np.testing.assert_allclose(judgement.violations, [0.25, 0.2, 0.1], rtol=1e-12)
    assert not judgement.is_feasible


def test_a_value_on_the_bound_is_feasible(study: Study) -> None:
    on = evaluation(launch_torque=200.0, back_emf_line_peak=500.0, demagnetisation_margin=0.0)
    assert judge(study, on, {}).is_feasible
    below = evaluation(launch_torque=np.nextafter(200.0, 0.0))
    assert not judge(study, below, {}).is_feasible


def test_scale_of_a_negative_bound_is_its_size() -> None:
    limit = Limit("demagnetisation_margin", ">=", -0.2)
    assert limit_scale(limit) == 0.2
    assert margin(limit, -0.3) == pytest.approx(-0.5)


@pytest.mark.parametrize("status", ["infeasible", "failed"])
def test_other_outcomes_have_no_numbers(study: Study, status: str) -> None:
    judgement = judge(study, Evaluation(status, "circuit", reason="x", message="y"), {})  # type: ignore[arg-type]
    assert judgement.objectives is None
    assert judgement.violations is None
    assert not judgement.is_feasible
    assert judgement.status == status


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_is_a_failure(study: Study, value: float) -> None:
    judgement = judge(study, evaluation(peak_torque=value), {})
    assert judgement.status == "failed"
    assert judgement.objectives is None


def test_a_metric_that_the_model_does_not_give_is_told(study: Study) -> None:
    lacking = Evaluation("ok", "circuit", {"magnet_mass": 1.0})
    with pytest.raises(MissingMetricError, match="peak_torque"):
        judge(study, lacking, {})


def test_cost_is_priced_with_the_studys_list(study: Study, monkeypatch) -> None:
    def price(quantities, parameters, prices):
        return {"cost": quantities["magnet_mass"] * prices["magnet"]}

    monkeypatch.setattr("optim.study.judge.priced", price)
    priced = replace(
        study,
        objectives=(Objective("cost", "minimise"),),
        limits=(Limit("cost", "<=", 100.0),),
        prices={"magnet": 80.0},
    )
    judgement = judge(priced, evaluation(), {})
    np.testing.assert_allclose(judgement.objectives, [120.0])
    np.testing.assert_allclose(judgement.violations, [0.2])
