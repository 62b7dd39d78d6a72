"""The driver process is killed or interrupted at any moment and started again."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.store.sqlite import SqliteStore
from tests.fault.drive_toy import PLAN
from tests.fault.toy_search import FUNCTIONS, ToySearcher, contents, evaluate, front

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def reference(tmp_path_factory):
    with SqliteStore(tmp_path_factory.mktemp("reference") / "s.sqlite") as store:
        store.create_run("toy", "", run_id="r")
        drive("r", ToySearcher(), SerialDispatcher(evaluate), store, functions=FUNCTIONS, plan=PLAN)
        return contents(store, "r"), front(store, "r")


@pytest.fixture
def path(tmp_path):
    (tmp_path / "log").mkdir()
    path = tmp_path / "paretorque.sqlite"
    with SqliteStore(path) as store:
        store.create_run("toy", "", run_id="r")
    return path


def start(path, mean_seconds):
    return subprocess.Popen(
        [sys.executable, "-m", "tests.fault.drive_toy", str(path), str(path.parent / "log"),
         str(mean_seconds)],
        cwd=ROOT, stdout=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip


def count(path):
    with SqliteStore(path) as store:
        return store.count("r")


def wait_for_rows(path, process, rows):
    end = time.monotonic() + 60.0
    while count(path) < rows and process.poll() is None and time.monotonic() < end:
        time.sleep(0.02)


def evaluations_by_design(log):
    counts = {}
    for file in log.iterdir():
        name = file.name.split(".")[0]
        counts[name] = counts.get(name, 0) + file.stat().st_size
    return counts


def test_kill_9_at_any_moment_loses_nothing_and_counts_each_candidate_once(path, reference):
    pick = random.Random(20)
    kept, children = [], []
    for _ in range(2):
        process = start(path, 0.02)
        wait_for_rows(path, process, count(path) + pick.randrange(5, 60))
        children += psutil.Process(process.pid).children(recursive=True)
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
        with SqliteStore(path) as store:
            rows = contents(store, "r")
            assert rows[: len(kept)] == kept or set(kept) <= set(rows)
            kept = rows
            assert store.run("r").state == "running"
    process = start(path, 0.0)
    assert process.communicate(timeout=90)[0].strip() == "done"
    with SqliteStore(path) as store:
        assert contents(store, "r") == reference[0]
        assert front(store, "r") == reference[1]
    # Only what was on its way at a kill may have been evaluated again.
    repeats = sum(n - 1 for n in evaluations_by_design(path.parent / "log").values())
    assert repeats <= 2 * PLAN.lag
    # Workers do not outlive their driver.
    psutil.wait_procs(children, timeout=5.0)
    assert not [child for child in children if child.is_running()]


def test_ctrl_c_finishes_what_runs_and_the_run_resumes(path, reference):
    process = start(path, 0.1)
    wait_for_rows(path, process, 20)
    # As a terminal does: to every process of the group, workers too.
    os.killpg(process.pid, signal.SIGINT)
    assert process.communicate(timeout=60)[0].strip() == "interrupted"
    assert process.returncode == 0
    log = evaluations_by_design(path.parent / "log")
    with SqliteStore(path) as store:
        assert store.run("r").state == "interrupted"
        evaluated = [row for row in store.rows("r") if row.origin == "evaluated"]
        # What had begun was finished and kept.
        assert len(evaluated) == len(log)
    process = start(path, 0.0)
    assert process.communicate(timeout=90)[0].strip() == "done"
    assert max(evaluations_by_design(path.parent / "log").values()) == 1
    with SqliteStore(path) as store:
        assert contents(store, "r") == reference[0]


def test_a_second_ctrl_c_stops_at_once(path, reference):
    process = start(path, 2.0)
    wait_for_rows(path, process, 2)
    os.killpg(process.pid, signal.SIGINT)
    time.sleep(0.3)
    begin = time.monotonic()
    os.killpg(process.pid, signal.SIGINT)
    assert process.communicate(timeout=60)[0].strip() == "interrupted"
    assert time.monotonic() - begin < 5.0
    process = start(path, 0.0)
    assert process.communicate(timeout=90)[0].strip() == "done"
    with SqliteStore(path) as store:
        assert contents(store, "r") == reference[0]
