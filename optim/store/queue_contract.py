"""What a store keeps of jobs: one row beside each run that a service looks after, and its log.

Rules of a job's life are in `optim.jobs.life_cycle`; here is only what is kept and how it changes:
each change is made if the row is still as it was read, and stands in the log with it.
"""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Literal, Protocol

from optim.store.contract import Store

Wish = Literal["", "pause", "cancel"]
LogLevel = Literal["state", "info", "warning", "error"]


@dataclass(frozen=True)
class JobRecord:
    """A job: a run in the hands of a service.

    Attributes
    ----------
    run_id : str
        The run.
    owner : str
        Name of the person it belongs to.
    priority : int
        Higher goes first; jobs of equal priority go in the order of submission.
    state : str
        State of `optim.jobs.life_cycle`.
    wish : {"", "pause", "cancel"}
        What a person wants of a running job.
    reason : str
        Why the job is in its state, one sentence; may be empty.
    submitted, started, ended : float
        Unix times [s] of submission, of the last start and of the last end; 0 for never.
    crashes : int
        Crashes of the driver in a row without a new result between them.
    rows_at_start : int
        Results that the run had when its driver was last started.
    not_before : float
        Unix time [s] before which it is not started again.
    progress : str
        Last progress report of the driver, JSON text; empty before the first.
    version : int
        Counts the changes of the row, apart from progress reports.
    """

    run_id: str
    owner: str
    priority: int = 0
    state: str = "queued"
    wish: Wish = ""
    reason: str = ""
    submitted: float = 0.0
    started: float = 0.0
    ended: float = 0.0
    crashes: int = 0
    rows_at_start: int = 0
    not_before: float = 0.0
    progress: str = ""
    version: int = 0


@dataclass(frozen=True)
class JobLogLine:
    """A line of a job's log.

    Attributes
    ----------
    sequence : int
        Rising within a job.
    moment : float
        Unix time [s].
    level : {"state", "info", "warning", "error"}
        `state` for changes of state, the others for what the driver says.
    text : str
        One line or a few.
    """

    sequence: int
    moment: float
    level: LogLevel
    text: str


class JobQueue(Protocol):
    """Jobs and their logs. Every method may raise a `StoreError`."""

    def add_job(self, run_id: str, *, owner: str, priority: int = 0) -> JobRecord:
        """Put a run into the queue. Raises `StoreError` if it is in it already."""

    def job(self, run_id: str) -> JobRecord:
        """Return a job. Raises `UnknownRunError`."""

    def jobs(
        self, *, owner: str | None = None, states: Sequence[str] = ()
    ) -> tuple[JobRecord, ...]:
        """Return the jobs of an owner (None for all) in some states (none given for all).

        In the order in which they are to be started: by priority, then by submission.
        """

    def change_job(self, before: JobRecord, after: JobRecord) -> JobRecord:
        """Write a job as it shall be, if it is still as it was read; return it as written.

        A change of state, wish or reason is logged with it. Owner, submission and progress stay.
        Raises `StaleStateError` if the job was changed meanwhile.
        """

    def report_progress(self, run_id: str, text: str) -> None:
        """Keep the driver's progress report, if the run is a job."""

    def log(self, run_id: str, level: LogLevel, text: str) -> None:
        """Add a line to a job's log, if the run is a job."""

    def log_lines(self, run_id: str, *, after: int = 0, most: int = 500) -> tuple[JobLogLine, ...]:
        """Return the lines with sequence > `after`, oldest first, at most `most`."""

    def delete_run(self, run_id: str) -> None:
        """Remove a run with its rows, job and log. Raises `UnknownRunError`.

        Nothing else is removed; whether it may be is for the caller to know.
        """

    def hold_queue(self) -> AbstractContextManager[None]:
        """Keep other supervisors from the queue while the context lasts.

        Ends with the process, however it ends. Raises `RunHeldError` when another has it.
        """

    def is_held(self, run_id: str) -> bool:
        """Return whether a living process drives the run."""


class JobStore(Store, JobQueue, Protocol):
    """A store that also keeps a queue: both of ours do."""
