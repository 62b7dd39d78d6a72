"""The life of a job, event by event."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optim.jobs.errors import RunStateError
from optim.jobs.life_cycle import (
    ACTIONS,
    JOB_STATES,
    MAX_CRASHES,
    allowed_actions,
    cancel,
    check_allowed,
    driver_ended,
    may_start,
    orphaned,
    pause,
    resume,
    start,
)
from optim.store.queue_contract import JobRecord

QUEUED = JobRecord("r", "kim", submitted=1.0)
RUNNING = start(QUEUED, now=2.0, rows=0)
ENDS = ("done", "interrupted", "cancelled", "failed", "crashed", "unreachable")


def test_the_usual_life():
    assert (RUNNING.state, RUNNING.started) == ("running", 2.0)
    done = driver_ended(RUNNING, "done", now=9.0, rows=50, reason="budget")
    assert (done.state, done.ended, done.reason) == ("done", 9.0, "budget")
    assert allowed_actions(done) == ("delete",)


def test_what_is_not_running_is_paused_resumed_and_cancelled_at_once():
    paused = pause(QUEUED)
    assert paused.state == "paused"
    assert not may_start(paused, now=1e9)
    assert resume(paused).state == "queued"
    assert cancel(paused, now=3.0).state == "cancelled"
    assert cancel(QUEUED, now=3.0).ended == 3.0


def test_a_running_job_is_paused_when_its_driver_has_left():
    wished = pause(RUNNING)
    assert (wished.state, wished.wish) == ("running", "pause")
    paused = driver_ended(wished, "interrupted", now=5.0, rows=7)
    assert (paused.state, paused.wish) == ("paused", "")


def test_a_pause_can_be_taken_back_before_it_happens():
    back = resume(pause(RUNNING))
    assert (back.state, back.wish) == ("running", "")
    # The driver may have stopped all the same: it is started again.
    assert driver_ended(back, "interrupted", now=5.0, rows=7).state == "queued"


def test_a_cancelled_job_ends_so_however_its_driver_ends():
    wished = cancel(RUNNING, now=3.0)
    assert allowed_actions(wished) == ()
    for end in ("interrupted", "cancelled", "failed", "crashed"):
        assert driver_ended(wished, end, now=5.0, rows=7).state == "cancelled"
    # The run was finished first: nothing is gained by calling it cancelled.
    assert driver_ended(wished, "done", now=5.0, rows=7).state == "done"


def test_a_crash_is_tried_again_later_each_time_and_a_bounded_number_of_times():
    job, waits = RUNNING, []
    for _ in range(MAX_CRASHES - 1):
        job = driver_ended(job, "crashed", now=10.0, rows=0, reason="signal 9")
        assert job.state == "queued"
        waits.append(job.not_before - 10.0)
        assert not may_start(job, now=job.not_before - 0.1)
        job = start(job, now=job.not_before, rows=0)
    assert waits == [1.0, 2.0, 4.0, 8.0]
    job = driver_ended(job, "crashed", now=10.0, rows=0, reason="signal 9")
    assert job.state == "failed"
    assert "signal 9" in job.reason
    again = resume(job)
    assert (again.state, again.crashes) == ("queued", 0)
    assert may_start(again, now=0.0)


def test_crashes_with_new_results_between_them_are_not_in_a_row():
    job = RUNNING
    for k in range(3 * MAX_CRASHES):
        job = driver_ended(job, "crashed", now=10.0, rows=k + 1)
        assert (job.state, job.crashes) == ("queued", 1)
        job = start(job, now=20.0, rows=k + 1)


def test_an_error_that_would_come_again_is_not_tried_again():
    failed = driver_ended(RUNNING, "failed", now=5.0, rows=3, reason="ReplayError: ...")
    assert (failed.state, failed.reason) == ("failed", "ReplayError: ...")


def test_workers_out_of_reach_are_waited_for_without_end_and_without_blame():
    job = RUNNING
    for _ in range(3 * MAX_CRASHES):
        job = driver_ended(job, "unreachable", now=10.0, rows=0, reason="no scheduler")
        assert (job.state, job.crashes) == ("queued", 0)
        assert "no scheduler" in job.reason
        assert not may_start(job, now=19.0)
        job = start(job, now=20.0, rows=0)
    assert driver_ended(pause(job), "unreachable", now=1.0, rows=0).state == "paused"
    assert driver_ended(cancel(job, now=1.0), "unreachable", now=1.0, rows=0).state == "cancelled"


def test_the_end_of_the_service_is_no_fault_of_the_job():
    for end in ("interrupted", "crashed"):
        found = orphaned(replace(RUNNING, crashes=4), end, now=5.0)
        assert (found.state, found.crashes, found.not_before) == ("queued", 4, 0.0)
    assert orphaned(RUNNING, "done", now=5.0).state == "done"
    assert orphaned(pause(RUNNING), "crashed", now=5.0).state == "paused"
    assert orphaned(cancel(RUNNING, now=3.0), "crashed", now=5.0).state == "cancelled"


@pytest.mark.parametrize("state", JOB_STATES)
@pytest.mark.parametrize("action", ACTIONS)
def test_every_action_is_either_allowed_or_refused_with_what_is_allowed(state, action):
    job = replace(QUEUED, state=state)
    if action in allowed_actions(job):
        check_allowed(job, action)
    else:
        with pytest.raises(RunStateError, match="allowed"):
            check_allowed(job, action)


def test_only_a_queued_job_is_started_and_only_a_running_one_ends():
    for state in JOB_STATES:
        job = replace(QUEUED, state=state)
        if state != "queued":
            with pytest.raises(RunStateError, match="allowed to start"):
                start(job, now=1.0, rows=0)
        if state != "running":
            with pytest.raises(RunStateError, match="allowed to end"):
                driver_ended(job, "done", now=1.0, rows=0)


@given(
    st.lists(st.sampled_from(("pause", "resume", "cancel", "start", "tick", *ENDS)), max_size=40)
)
def test_whatever_happens_the_job_is_in_a_state_with_a_way_out(events):
    job, now, rows = QUEUED, 0.0, 0
    for event in events:
        now += 1.0
        before = job
        try:
            if event == "pause":
                job = pause(job)
            elif event == "resume":
                job = resume(job)
            elif event == "cancel":
                job = cancel(job, now=now)
            elif event == "start":
                job = start(job, now=now, rows=rows)
            elif event == "tick":
                rows += 1
            else:
                job = driver_ended(job, event, now=now, rows=rows)
        except RunStateError:
            assert job is before
        assert job.state in JOB_STATES
        assert job.wish == "" or job.state == "running"
        assert job.crashes <= MAX_CRASHES
        assert before.state not in ("done", "cancelled") or job is before
        assert allowed_actions(job) or job.wish == "cancel"
