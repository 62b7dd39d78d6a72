"""Jobs and their logs in a database; see `optim.store.queue_contract.JobQueue`."""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import astuple, fields

from optim.store.database import ConflictError, Database, Transaction
from optim.store.errors import StaleStateError, StoreError, UnknownRunError
from optim.store.queue_contract import JobLogLine, JobRecord, LogLevel

QUEUE_HOLD = "queue.supervisor"
"""Name under which a supervisor holds the queue; a run's id has no dot."""
LONGEST_LOG_TEXT = 10_000

_NAMES = tuple(field.name for field in fields(JobRecord))
_SELECT = f"SELECT {', '.join(_NAMES)} FROM jobs "
_CHANGED = (
    "priority", "state", "wish", "reason", "started", "ended", "crashes", "rows_at_start",
    "not_before",
)  # fmt: skip


class SqlQueue:
    """The part of a store that keeps jobs."""

    _database: Database
    _clock: Callable[[], float]

    def add_job(self, run_id: str, *, owner: str, priority: int = 0) -> JobRecord:
        """Put a run into the queue."""
        now = self._clock()
        try:
            with self._database.writing() as transaction:
                transaction.run(
                    "INSERT INTO jobs (run_id, owner, priority, state, submitted) "
                    "VALUES (?, ?, ?, 'queued', ?)",
                    (run_id, owner, priority, now),
                )
                self._add_line(transaction, run_id, now, "state", "queued")
        except ConflictError as error:
            raise StoreError(
                f"run {run_id!r} cannot be queued ({error}); a run that exists is queued once"
            ) from error
        return self.job(run_id)

    def job(self, run_id: str) -> JobRecord:
        """Return a job."""
        found = self._database.read(_SELECT + "WHERE run_id = ?", (run_id,))
        if not found:
            raise UnknownRunError(f"run {run_id!r} is not in the queue of {self._database.name}")
        return JobRecord(*found[0])

    def jobs(
        self, *, owner: str | None = None, states: Sequence[str] = ()
    ) -> tuple[JobRecord, ...]:
        """Return jobs in the order in which they are to be started."""
        conditions, values = ["1 = 1"], []
        if owner is not None:
            conditions.append("owner = ?")
            values.append(owner)
        if states:
            conditions.append(f"state IN ({', '.join('?' * len(states))})")
            values += states
        found = self._database.read(
            f"{_SELECT} WHERE {' AND '.join(conditions)} ORDER BY priority DESC, submitted, run_id",
            tuple(values),
        )
        return tuple(JobRecord(*columns) for columns in found)

    def change_job(self, before: JobRecord, after: JobRecord) -> JobRecord:
        """Write a job as it shall be, if it is still as it was read."""
        values = dict(zip(_NAMES, astuple(after)))
        with self._database.writing() as transaction:
            changed = transaction.run(
                f"UPDATE jobs SET {', '.join(f'{name} = ?' for name in _CHANGED)}, "
                "version = version + 1 WHERE run_id = ? AND version = ?",
                (*(values[name] for name in _CHANGED), before.run_id, before.version),
            )
            if not changed:
                raise StaleStateError(
                    f"job {before.run_id!r} was changed meanwhile or is gone; look again and "
                    "decide anew"
                )
            text = _change_text(before, after)
            if text:
                self._add_line(transaction, before.run_id, self._clock(), "state", text)
        return self.job(before.run_id)

    def report_progress(self, run_id: str, text: str) -> None:
        """Keep the driver's progress report."""
        with self._database.writing() as transaction:
            transaction.run("UPDATE jobs SET progress = ? WHERE run_id = ?", (text, run_id))

    def log(self, run_id: str, level: LogLevel, text: str) -> None:
        """Add a line to a job's log."""
        with self._database.writing() as transaction:
            self._add_line(transaction, run_id, self._clock(), level, text)

    def log_lines(self, run_id: str, *, after: int = 0, most: int = 500) -> tuple[JobLogLine, ...]:
        """Return the lines after a sequence number, oldest first."""
        found = self._database.read(
            "SELECT sequence, moment, level, text FROM job_log "
            "WHERE run_id = ? AND sequence > ? ORDER BY sequence LIMIT ?",
            (run_id, after, most),
        )
        return tuple(JobLogLine(*columns) for columns in found)

    def delete_run(self, run_id: str) -> None:
        """Remove a run with its rows, job and log."""
        with self._database.writing() as transaction:
            for table in ("job_log", "jobs", "asks", "evaluations"):
                transaction.run(f"DELETE FROM {table} WHERE run_id = ?", (run_id,))
            if not transaction.run("DELETE FROM runs WHERE run_id = ?", (run_id,)):
                raise UnknownRunError(f"run {run_id!r} is not in {self._database.name}")
        self._database.forget(run_id)

    def hold_queue(self) -> AbstractContextManager[None]:
        """Keep other supervisors from the queue while the context lasts."""
        return self._database.hold(QUEUE_HOLD)

    def is_held(self, run_id: str) -> bool:
        """Return whether a living process drives the run."""
        return self._database.is_held(run_id)

    def _add_line(
        self, transaction: Transaction, run_id: str, moment: float, level: LogLevel, text: str
    ) -> None:
        # The job's row is locked first, so that lines are seen in the order of their numbers;
        # and where there is no job there is no log.
        lock = self._database.dialect.lock_row
        if transaction.read("SELECT 1 FROM jobs WHERE run_id = ?" + lock, (run_id,)):
            transaction.run(
                "INSERT INTO job_log (run_id, moment, level, text) VALUES (?, ?, ?, ?)",
                (run_id, moment, level, text[:LONGEST_LOG_TEXT]),
            )


def _change_text(before: JobRecord, after: JobRecord) -> str:
    if after.state != before.state:
        return f"{after.state}: {after.reason}" if after.reason else after.state
    if after.wish != before.wish:
        return f"asked to {after.wish}" if after.wish else f"{before.wish} taken back"
    if after.priority != before.priority:
        return f"priority {before.priority} -> {after.priority}"
    return ""
