"""The supervisor with drivers that do nothing, so that only supervision takes time."""

import time
from dataclasses import replace

import pytest

from optim.jobs import life_cycle
from optim.service.supervisor import SILENCE_SECONDS, Supervisor, SupervisorSettings
from optim.store.errors import StaleStateError
from optim.store.opening import open_database

# No scheduler is there; these drivers need none.
SETTINGS = SupervisorSettings(
    scheduler="tcp://127.0.0.1:9", running_limit=2, driver="tests.fault.idle_driver"
)


@pytest.fixture
def address(tmp_path):
    return str(tmp_path / "paretorque.sqlite")


@pytest.fixture
def store(address):
    with open_database(address) as opened:
        yield opened


@pytest.fixture
def supervisor(address, store):
    made = Supervisor(address, SETTINGS)
    yield made
    made.stop()


def add(store, run_id, what, **settings):
    store.create_run("toy", what, run_id=run_id)
    return store.add_job(run_id, owner="kim", **settings)


def wait_until(is_so, seconds=120.0):
    end = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)


def change(store, run_id, how):
    while True:
        job = store.job(run_id)
        try:
            return store.change_job(job, how(job))
        except StaleStateError:
            continue


def texts(store, run_id):
    return [line.text for line in store.log_lines(run_id)]


def test_jobs_are_started_by_priority_and_no_more_than_allowed_at_once(store, supervisor):
    add(store, "low", "done", priority=-1)
    add(store, "first", "wait")
    add(store, "second", "wait")
    add(store, "urgent", "wait", priority=9)
    supervisor.start()
    wait_until(lambda: len(store.jobs(states=("running",))) == 2)
    time.sleep(0.5)
    assert {job.run_id for job in store.jobs(states=("running",))} == {"urgent", "first"}
    change(store, "urgent", lambda job: life_cycle.cancel(job, now=1.0))
    wait_until(lambda: store.job("second").state == "running")
    assert store.job("low").state == "queued"
    for run_id in ("first", "second"):
        change(store, run_id, lambda job: life_cycle.cancel(job, now=1.0))
    wait_until(lambda: store.job("low").state == "done")
    assert texts(store, "low") == ["queued", "running", "done: budget"]


def test_a_wish_that_its_driver_missed_while_starting_is_told_again(store, supervisor):
    add(store, "r", "wait")
    supervisor.start()
    wait_until(lambda: store.job("r").state == "running")
    # Only the wish of the queue: what the driver was told is lost, as it clears it at its start.
    change(store, "r", life_cycle.pause)
    wait_until(lambda: store.job("r").state == "paused")
    assert store.run("r").state == "interrupted"
    change(store, "r", life_cycle.resume)
    wait_until(lambda: store.job("r").state == "running")
    change(store, "r", lambda job: life_cycle.cancel(job, now=1.0))
    wait_until(lambda: store.job("r").state == "cancelled")
    wait_until(lambda: store.run("r").state == "cancelled")


def test_a_driver_that_crashes_every_time_is_given_up(store, supervisor, monkeypatch):
    monkeypatch.setattr(life_cycle, "FIRST_DELAY_SECONDS", 0.05)
    add(store, "r", "crash")
    add(store, "other", "done")
    supervisor.start()
    wait_until(lambda: store.job("r").state == "failed")
    assert store.job("r").crashes == life_cycle.MAX_CRASHES
    assert "signal 9" in store.job("r").reason
    assert texts(store, "r").count("running") == life_cycle.MAX_CRASHES
    wait_until(lambda: store.job("other").state == "done")


def test_an_error_that_would_come_again_is_not_tried_again(store, supervisor):
    add(store, "r", "fail")
    supervisor.start()
    wait_until(lambda: store.job("r").state == "failed")
    assert store.job("r").reason == "ReplayError: no such search"
    assert texts(store, "r").count("running") == 1


def test_what_a_dead_supervisor_left_running_is_found_and_goes_on(store, supervisor):
    job = add(store, "r", "wait")
    job = store.change_job(job, life_cycle.start(job, now=1.0, rows=0))
    store.change_state("r", "queued", "running")
    done = add(store, "d", "wait")
    store.change_job(done, life_cycle.start(done, now=1.0, rows=0))
    store.change_state("d", "queued", "running")
    store.change_state("d", "running", "done")
    supervisor.start()
    wait_until(lambda: store.job("d").state == "done")
    wait_until(lambda: texts(store, "r").count("running") == 2)
    assert store.job("r").crashes == 0


def test_a_run_that_somebody_drives_by_hand_is_left_to_them(store, address, supervisor):
    add(store, "r", "done")
    with open_database(address) as other, other.hold("r"):
        supervisor.start()
        time.sleep(1.0)
        assert store.job("r").state == "queued"
    wait_until(lambda: store.job("r").state == "done")


def test_a_silent_driver_is_ended_and_started_again(store, address):
    add(store, "r", "silent")
    ahead = [0.0]
    made = Supervisor(address, SETTINGS, clock=lambda: time.time() + ahead[0])
    made.start()
    try:
        wait_until(lambda: store.is_held("r"))
        time.sleep(0.5)
        assert store.job("r").state == "running"
        ahead[0] = 2.0 * SILENCE_SECONDS  # more than a driver may be silent
        wait_until(lambda: any("crashed" in text for text in texts(store, "r")))
    finally:
        made.stop()


def test_stop_ends_drivers_and_their_jobs_wait(store, address):
    add(store, "r", "wait")
    stopped = Supervisor(address, SETTINGS)
    stopped.start()
    wait_until(lambda: store.run("r").state == "running")
    stopped.stop()
    assert not stopped.health().is_alive
    assert store.job("r").state == "queued"
    assert store.run("r").state == "interrupted"


def test_a_limit_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"running_limit: given 0; allowed: 1 or more"):
        replace(SETTINGS, running_limit=0)
