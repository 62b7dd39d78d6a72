"""Where a service takes and gives jobs: plain calls that the HTTP interface is thin over.

Every call takes who asks. A run of somebody else is not there for them, so that no caller can
forget to look. All calls block for a few database statements and may come from several threads.
"""

import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import islice

from optim.jobs import life_cycle
from optim.jobs.errors import RunStateError
from optim.jobs.life_cycle import Action
from optim.jobs.progress import Progress
from optim.ranking.preferences import Method
from optim.service.errors import RequestError
from optim.service.job_ends import close_run
from optim.service.progress_text import progress_from_text
from optim.service.rerunning import plan_rerun
from optim.service.results import FrontResult, read_front
from optim.service.run_store import LAST, VERIFIES, study_of
from optim.service.running import begin, with_search
from optim.store.contract import EvaluationRow, RunRecord, StopRequest
from optim.store.errors import StaleStateError, UnknownRunError
from optim.store.queue_contract import JobLogLine, JobRecord, JobStore
from optim.study.load import loads
from optim.study.model import Study

HIGHEST_PRIORITY = 100
_TRIES = 20  # a row that changes between reading and writing is read again


@dataclass(frozen=True)
class Person:
    """Who asks.

    Attributes
    ----------
    name : str
        Owner of what is submitted.
    is_admin : bool
        Whether everybody's runs are theirs to see and change.
    """

    name: str
    is_admin: bool = False


@dataclass(frozen=True, eq=False)
class JobView:
    """A job as it is now.

    Attributes
    ----------
    job : JobRecord
        Its row in the queue. A run that was never handed to a service has one made up for it,
        without owner and in the run's own state.
    record : RunRecord
        Its run.
    progress : Progress
        As the driver last reported it.
    position : int or None
        Place among the queued jobs, from 0; None unless queued.
    allowed : tuple of {"pause", "resume", "cancel", "delete"}
        What may be done with it now.
    """

    job: JobRecord
    record: RunRecord
    progress: Progress
    position: int | None
    allowed: tuple[Action, ...]


@dataclass(frozen=True, eq=False)
class RunEvents:
    """What is new in a run.

    Attributes
    ----------
    rows : tuple of EvaluationRow
        Evaluations committed after the given sequence, in the order of commits.
    last : int
        Where to go on from.
    view : JobView
        The job at this moment, read before the rows: when it is over, no rows come after these.
    """

    rows: tuple[EvaluationRow, ...]
    last: int
    view: JobView


@dataclass(frozen=True)
class QueueLoad:
    """How much there is to do: jobs by state, and those that run with their progress."""

    by_state: Mapping[str, int]
    running: Mapping[str, Progress]


class JobDesk:
    """Takes studies, gives jobs; see the module.

    Parameters
    ----------
    store : JobStore
        Of the service.
    clock : callable
        Gives the Unix time [s].
    """

    def __init__(self, store: JobStore, *, clock: Callable[[], float] = time.time) -> None:
        self._store = store
        self._clock = clock

    def validate(self, text: str) -> Study:
        """Return the study of a text. Raises `StudyError` with every mistake."""
        try:
            text.encode("utf-8")
        except UnicodeEncodeError as error:
            raise RequestError(
                f"study: character {error.start + 1} is half of a pair and no text; send UTF-8"
            ) from error
        return loads(text)

    def submit(
        self,
        text: str,
        asker: Person,
        *,
        priority: int = 0,
        budget: int | None = None,
        seed: int | None = None,
    ) -> JobView:
        """Put a study into the queue.

        Raises
        ------
        StudyError, RequestError
            For mistakes in the text or the options; nothing is stored then.
        """
        _check_priority(priority)
        study = with_search(self.validate(text), seed=seed, budget=budget)
        return self._add(begin(self._store, study), asker, priority)

    def rerun(
        self,
        run_id: str,
        asker: Person,
        *,
        limits: Sequence[str] = (),
        objectives: Sequence[str] = (),
        prices: Mapping[str, float] | None = None,
        budget: int | None = None,
        seed: int | None = None,
        allow_looser: bool = False,
        priority: int = 0,
    ) -> JobView:
        """Put a run's study into the queue again under other aims; see `plan_rerun`."""
        _check_priority(priority)
        plan = plan_rerun(
            self._store,
            self._seen(run_id, asker).record,
            limits=limits,
            objectives=objectives,
            prices=prices,
            budget=budget,
            seed=seed,
            allow_looser=allow_looser,
        )
        record = begin(self._store, plan.study, parent=plan.parent.run_id, starts=plan.starts)
        return self._add(record, asker, priority)

    def jobs(self, asker: Person, *, states: Sequence[str] = ()) -> tuple[JobView, ...]:
        """Return the jobs that the asker may see, newest first."""
        jobs = {job.run_id: job for job in self._store.jobs()}
        positions = _positions(jobs.values())
        views = []
        for record in reversed(self._store.runs()):
            job = jobs.get(record.run_id) or _without_job(record)
            is_shown = not record.settings.get(VERIFIES) and (not states or job.state in states)
            if is_shown and _may_see(job, asker):
                views.append(_view(job, record, positions))
        return tuple(views)

    def status(self, run_id: str, asker: Person) -> JobView:
        """Return a job; `last` and the beginning of an id that no other has are ids too.

        Raises
        ------
        UnknownRunError
            If there is none, or it is somebody else's; likewise in the calls below.
        """
        return self._seen(run_id, asker)

    def run(self, run_id: str, asker: Person) -> tuple[RunRecord, Study]:
        """Return a run and its study, for what is done with its results."""
        record = self._seen(run_id, asker).record
        return record, study_of(record)

    def events(self, run_id: str, asker: Person, *, after: int = 0, most: int = 500) -> RunEvents:
        """Return the evaluations committed after a sequence number, and the job."""
        view = self._seen(run_id, asker)
        rows = tuple(islice(self._store.rows_after(view.record.run_id, after), most))
        return RunEvents(rows, rows[-1].sequence if rows else after, view)

    def front(
        self,
        run_id: str,
        asker: Person,
        *,
        study: Study | None = None,
        method: Method | None = None,
    ) -> FrontResult:
        """Return the ranked front under a study's aims, by default those of the run."""
        record, own = self.run(run_id, asker)
        return read_front(self._store, record, study or own, method=method)

    def pause(self, run_id: str, asker: Person) -> JobView:
        """Let a job rest; what its workers are busy with is kept.

        Raises
        ------
        RunStateError
            If its state does not allow that; likewise in the calls below.
        """
        return self._change(run_id, asker, life_cycle.pause)

    def resume(self, run_id: str, asker: Person) -> JobView:
        """Let a paused or failed job go on, or take a pause back that has not happened yet."""
        return self._change(run_id, asker, life_cycle.resume)

    def cancel(self, run_id: str, asker: Person) -> JobView:
        """End a job for good; what was evaluated stays."""
        return self._change(run_id, asker, lambda job: life_cycle.cancel(job, now=self._clock()))

    def set_priority(self, run_id: str, asker: Person, *, priority: int) -> JobView:
        """Change a job's place in the queue; higher goes first. A running job is left running."""
        _check_priority(priority)
        return self._change(run_id, asker, lambda job: replace(job, priority=priority))

    def delete(self, run_id: str, asker: Person) -> None:
        """Remove a run that is not running, with everything evaluated in it.

        Raises
        ------
        RunStateError
            Also if a rerun that is not over begins with its designs.
        """
        view = self._seen(run_id, asker)
        life_cycle.check_allowed(view.job, "delete")
        own = view.record.run_id
        for record in self._store.runs():
            needs_it = f"{own}:" in str(record.settings.get("starts") or "")
            if needs_it and record.state not in ("done", "cancelled"):
                raise RunStateError(
                    f"run {own!r}: {record.run_id!r} begins with its designs and is not over; "
                    "cancel that one first, or wait for its end"
                )
        # Out of the queue first, so that it cannot be started while it goes.
        if view.job.state in ("queued", "paused", "failed"):
            self.cancel(own, asker)
        for record in self._store.runs():
            if record.settings.get(VERIFIES) == own:
                self._store.delete_run(record.run_id)
        self._store.delete_run(own)

    def logs(
        self, run_id: str, asker: Person, *, after: int = 0, most: int = 500
    ) -> tuple[JobLogLine, ...]:
        """Return the lines of a job's log after a sequence number, oldest first."""
        own = self._seen(run_id, asker).record.run_id
        return self._store.log_lines(own, after=after, most=most)

    def load(self) -> QueueLoad:
        """Return how much there is to do, over all owners."""
        jobs = self._store.jobs()
        counts = Counter(job.state for job in jobs)
        return QueueLoad(
            by_state={state: counts[state] for state in life_cycle.JOB_STATES},
            running={
                job.run_id: progress_from_text(job.progress)
                for job in jobs
                if job.state == "running" and job.progress
            },
        )

    def _add(self, record: RunRecord, asker: Person, priority: int) -> JobView:
        self._store.add_job(record.run_id, owner=asker.name, priority=priority)
        return self._seen(record.run_id, asker)

    def _seen(self, run_id: str, asker: Person) -> JobView:
        record = self._record(run_id, asker)
        jobs = {job.run_id: job for job in self._store.jobs(states=("queued",))}
        job = jobs.get(record.run_id) or self._job_of(record)
        return _view(job, record, _positions(jobs.values()))

    def _record(self, run_id: str, asker: Person) -> RunRecord:
        # An id as given is looked up at once; only a shortened one needs the list.
        try:
            record = self._store.run(run_id)
            fitting = [] if record.settings.get(VERIFIES) else [record]
        except UnknownRunError:
            fitting = []
        if not fitting and run_id:
            views = self.jobs(asker)
            names = [view.record for view in views]
            fitting = (
                names[:1]
                if run_id == LAST
                else [record for record in names if record.run_id.startswith(run_id)]
            )
        if len(fitting) == 1 and _may_see(self._job_of(fitting[0]), asker):
            return fitting[0]
        raise UnknownRunError(f"run {run_id!r} is not here")

    def _job_of(self, record: RunRecord) -> JobRecord:
        try:
            return self._store.job(record.run_id)
        except UnknownRunError:
            return _without_job(record)

    def _change(
        self, run_id: str, asker: Person, change: Callable[[JobRecord], JobRecord]
    ) -> JobView:
        for _ in range(_TRIES):
            before = self._seen(run_id, asker).job
            if not before.version:
                raise RunStateError(f"run {run_id!r} was never handed to a service")
            with suppress(StaleStateError):
                after = self._store.change_job(before, change(before))
                self._tell_driver(after)
                return self._seen(after.run_id, asker)
        raise StaleStateError(f"job {run_id!r} changes all the time; try again")

    def _tell_driver(self, job: JobRecord) -> None:
        if job.state == "running":
            wishes: dict[str, StopRequest] = {"": "", "pause": "interrupt", "cancel": "cancel"}
            self._store.request_stop(job.run_id, wishes[job.wish])
        elif job.state == "cancelled":
            close_run(self._store, job.run_id)


def _check_priority(priority: int) -> None:
    if abs(priority) > HIGHEST_PRIORITY:
        raise RequestError(
            f"priority: given {priority}; allowed: {-HIGHEST_PRIORITY} to {HIGHEST_PRIORITY}"
        )


def _may_see(job: JobRecord, asker: Person) -> bool:
    return asker.is_admin or (bool(job.owner) and job.owner == asker.name)


def _without_job(record: RunRecord) -> JobRecord:
    return JobRecord(record.run_id, owner="", state=record.state, submitted=record.created)


def _positions(jobs: Iterable[JobRecord]) -> dict[str, int]:
    queued = [job.run_id for job in jobs if job.state == "queued"]
    return {run_id: place for place, run_id in enumerate(queued)}


def _view(job: JobRecord, record: RunRecord, positions: Mapping[str, int]) -> JobView:
    progress = progress_from_text(job.progress)
    allowed = life_cycle.allowed_actions(job) if job.version else ()
    return JobView(job, record, progress, positions.get(record.run_id), allowed)
