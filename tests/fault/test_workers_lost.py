"""Workers are killed, hang, or are poisoned; the rows of the run are the same as without."""

import threading
from functools import partial

import psutil
import pytest

from models.evaluation import Evaluation
from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.jobs.placement import PlacementSettings
from optim.jobs.plan import Plan
from optim.store.sqlite import SqliteStore
from tests.fault.toy_search import (
    FUNCTIONS,
    ToySearcher,
    contents,
    evaluate,
    front,
    share_between,
    with_trouble,
)

PLAN = Plan(budget=160, lag=16)
# The seeded search meets few of these in a short run; every one costs restarts of workers.
SHORT = Plan(budget=60, lag=8)
POISONED = partial(share_between, 0.55, 0.57)
HANGING = partial(share_between, 0.55, 0.57)


def replaced(parameters, *, chosen, reason):
    """What the rows must say when the chosen designs cannot be evaluated."""
    if chosen(parameters):
        return Evaluation("failed", "", reason=reason)
    return evaluate(parameters)


def run(folder, dispatcher, plan=PLAN):
    with SqliteStore(folder / "paretorque.sqlite") as store:
        store.create_run("toy", "", run_id="r")
        end = drive(
            "r", ToySearcher(), dispatcher, store, functions=FUNCTIONS, plan=plan
        )  # fmt: skip
        assert end.state == "done"
        return contents(store, "r"), front(store, "r")


def run_with_workers(folder, evaluation, *, workers=2, plan=PLAN, **placement):
    with started(evaluation, workers=workers, **placement) as dispatcher:
        return run(folder, dispatcher, plan)


def started(evaluation, *, workers=2, **placement):
    return DaskDispatcher(
        evaluation,
        cluster=ClusterSettings(workers=workers),
        placement=PlacementSettings(**placement),
    )


@pytest.fixture(scope="module")
def reference(tmp_path_factory):
    return run(tmp_path_factory.mktemp("reference"), SerialDispatcher(evaluate))


@pytest.mark.parametrize("workers", [1, 2, 4])
def test_the_number_of_workers_changes_nothing(tmp_path, reference, workers):
    found = run_with_workers(tmp_path, with_trouble(mean_seconds=0.01), workers=workers)
    assert found == reference


def kill_workers(count, stop):
    """Kill -9 a worker process every 1.5 s, sometimes one that is only just starting."""
    killed = 0
    while killed < count and not stop.wait(1.5):
        workers = [
            child
            for child in psutil.Process().children(recursive=True)
            if "spawn_main" in " ".join(child.cmdline())
        ]
        if workers:
            workers[killed % len(workers)].kill()
            killed += 1
    stop.killed = killed


def test_killed_workers_change_nothing(tmp_path, reference):
    stop = threading.Event()
    killer = threading.Thread(target=kill_workers, args=(3, stop))
    with started(with_trouble(mean_seconds=0.08)) as dispatcher:
        killer.start()
        try:
            found = run(tmp_path, dispatcher)
        finally:
            stop.set()
            killer.join()
    assert stop.killed >= 2
    assert found == reference


def test_poisoned_designs_fall_alone(tmp_path):
    wanted = run(
        tmp_path / "wanted",
        SerialDispatcher(partial(replaced, chosen=POISONED, reason="worker_killed")),
        SHORT,
    )
    reasons = [row[6] for row in wanted[0]]
    assert reasons.count("worker_killed") == 1
    found = run_with_workers(tmp_path / "found", with_trouble(poison=POISONED), plan=SHORT)
    assert found == wanted


def test_hung_evaluations_end_at_their_limit(tmp_path):
    wanted = run(
        tmp_path / "wanted",
        SerialDispatcher(partial(replaced, chosen=HANGING, reason="time_limit")),
        SHORT,
    )
    assert [row[6] for row in wanted[0]].count("time_limit") == 1
    found = run_with_workers(
        tmp_path / "found", with_trouble(hang=HANGING), plan=SHORT, time_limit=2.0, start_grace=30.0
    )
    assert found == wanted


def test_workers_compute_with_one_thread_each():
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    with DaskDispatcher(partial(thread_settings, names)) as dispatcher:
        dispatcher.submit(0, {"x0": 1.0})
        outcomes = []
        while dispatcher.in_flight:
            outcomes += dispatcher.collect(0.5)
    assert dict(outcomes[0].evaluation.metrics) == dict.fromkeys(names, 1.0)


def thread_settings(names, parameters):
    import os

    return Evaluation("ok", "circuit", {name: float(os.environ[name]) for name in names})
