"""The explanation of a candidate: parts that sum, steps that are evaluations."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from models.evaluate import evaluate
from optim.service.designs import assess, study_design
from optim.service.explain_view import explanation_entries, explanation_view
from optim.service.explaining import Explanation, explain, steps_from
from optim.study.load import load
from optim.study.model import Study

STUDY = Path(__file__).parents[2] / "studies" / "island-post-van.toml"


@pytest.fixture(scope="module")
def study() -> Study:
    return load(STUDY)


@pytest.fixture(scope="module")
def found(study: Study) -> Explanation:
    return explain(assess(study_design(study), study), study)


def test_the_torque_split_behaves_as_theory_says(found: Explanation) -> None:
    torque = found.torque
    # Common practice, no source: magnet torque is greatest where the current is at a right angle
    # to the magnet axis and vanishes on that axis; the total peaks in between.
    assert abs(torque.total[-1]) < 0.01 * torque.total.max()
    assert abs(torque.magnet[-1]) < 0.01 * torque.total.max()
    assert 0 < int(np.argmax(torque.total)) < torque.total.size - 1
    np.testing.assert_allclose(torque.magnet + torque.reluctance, torque.total)


def test_back_emf_grows_with_speed_and_torque_falls(found: Explanation) -> None:
    line = found.speeds
    np.testing.assert_allclose(line.back_emf / line.speed, line.back_emf[0] / line.speed[0])
    assert np.all(np.diff(line.torque) <= 0.0)


def test_every_step_is_an_evaluation_of_its_own(found: Explanation, study: Study) -> None:
    assert {step.name for step in found.steps} >= {
        "+1 pole pair", "+1 turn a coil", "+1 magnet piece along"
    }  # fmt: skip
    for step in found.steps:
        table = {**found.base.design.parameters, **step.changed}
        again = evaluate(table, study.duty, family="interior")
        assert again.status == step.result.evaluation.status
        for name, value in again.metrics.items():
            assert step.result.metrics[name] == value


def test_a_pole_pair_brings_its_slots_and_keeps_the_turns(study: Study) -> None:
    design = study_design(study)
    design = replace(
        design, parameters={**design.parameters, "poles": 8, "slots": 48, "parallel_paths": 4}
    )
    steps = steps_from(design)
    assert steps["+1 pole pair"] == {"poles": 10, "slots": 60, "parallel_paths": 5}


def test_a_step_beyond_the_range_is_left_out(study: Study) -> None:
    design = study_design(study)
    design = replace(design, parameters={**design.parameters, "magnet_axial_segments": 60})
    assert "+1 magnet piece along" not in steps_from(design)


def test_tables_and_entries_tell_the_same(found: Explanation, study: Study) -> None:
    entries = explanation_entries(found, study)
    assert len(entries["torque_by_angle"]) == found.torque.angle.size
    assert [s["step"] for s in entries["steps"]] == [s.name for s in found.steps]
    for case, entry in zip(found.losses, entries["losses_w"]):
        parts = [v for k, v in entry.items() if k not in ("at", "condition", "total")]
        assert sum(parts) == pytest.approx(entry["total"], rel=1e-4)
        assert case.name == entry["at"]
    assert any("one step away" in str(line) for line in explanation_view(found, study))
