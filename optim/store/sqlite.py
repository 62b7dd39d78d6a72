"""A store in one SQLite file (write-ahead log) with a folder per run beside it for exports.

Readers never wait for the writer. The file must lie on a local disk: network file systems do not
keep the locks that SQLite needs.
"""

import secrets
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from optim.store.contract import AskRecord, EvaluationRow, KnownDesign, Note, RunRecord, StopRequest
from optim.store.errors import RunHeldError, StaleStateError, StoreError, UnknownRunError
from optim.store.row_text import (
    COLUMNS,
    EVALUATION_COLUMNS,
    evaluation_from_columns,
    from_columns,
    notes_from_json,
    to_columns,
    to_json,
)
from optim.store.sqlite_file import explained, open_file, transaction

DEFAULT_PATH = Path("runs") / "paretorque.sqlite"
_PORTION = 200
_COLUMN_LIST = ", ".join(COLUMNS)
_INSERT = f"INSERT INTO evaluations (run_id, {_COLUMN_LIST}) VALUES (?{', ?' * len(COLUMNS)})"
_SELECT = f"SELECT {_COLUMN_LIST}, sequence FROM evaluations "
_RUN_COLUMNS = (
    "run_id, study_name, study_text, state, reason, created, heartbeat, elapsed, stop_request, "
    "parent, settings, notes"
)


class SqliteStore:
    """The embedded store; see `optim.store.contract.Store` for what each method promises.

    Parameters
    ----------
    path : Path or str
        The store's file, made with its folder if it is not there.
    busy_seconds : float
        How long to wait for another process's lock [s].
    is_checked : bool
        Whether to look for damage on opening.
    clock : callable
        Gives the Unix time [s].

    Raises
    ------
    StoreError
        When the file cannot be opened, with what to do.
    """

    def __init__(
        self,
        path: Path | str = DEFAULT_PATH,
        *,
        busy_seconds: float = 10.0,
        is_checked: bool = True,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self.path = Path(path)
        self._clock = clock
        self._guard = threading.RLock()
        self._connection = open_file(self.path, busy_seconds=busy_seconds, is_checked=is_checked)

    def close(self) -> None:
        """Close the file."""
        with self._guard:
            self._connection.close()

    def __enter__(self) -> "SqliteStore":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def run_folder(self, run_id: str) -> Path:
        """Return the folder for a run's exports, made if it is not there."""
        folder = self.path.parent / self.run(run_id).run_id
        with explained(folder):
            folder.mkdir(parents=True, exist_ok=True)
        return folder

    # Runs

    def create_run(
        self,
        study_name: str,
        study_text: str,
        *,
        run_id: str = "",
        settings: Mapping[str, Note] | None = None,
        parent: str = "",
    ) -> RunRecord:
        """Add a run in state `queued`."""
        run_id = run_id or f"{study_name}-{secrets.token_hex(4)}"
        if not run_id.replace("-", "").replace("_", "").isalnum():
            raise StoreError(f"run id {run_id!r}: allowed are letters, digits, - and _")
        with self._writing() as connection:
            taken = connection.execute("SELECT 1 FROM runs WHERE run_id = ?", (run_id,)).fetchone()
            if taken:
                raise StoreError(f"run id {run_id!r} is taken; give another or leave it out")
            connection.execute(
                "INSERT INTO runs (run_id, study_name, study_text, state, created, parent, "
                "settings) VALUES (?, ?, ?, 'queued', ?, ?, ?)",
                (run_id, study_name, study_text, self._clock(), parent, to_json(settings or {})),
            )
        return self.run(run_id)

    def run(self, run_id: str) -> RunRecord:
        """Return a run."""
        found = self._read(f"SELECT {_RUN_COLUMNS} FROM runs WHERE run_id = ?", (run_id,))
        if not found:
            raise UnknownRunError(f"run {run_id!r} is not in {self.path.name}")
        return _run_record(found[0])

    def runs(self) -> tuple[RunRecord, ...]:
        """Return all runs, oldest first."""
        found = self._read(f"SELECT {_RUN_COLUMNS} FROM runs ORDER BY created, rowid", ())
        return tuple(_run_record(values) for values in found)

    def change_state(self, run_id: str, before: str, after: str, *, reason: str = "") -> None:
        """Change the state if it is still `before`."""
        with self._writing() as connection:
            changed = connection.execute(
                "UPDATE runs SET state = ?, reason = ?, stop_request = '' "
                "WHERE run_id = ? AND state = ?",
                (after, reason, run_id, before),
            ).rowcount
        if not changed:
            state = self.run(run_id).state
            raise StaleStateError(
                f"run {run_id!r}: was to go from {before} to {after} but is {state}; look again "
                "and decide anew"
            )

    def heartbeat(self, run_id: str, *, elapsed: float) -> StopRequest:
        """Record that the driver lives; return any request to stop."""
        self._update(run_id, "heartbeat = ?, elapsed = ?", (self._clock(), float(elapsed)))
        return self.run(run_id).stop_request

    def request_stop(self, run_id: str, wish: StopRequest) -> None:
        """Ask the driver of a run to stop."""
        self._update(run_id, "stop_request = ?", (wish,))

    def note(self, run_id: str, name: str, value: Note) -> None:
        """Keep a note with a run."""
        with self._guard:
            notes = {**self.run(run_id).notes, name: value}
            self._update(run_id, "notes = ?", (to_json(notes),))

    @contextmanager
    def hold(self, run_id: str) -> Iterator[None]:
        """Keep others from driving the run while the context lasts."""
        # An exclusive lock on an empty database file of its own: the system drops it when the
        # process ends, on every platform, and no worker inherits it.
        lock = self.run_folder(run_id) / "driver.lock"
        with explained(lock):
            connection = sqlite3.connect(
                lock, timeout=0.0, isolation_level=None, check_same_thread=False
            )
        try:
            try:
                connection.execute("BEGIN EXCLUSIVE")
            except sqlite3.OperationalError as error:
                if (error.sqlite_errorcode & 0xFF) != sqlite3.SQLITE_BUSY:
                    raise StoreError(f"{lock.name} of run {run_id!r}: {error}") from error
                raise RunHeldError(
                    f"run {run_id!r} is being driven by another process; end or stop that one "
                    "first, or follow it instead"
                ) from error
            yield
        finally:
            connection.close()

    # Rows

    def append(
        self, run_id: str, rows: Sequence[EvaluationRow], *, asks: Sequence[AskRecord] = ()
    ) -> None:
        """Commit rows and the order of asking, all or none."""
        try:
            values = [(run_id, *to_columns(row)) for row in rows]
        except ValueError as error:
            raise StoreError(f"run {run_id!r}: a row holds a number that is not finite") from error
        with self._writing() as connection:
            try:
                connection.executemany(_INSERT, values)
                connection.executemany(
                    "INSERT INTO asks (run_id, number, told) VALUES (?, ?, ?)",
                    [(run_id, ask.number, ask.told) for ask in asks],
                )
            except sqlite3.IntegrityError as error:
                raise StoreError(
                    f"run {run_id!r}: candidates {[row.number for row in rows][:5]} cannot be "
                    f"added ({error}); each candidate counts once, in a run that exists"
                ) from error

    def rows(self, run_id: str, *, since: int = 0) -> Iterator[EvaluationRow]:
        """Yield the rows with number >= `since` by number."""
        return self._portions(run_id, "number", since - 1)

    def rows_after(self, run_id: str, sequence: int) -> Iterator[EvaluationRow]:
        """Yield the rows committed after `sequence` in the order of commits."""
        return self._portions(run_id, "sequence", sequence)

    def asks(self, run_id: str) -> Iterator[AskRecord]:
        """Yield the recorded order of asking by number."""
        last = -1
        while True:
            found = self._read(
                "SELECT number, told FROM asks WHERE run_id = ? AND number > ? "
                "ORDER BY number LIMIT ?",
                (run_id, last, _PORTION),
            )
            for number, told in found:
                yield AskRecord(number, told)
            if len(found) < _PORTION:
                return
            last = found[-1][0]

    def count(self, run_id: str) -> int:
        """Return how many rows the run has."""
        return int(self._read("SELECT count(*) FROM evaluations WHERE run_id = ?", (run_id,))[0][0])

    def numbers(self, run_id: str) -> frozenset[int]:
        """Return the numbers of the candidates that the run has."""
        found = self._read("SELECT number FROM evaluations WHERE run_id = ?", (run_id,))
        return frozenset(number for (number,) in found)

    def find(self, key: str, *, run_id: str) -> KnownDesign | None:
        """Return what is known of a design, of this run first."""
        found = self._read(
            f"SELECT {', '.join(EVALUATION_COLUMNS)}, run_id = ? AS own FROM evaluations "
            "WHERE key = ? AND (run_id = ? OR status <> 'failed') "
            "ORDER BY own DESC, sequence LIMIT 1",
            (run_id, key, run_id),
        )
        if not found:
            return None
        *columns, is_own = found[0]
        return KnownDesign(evaluation_from_columns(tuple(columns)), bool(is_own))

    def _portions(self, run_id: str, column: str, last: int) -> Iterator[EvaluationRow]:
        # Portions, not one long cursor: a slow reader must not keep the log from being folded in.
        while True:
            found = self._read(
                _SELECT + f"WHERE run_id = ? AND {column} > ? ORDER BY {column} LIMIT ?",
                (run_id, last, _PORTION),
            )
            row = None
            for values in found:
                row = from_columns(values[:-1], values[-1])
                yield row
            if row is None or len(found) < _PORTION:
                return
            last = row.number if column == "number" else row.sequence

    def _update(self, run_id: str, change: str, values: tuple[Any, ...]) -> None:
        with self._writing() as connection:
            changed = connection.execute(
                f"UPDATE runs SET {change} WHERE run_id = ?", (*values, run_id)
            ).rowcount
        if not changed:
            raise UnknownRunError(f"run {run_id!r} is not in {self.path.name}")

    def _read(self, statement: str, values: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        with self._guard, explained(self.path):
            return self._connection.execute(statement, values).fetchall()

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._guard, explained(self.path), transaction(self._connection):
            yield self._connection


def _run_record(values: tuple[Any, ...]) -> RunRecord:
    fields = (*values[:-2], notes_from_json(values[-2]), notes_from_json(values[-1]))
    return RunRecord(*fields)
