"""What every queue of jobs promises, run over each kind of database."""

import threading
from dataclasses import replace

import numpy as np
import pytest

from models.evaluation import Evaluation
from optim.store.contract import AskRecord, EvaluationRow
from optim.store.errors import RunHeldError, StaleStateError, StoreError, UnknownRunError
from optim.store.opening import open_database


@pytest.fixture
def store(store_address):
    with open_database(store_address) as opened:
        for run_id in ("r1", "r2", "r3"):
            opened.create_run("toy", "", run_id=run_id)
        yield opened


@pytest.fixture
def other(store, store_address):
    with open_database(store_address) as opened:
        yield opened


def names(jobs):
    return [job.run_id for job in jobs]


def test_a_new_job_is_queued(store, other):
    job = store.add_job("r1", owner="kim", priority=3)
    assert (job.state, job.owner, job.priority, job.wish) == ("queued", "kim", 3, "")
    assert job.submitted > 0.0
    assert job.version > 0
    assert other.job("r1") == job


def test_a_run_is_queued_once_and_must_exist(store):
    store.add_job("r1", owner="kim")
    with pytest.raises(StoreError, match="queued once"):
        store.add_job("r1", owner="lee")
    with pytest.raises(StoreError, match="run that exists"):
        store.add_job("nope", owner="kim")
    with pytest.raises(UnknownRunError, match="'r2'"):
        store.job("r2")


def test_jobs_are_listed_in_the_order_of_starting(store):
    store.add_job("r2", owner="kim")
    store.add_job("r1", owner="lee", priority=-1)
    store.add_job("r3", owner="kim", priority=5)
    assert names(store.jobs()) == ["r3", "r2", "r1"]
    assert names(store.jobs(owner="kim")) == ["r3", "r2"]
    paused = store.job("r2")
    store.change_job(paused, replace(paused, state="paused"))
    assert names(store.jobs(states=("queued",))) == ["r3", "r1"]
    assert names(store.jobs(states=("paused", "done"))) == ["r2"]


def test_a_job_changes_only_as_it_was_read(store, other):
    read = store.add_job("r1", owner="kim")
    theirs = other.change_job(read, replace(read, state="paused", reason="lunch"))
    assert theirs == store.job("r1")
    assert theirs.version > read.version
    with pytest.raises(StaleStateError, match="look again"):
        store.change_job(read, replace(read, state="running"))
    assert store.job("r1").state == "paused"


def test_one_of_many_that_change_a_job_at_once_succeeds(store, store_address):
    read = store.add_job("r1", owner="kim")
    outcomes, barrier = [], threading.Barrier(4)

    def change(priority):
        with open_database(store_address) as own:
            barrier.wait(20.0)
            try:
                own.change_job(read, replace(read, priority=priority))
            except StaleStateError:
                outcomes.append("stale")
            else:
                outcomes.append("done")

    threads = [threading.Thread(target=change, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["done", "stale", "stale", "stale"]


def test_changes_and_words_stand_in_the_log(store, other):
    job = store.add_job("r1", owner="kim")
    job = store.change_job(job, replace(job, state="running", started=1.0))
    store.log("r1", "warning", "a worker was lost")
    job = other.change_job(job, replace(job, wish="pause"))
    other.change_job(job, replace(job, state="paused", wish="", reason="paused"))
    lines = store.log_lines("r1")
    assert [(line.level, line.text) for line in lines] == [
        ("state", "queued"), ("state", "running"), ("warning", "a worker was lost"),
        ("state", "asked to pause"), ("state", "paused: paused"),
    ]  # fmt: skip
    assert [line.sequence for line in lines] == sorted({line.sequence for line in lines})
    assert store.log_lines("r1", after=lines[2].sequence) == lines[3:]
    assert store.log_lines("r1", most=2) == lines[:2]


def test_a_run_that_is_no_job_has_no_log_and_no_progress(store):
    store.log("r1", "info", "nobody hears this")
    store.report_progress("r1", "{}")
    assert store.log_lines("r1") == ()


def test_progress_is_kept_without_making_what_was_read_stale(store):
    job = store.add_job("r1", owner="kim")
    store.report_progress("r1", '{"told":3}')
    assert store.job("r1").progress == '{"told":3}'
    assert store.change_job(job, replace(job, state="running")).progress == '{"told":3}'


def test_a_deleted_run_is_gone_with_all_of_it_and_no_other(store):
    for run_id in ("r1", "r2"):
        store.add_job(run_id, owner="kim")
        row = EvaluationRow(
            0, "k", np.zeros(2), {"a": 1.0}, Evaluation("ok", "circuit", {"b": 2.0})
        )
        store.append(run_id, [row], asks=[AskRecord(0, 0)])
    with store.hold("r1"):
        pass
    store.delete_run("r1")
    with pytest.raises(UnknownRunError):
        store.run("r1")
    with pytest.raises(UnknownRunError):
        store.job("r1")
    assert store.count("r1") == 0
    assert list(store.asks("r1")) == []
    assert store.log_lines("r1") == ()
    assert (store.count("r2"), store.job("r2").state) == (1, "queued")
    with pytest.raises(UnknownRunError):
        store.delete_run("r1")


def test_only_one_supervises_and_runs_can_be_driven_meanwhile(store, other):
    with store.hold_queue():
        with pytest.raises(RunHeldError), other.hold_queue():
            pass
        with other.hold("r1"):
            assert store.is_held("r1")
            assert other.is_held("r1")
            assert not store.is_held("r2")
    assert not store.is_held("r1")
    with other.hold_queue():
        pass


def test_looking_does_not_keep_a_driver_from_its_run(store, other):
    with store.hold("r1"):
        pass
    ends = threading.Event()

    def look():
        while not ends.is_set():
            other.is_held("r1")

    thread = threading.Thread(target=look)
    thread.start()
    try:
        for _ in range(20):
            with store.hold("r1"):
                pass
    finally:
        ends.set()
        thread.join()
