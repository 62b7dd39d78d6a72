"""The scheduler vanishes: an embedded one is started again, a given one is waited for."""

import asyncio
import socket
import subprocess
import sys
import threading
import time
from dataclasses import replace
from functools import partial

import pytest

from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.jobs.errors import DispatchError
from optim.jobs.plan import Plan
from optim.jobs.work import evaluate_one
from optim.store.sqlite import SqliteStore
from tests.fault.toy_search import FUNCTIONS, ToySearcher, contents, evaluate, with_trouble

PLAN = Plan(budget=120, lag=16)


@pytest.fixture
def store(tmp_path):
    with SqliteStore(tmp_path / "paretorque.sqlite") as made:
        made.create_run("toy", "", run_id="reference")
        made.create_run("toy", "", run_id="r")
        yield made


def go(store, run_id, dispatcher):
    return drive(run_id, ToySearcher(), dispatcher, store, functions=FUNCTIONS, plan=PLAN)


def assert_same_as_undisturbed(store, tmp_path):
    with SqliteStore(tmp_path / "undisturbed.sqlite") as other:
        other.create_run("toy", "", run_id="r")
        go(other, "r", SerialDispatcher(evaluate))
        assert contents(store, "r") == contents(other, "r")


def when_rows(store, rows, action):
    """Do something once the run has so many rows."""

    def wait():
        end = time.monotonic() + 60.0
        while store.count("r") < rows and time.monotonic() < end:
            time.sleep(0.02)
        action()

    thread = threading.Thread(target=wait)
    thread.start()
    return thread


def test_an_embedded_scheduler_is_started_again(store, tmp_path):
    dispatcher = DaskDispatcher(with_trouble(mean_seconds=0.03), cluster=ClusterSettings(workers=2))
    first = dispatcher._connection

    def lose():
        cluster = first._cluster
        asyncio.run_coroutine_threadsafe(cluster.scheduler.close(), cluster.loop.asyncio_loop)

    with dispatcher:
        thread = when_rows(store, 20, lose)
        end = go(store, "r", dispatcher)
        thread.join()
        assert dispatcher._connection is not first
    assert end.state == "done"
    assert_same_as_undisturbed(store, tmp_path)


class Elsewhere:
    """A scheduler and a worker in processes of their own, as on another machine."""

    def __init__(self, folder):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.folder = folder
        self.processes = []

    @property
    def address(self):
        return f"tcp://127.0.0.1:{self.port}"

    def start(self, *what):
        process = subprocess.Popen(
            [sys.executable, "-m", "distributed.cli." + what[0], *what[1:]],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.processes.append(process)
        return process

    def start_scheduler(self):
        return self.start(
            "dask_scheduler", "--host", "127.0.0.1", "--port", str(self.port), "--no-dashboard",
            "--dashboard-address", "127.0.0.1:0",
        )  # fmt: skip

    def start_worker(self):
        return self.start(
            "dask_worker", self.address, "--nthreads", "1", "--no-dashboard",
            "--local-directory", str(self.folder),
        )  # fmt: skip

    def end(self):
        for process in self.processes:
            process.terminate()
        for process in self.processes:
            try:
                process.wait(10.0)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


@pytest.fixture
def elsewhere(tmp_path):
    made = Elsewhere(tmp_path)
    yield made
    made.end()


def test_a_given_scheduler_that_comes_back_is_used_again(store, tmp_path, elsewhere):
    scheduler = elsewhere.start_scheduler()
    elsewhere.start_worker()

    def restart():
        scheduler.kill()
        scheduler.wait()
        elsewhere.start_scheduler()
        elsewhere.start_worker()

    settings = ClusterSettings(address=elsewhere.address, reconnect_seconds=60.0)
    with DaskDispatcher(with_trouble(mean_seconds=0.03), cluster=settings) as dispatcher:
        thread = when_rows(store, 20, restart)
        end = go(store, "r", dispatcher)
        thread.join()
    assert end.state == "done"
    assert_same_as_undisturbed(store, tmp_path)


def test_a_given_scheduler_that_stays_away_leaves_the_run_resumable(store, tmp_path, elsewhere):
    scheduler = elsewhere.start_scheduler()
    elsewhere.start_worker()
    settings = ClusterSettings(address=elsewhere.address, reconnect_seconds=60.0)
    dispatcher = DaskDispatcher(with_trouble(mean_seconds=0.03), cluster=settings)
    dispatcher._settings = replace(settings, reconnect_seconds=2.0)
    with dispatcher:
        thread = when_rows(store, 20, scheduler.kill)
        with pytest.raises(DispatchError, match=r"no (scheduler at .*|worker) for 2 s.*resume"):
            go(store, "r", dispatcher)
        thread.join()
    run = store.run("r")
    assert run.state == "interrupted"
    assert "no scheduler" in run.reason
    assert store.count("r") >= 20
    assert go(store, "r", SerialDispatcher(evaluate)).state == "done"
    assert_same_as_undisturbed(store, tmp_path)


def test_runs_that_share_a_scheduler_do_not_get_each_others_results(elsewhere):
    elsewhere.start_scheduler()
    elsewhere.start_worker()
    settings = ClusterSettings(address=elsewhere.address)
    designs = [{"x0": float(x), "x1": 1.0, "x2": 2.0} for x in range(20)]
    slow = with_trouble(mean_seconds=0.05)
    functions = (slow, partial(shifted, by=1000.0, evaluation=slow))
    with (
        DaskDispatcher(functions[0], cluster=settings) as first,
        DaskDispatcher(functions[1], cluster=settings) as second,
    ):
        for number, design in enumerate(designs):
            first.submit(number, design)
            second.submit(number, design)
        outcomes = ([], [])
        while first.in_flight or second.in_flight:  # by turns, so that both are at work
            outcomes[0].extend(first.collect(0.01))
            outcomes[1].extend(second.collect(0.01))
    for function, found in zip(functions, outcomes):
        assert sorted(o.number for o in found) == list(range(20))
        for outcome in found:
            wanted = evaluate_one(function, outcome.number, designs[outcome.number])
            assert dict(outcome.evaluation.metrics) == wanted.metrics


def shifted(parameters, *, by, evaluation):
    found = evaluation(parameters)
    return replace(found, metrics={n: v + by for n, v in found.metrics.items()})


def test_an_address_without_a_scheduler_is_a_clear_error():
    settings = ClusterSettings(address="tcp://127.0.0.1:9", reconnect_seconds=1.0)
    with pytest.raises(DispatchError, match="start it or give another address"):
        DaskDispatcher(evaluate, cluster=settings)
