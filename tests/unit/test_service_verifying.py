"""Verifying a front: what the field model says decides, is kept, and is not asked for twice."""

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.evaluation import Evaluation
from models.machine import ParameterValue
from optim.jobs.dask_dispatcher import ClusterSettings
from optim.service import running, verifying
from optim.service.cli import command_line
from optim.service.errors import RequestError
from optim.service.results import FrontResult, read_front
from optim.service.run_store import find_run, searches
from optim.service.verified import (
    Verification,
    difference,
    difference_unit,
    differences,
    read_verification,
)
from optim.service.verifying import STRESS, open_tasks, verify
from optim.store.contract import EvaluationRow, RunRecord
from optim.store.sqlite import SqliteStore
from optim.study.identity import design_key
from optim.study.load import load
from optim.study.model import Study
from optim.study.space import decode, sample
from tests.commands import DEMO
from tests.unit.test_service_running import InProcess, _all_metrics

STORE = "s.sqlite"
# Candidates 0..3, each better in torque and worse in efficiency than the one before: one front.
TORQUES, EFFICIENCIES = (210.0, 230.0, 250.0, 270.0), (0.96, 0.95, 0.94, 0.93)


@pytest.fixture
def study() -> Study:
    return load(DEMO)


@pytest.fixture
def store(tmp_path: Path, study: Study, monkeypatch: pytest.MonkeyPatch) -> SqliteStore:
    monkeypatch.chdir(tmp_path)
    opened = SqliteStore(STORE)
    record = running.begin(opened, study)
    vectors = sample(study, np.random.default_rng(1), count=4)
    rows = []
    for n, vector in enumerate(vectors):
        table = decode(study, vector)
        key = design_key(study.family, table, duty=study.duty, model="circuit")
        metrics = _all_metrics(study, peak_torque=TORQUES[n], cycle_efficiency=EFFICIENCIES[n])
        rows.append(EvaluationRow(n, key, vector, table, Evaluation("ok", "circuit", metrics)))
    opened.append(record.run_id, rows)
    return opened


def _front(store: SqliteStore, study: Study) -> tuple[RunRecord, FrontResult]:
    record = find_run(store, "last")
    return record, read_front(store, record, study)


class FieldModel:
    """Answers by candidate: metrics changed, or another outcome; counts what it is asked."""

    def __init__(self, front: FrontResult, study: Study, answers: Mapping[int, Any]) -> None:
        self.asked: list[int] = []
        self._numbers = {str(dict(c.parameters)): c.number for c in front.candidates}
        self._study, self._answers = study, answers

    def __call__(self, parameters: Mapping[str, ParameterValue]) -> Evaluation:
        number = self._numbers[str(dict(parameters))]
        self.asked.append(number)
        answer = self._answers.get(number, {})
        if isinstance(answer, Evaluation):
            return answer
        metrics = _all_metrics(
            self._study, peak_torque=TORQUES[number], cycle_efficiency=EFFICIENCIES[number]
        )
        return Evaluation("ok", "field", metrics=metrics | {STRESS: 1.5} | answer)


def _verify(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch, answers: Mapping[int, Any],
    top: int | None = None,
) -> tuple[Verification, Mapping[int, Evaluation], list[int]]:  # fmt: skip
    record, front = _front(store, study)
    assert len(front.candidates) == 4
    model = FieldModel(front, study, answers)
    monkeypatch.setattr(verifying, "DaskDispatcher", InProcess)
    monkeypatch.setattr(verifying, "field_evaluator", lambda study: model)
    result, failed = verify(store, record, front, cluster=ClusterSettings(), top=top)
    return result, failed, model.asked


def test_a_member_that_misses_a_limit_is_dropped_with_limit_and_amount(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    result, _, _ = _verify(store, study, monkeypatch, {2: {"demagnetisation_margin": 0.08}})
    member = result.member(2)
    assert member is not None
    assert member.fate == "misses a limit"
    assert [m.limit.metric for m in member.missed] == ["demagnetisation_margin"]
    assert member.missed[0].share == pytest.approx(-0.2)  # 0.08 T of 0.10 T
    assert member.rank is None
    assert 2 not in {c.number for c in result.by_field.candidates}


def test_ranks_and_dominance_follow_the_field_values(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Candidate 3 loses all its torque advantage: worse than 0 in efficiency, no better in torque.
    result, _, _ = _verify(store, study, monkeypatch, {3: {"peak_torque": 205.0}})
    member = result.member(3)
    assert member is not None
    assert member.fate == "dominated"
    ranks = sorted(m.rank for m in result.members if m.rank is not None)
    assert ranks == [1, 2, 3]
    change = {d.metric: d for d in result.differences}
    assert set(change) == {"peak_torque"}
    # one of four members differs, by -65 of 270 N m
    assert change["peak_torque"].largest == pytest.approx(100.0 * 65.0 / 270.0)
    assert change["peak_torque"].median == 0.0
    assert change["peak_torque"].mean == pytest.approx(-25.0 * 65.0 / 270.0)
    assert change["peak_torque"].worst == 3


def test_nothing_is_solved_twice_and_failures_are_tried_again(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = Evaluation("failed", "field", reason="solver", message="no convergence")
    _, failed, asked = _verify(store, study, monkeypatch, {1: broken})
    assert sorted(asked) == [0, 1, 2, 3]
    assert set(failed) == {1}
    result, failed, asked = _verify(store, study, monkeypatch, {})
    assert asked == [1]
    assert not failed
    assert len(result.verified) == 4
    assert result.members[0].sheet_safety_factor == 1.5
    assert STRESS not in result.members[0].metrics


def test_the_best_n_are_verified_first(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    result, _, asked = _verify(store, study, monkeypatch, {}, top=2)
    assert asked == [m.candidate.number for m in result.members[:2]]
    assert [m.fate for m in result.members[2:]] == ["not verified"] * 2
    record, front = _front(store, study)
    assert len(open_tasks(store, front)) == 2
    assert record.notes["verified_members"] == 2


def test_the_record_of_a_verification_is_no_run(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, front = _front(store, study)
    _verify(store, study, monkeypatch, {})
    after, again = _front(store, study)
    assert after.run_id == before.run_id
    assert len(store.runs()) == 2
    assert len(searches(store)) == 1
    assert [c.number for c in again.candidates] == [c.number for c in front.candidates]
    assert len(read_verification(store, after, again).verified) == 4


def test_commands_show_both_models(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("COLUMNS", "140")  # narrower, the table breaks its words
    assert command_line(["front", "last", "--verified", "--store", STORE]) == 2
    assert "paretorque verify" in capsys.readouterr().err
    _verify(store, study, monkeypatch, {2: {"demagnetisation_margin": 0.08},
                                        0: {"peak_torque": 200.0}})  # fmt: skip
    assert command_line(["front", "last", "--store", STORE]) == 0
    shown = capsys.readouterr().out
    assert "dropped" in shown
    assert "kept" in shown
    assert command_line(["front", "last", "--verified", "--json", "--store", STORE]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["model"] == "field"
    assert {c["candidate"] for c in content["candidates"]} == {0, 1, 3}
    found = {m["candidate"]: m for m in content["verification"]["members"]}
    assert found[2]["outcome"] == "misses a limit"
    assert found[0]["metrics_si"]["peak_torque"] == 200.0
    assert found[0]["metrics_si_circuit"]["peak_torque"] == 210.0


def test_a_run_of_the_field_model_needs_none(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, front = _front(store, study)
    of_field = replace(front, study=replace(study, model="field"))
    with pytest.raises(RequestError, match="field model"):
        verify(store, record, of_field, cluster=ClusterSettings())
    with pytest.raises(RequestError, match="--top"):
        verify(store, record, front, cluster=ClusterSettings(), top=0)


def test_differences_are_relative_unless_the_unit_is_a_share_or_an_absolute_scale() -> None:
    assert difference_unit("peak_torque") == "%"
    assert difference("peak_torque", 200.0, 210.0) == pytest.approx(5.0)
    assert difference_unit("cycle_efficiency") == "points"
    assert difference("cycle_efficiency", 0.95, 0.94) == pytest.approx(-1.0)
    assert difference_unit("demagnetisation_margin") == "T"
    assert difference("demagnetisation_margin", 0.1, 0.05) == pytest.approx(-0.05)
    assert difference("magnet_temperature", 100.0, 103.0) == pytest.approx(3.0)


def test_nothing_is_infinitely_far_from_zero() -> None:
    """A machine whose losses leave no continuous torque has none by both models."""
    assert difference("continuous_torque", 0.0, 0.0) == 0.0
    assert difference("continuous_torque", 0.0, 2.0) is None
    assert difference("continuous_torque", 2.0, 0.0) == pytest.approx(-100.0)


def test_a_member_without_back_emf_leaves_the_differences_finite(
    store: SqliteStore, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "back_emf_line_peak"
    result, _, _ = _verify(store, study, monkeypatch, {0: {name: 0.0}, 3: {name: 0.0}})
    # 0: none by both models; 1: by the field model alone; 2: the same; 3: by the circuit alone
    members = [
        replace(m, candidate=replace(m.candidate, metrics={**m.candidate.metrics, name: 0.0}))
        if m.candidate.number in (0, 1)
        else m
        for m in result.members
    ]
    change = {d.metric: d for d in differences(members)}[name]
    assert (change.median, change.largest) == pytest.approx((0.0, 100.0))
    assert change.mean == pytest.approx(-100.0 / 3.0)
    assert change.worst == 3
