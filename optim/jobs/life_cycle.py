"""The life of a job, without any input or output.

A job is a run in the hands of a service. Each function takes the job as it is and returns it as it
shall be; writing that down, and starting or ending processes, is done elsewhere.

    queued -> running -> done
       ^        |  |---> failed ----> (resume) queued
       |        |  |---> cancelled
       |        |------> paused ----> (resume) queued
       |----------------- a crash, or the end of the service
"""

from dataclasses import replace
from typing import Literal, get_args

from optim.jobs.errors import RunStateError
from optim.store.queue_contract import JobRecord, Wish

JobState = Literal["queued", "running", "paused", "done", "failed", "cancelled"]
Action = Literal["pause", "resume", "cancel", "delete"]
DriverEnd = Literal["done", "interrupted", "cancelled", "failed", "crashed", "unreachable"]

JOB_STATES: tuple[JobState, ...] = get_args(JobState)
ACTIONS: tuple[Action, ...] = get_args(Action)

MAX_CRASHES = 5
"""Crashes in a row without a new result after which a job fails."""
FIRST_DELAY_SECONDS = 1.0
"""Wait after the first crash [s]; it doubles with each further one."""
UNREACHABLE_DELAY_SECONDS = 10.0
"""Wait before a job is tried again for which there were no workers [s]."""

_ALLOWED: dict[str, tuple[Action, ...]] = {
    "queued": ("pause", "cancel", "delete"),
    "paused": ("resume", "cancel", "delete"),
    "done": ("delete",),
    "failed": ("resume", "cancel", "delete"),
    "cancelled": ("delete",),
}
_ALLOWED_RUNNING: dict[Wish, tuple[Action, ...]] = {
    "": ("pause", "cancel"),
    "pause": ("resume", "cancel"),
    "cancel": (),
}


def allowed_actions(job: JobRecord) -> tuple[Action, ...]:
    """Return what a person may do with a job now."""
    return _ALLOWED[job.state] if job.state != "running" else _ALLOWED_RUNNING[job.wish]


def check_allowed(job: JobRecord, action: Action) -> None:
    """Do nothing if a person may do that with a job now.

    Raises
    ------
    RunStateError
        With what is allowed.
    """
    if action not in allowed_actions(job):
        allowed = ", ".join(allowed_actions(job)) or "nothing"
        state = f"{job.state}, to {job.wish}" if job.wish else job.state
        raise RunStateError(f"job {job.run_id!r} is {state}; given {action}; allowed: {allowed}")


def pause(job: JobRecord) -> JobRecord:
    """Return a job that a person wants paused.

    Raises
    ------
    RunStateError
        If its state does not allow that; likewise in the functions below.
    """
    check_allowed(job, "pause")
    if job.state == "running":
        return replace(job, wish="pause")
    return replace(job, state="paused", reason="paused before it was started")


def resume(job: JobRecord) -> JobRecord:
    """Return a job that a person wants to go on."""
    check_allowed(job, "resume")
    if job.state == "running":
        return replace(job, wish="")
    return replace(job, state="queued", reason="resumed", crashes=0, not_before=0.0)


def cancel(job: JobRecord, *, now: float) -> JobRecord:
    """Return a job that a person does not want any more; `now` is the Unix time [s]."""
    check_allowed(job, "cancel")
    if job.state == "running":
        return replace(job, wish="cancel")
    return replace(job, state="cancelled", reason="cancelled", ended=now)


def may_start(job: JobRecord, *, now: float) -> bool:
    """Return whether a queued job's time has come."""
    return job.state == "queued" and now >= job.not_before


def start(job: JobRecord, *, now: float, rows: int) -> JobRecord:
    """Return a job whose driver is about to be started, with `rows` results so far.

    It is written down before the process is started: a supervisor that dies between the two
    leaves a running job without a driver, which the next one finds.
    """
    if job.state != "queued":
        raise RunStateError(f"job {job.run_id!r} is {job.state}; allowed to start: queued")
    return replace(job, state="running", wish="", reason="", started=now, rows_at_start=rows)


def driver_ended(
    job: JobRecord, end: DriverEnd, *, now: float, rows: int, reason: str = ""
) -> JobRecord:
    """Return a running job whose driver has ended.

    Parameters
    ----------
    job : JobRecord
        As it is.
    end : {"done", "interrupted", "cancelled", "failed", "crashed", "unreachable"}
        How the driver ended: with the run's end; asked to stop; cancelled; with an error that
        would come again; in any other way, as when it is killed; workers or database out of reach.
    now : float
        Unix time [s].
    rows : int
        Results that the run has now.
    reason : str
        What is known of the cause.
    """
    if job.state != "running":
        raise RunStateError(f"job {job.run_id!r} is {job.state}; allowed to end: running")
    ended = replace(job, wish="", ended=now)
    if end == "done":
        return replace(ended, state="done", reason=reason, crashes=0)
    if end == "cancelled" or job.wish == "cancel":
        return replace(ended, state="cancelled", reason="cancelled")
    if end == "failed":
        return replace(ended, state="failed", reason=reason)
    if job.wish == "pause":
        return replace(ended, state="paused", reason="paused")
    if end == "interrupted":
        # Nobody wanted this job to stop, so the service did; it goes on when that is back.
        return replace(ended, state="queued", reason="waits for the service to go on")
    if end == "unreachable":
        # No fault of the job, so tried until somebody puts it right, or cancels.
        later = now + UNREACHABLE_DELAY_SECONDS
        return replace(ended, state="queued", reason=f"{reason}; tried again", not_before=later)
    crashes = 1 if rows > job.rows_at_start else job.crashes + 1
    if crashes >= MAX_CRASHES:
        text = f"its driver crashed {crashes} times without a new result; the last: {reason}"
        return replace(ended, state="failed", reason=text, crashes=crashes)
    delay = FIRST_DELAY_SECONDS * 2.0 ** (crashes - 1)
    text = f"its driver crashed ({reason}); it is started again"
    return replace(ended, state="queued", reason=text, crashes=crashes, not_before=now + delay)


def orphaned(job: JobRecord, end: DriverEnd, *, now: float) -> JobRecord:
    """Return a running job whose supervisor died, and with it its driver.

    The end of a service is no fault of the job: it does not count as a crash.
    """
    if end in ("crashed", "unreachable"):
        end = "interrupted"
    return driver_ended(job, end, now=now, rows=job.rows_at_start)
