"""Runs that go wrong, driven in this process with evaluations made for it."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.evaluation import Evaluation
from models.machine import ParameterValue
from optim.jobs.dask_dispatcher import ClusterSettings
from optim.jobs.dispatcher import SerialDispatcher
from optim.service import running
from optim.service.cli import command_line
from optim.service.errors import RequestError
from optim.service.rerunning import plan_rerun
from optim.service.run_store import find_run, study_of
from optim.store.contract import EvaluationRow
from optim.store.sqlite import SqliteStore
from optim.study.judge import judge
from optim.study.load import load
from optim.study.model import Study
from optim.study.space import decode, sample
from tests.commands import DEMO, study_text

Evaluate = Callable[[Mapping[str, ParameterValue]], Evaluation]


class InProcess(SerialDispatcher):
    """The serial dispatcher under the arguments of the one on workers."""

    def __init__(self, evaluate: Evaluate, **_: Any) -> None:
        super().__init__(evaluate, batch_seconds=0.0)

    def __enter__(self) -> "InProcess":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


@pytest.fixture
def study() -> Study:
    return load(DEMO)


def _use(monkeypatch: pytest.MonkeyPatch, evaluate: Evaluate) -> None:
    monkeypatch.setattr(running, "DaskDispatcher", InProcess)
    monkeypatch.setattr(running, "evaluator", lambda study: evaluate)


def _all_metrics(study: Study, **changes: float) -> dict[str, float]:
    quantities = (
        "conductor_mass", "purchased_sheet_mass", "stator_sheet_mass", "rotor_sheet_mass",
        "magnet_mass", "heavy_rare_earth_mass", "insulation_area", "shaft_mass",
    )  # fmt: skip
    metrics = dict.fromkeys(quantities, 1.0)
    metrics |= {limit.metric: limit.bound for limit in study.limits}
    return metrics | {"peak_torque": 250.0, "cycle_efficiency": 0.95} | changes


def _failing_every(n: int, study: Study) -> Evaluate:
    count = iter(range(10**9))

    def evaluate(parameters: Mapping[str, ParameterValue]) -> Evaluation:
        if next(count) % n == 0:
            return Evaluation("failed", "circuit", reason="solver", message="no convergence")
        return Evaluation("ok", "circuit", metrics=_all_metrics(study))

    return evaluate


def test_too_many_failures_stop_the_run_with_their_reasons(
    tmp_path: Path,
    study: Study,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("study.toml").write_text(study_text(), encoding="utf-8")
    _use(monkeypatch, _failing_every(3, study))
    monkeypatch.setattr("optim.service.commands_run.warm_up", lambda *_: None)
    monkeypatch.setattr("optim.jobs.session._PROGRESS_SECONDS", 0.0)
    assert command_line(["run", "study.toml", "--budget", "2000", "-q"]) == 4
    said = capsys.readouterr().out
    assert "evaluations failed" in said
    assert "solver" in said
    with SqliteStore() as store:
        record = store.runs()[-1]
        assert 50 <= store.count(record.run_id) < 2000
        assert record.state == "interrupted"


def test_a_tenth_of_failures_does_not_stop_it(
    tmp_path: Path, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    _use(monkeypatch, _failing_every(10, study))
    monkeypatch.setattr("optim.jobs.session._PROGRESS_SECONDS", 0.0)
    with SqliteStore(tmp_path / "s.sqlite") as store:
        record = running.begin(store, running.with_search(study, budget=120))
        result = running.drive_run(store, record, cluster=ClusterSettings())
    assert result.end.state == "done"
    assert not result.has_failed_too_often
    assert result.front.counts.failed == 12
    assert len(result.table()) == len(result.front.candidates)


def test_a_run_keeps_the_search_it_began_with(tmp_path: Path, study: Study) -> None:
    with SqliteStore(tmp_path / "s.sqlite") as store:
        record = running.begin(store, running.with_search(study, seed=5, budget=30))
        again = study_of(find_run(store, record.run_id[:-4]))
    assert again.search == replace(study.search, seed=5, budget=30, population=30, lag=30)
    assert again.limits == study.limits


def test_a_rerun_starts_from_the_whole_known_front(tmp_path: Path, study: Study) -> None:
    vectors = sample(study, np.random.default_rng(1), count=150)
    generator = np.random.default_rng(2)
    rows = []
    for n, vector in enumerate(vectors):
        torque, eta = generator.uniform(200, 300), generator.uniform(0.9, 0.96)
        metrics = _all_metrics(study, peak_torque=torque, cycle_efficiency=eta,
                               magnet_mass=generator.uniform(0.8, 1.6))  # fmt: skip
        rows.append(EvaluationRow(n, f"key{n}", vector, decode(study, vector),
                                  Evaluation("ok", "circuit", metrics=metrics)))  # fmt: skip
    with SqliteStore(tmp_path / "s.sqlite") as store:
        parent = running.begin(store, study)
        store.append(parent.run_id, rows)
        with pytest.raises(RequestError, match="no change"):
            plan_rerun(store, parent)
        plan = plan_rerun(store, parent, limits=["magnet_mass <= 1.2 kg"], budget=500)
        assert plan.known.candidates
        front = {c.number for c in plan.known.candidates}
        assert front <= set(plan.starts[parent.run_id])
        # Beside the front there are the least infeasible, up to a population.
        assert plan.start_count == max(len(front), study.search.population)
        assert plan.study.search.budget == 500 + plan.start_count
        record = running.begin(store, plan.study, parent=parent.run_id, starts=plan.starts)
        starts = running.starting_vectors(store, record, plan.study)
    for c in plan.known.candidates:
        entry = rows[c.number]
        assert judge(plan.study, entry.evaluation, entry.parameters).is_feasible
        assert c.metrics["magnet_mass"] <= 1.2
        assert any(np.array_equal(entry.vector, start) for start in starts)
    assert len(starts) == plan.start_count
