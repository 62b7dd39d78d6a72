"""A store in any database that speaks the SQL of `optim.store.schema`."""

import secrets
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any, Self

from optim.store.contract import AskRecord, EvaluationRow, KnownDesign, Note, RunRecord, StopRequest
from optim.store.database import ConflictError, Database
from optim.store.errors import StaleStateError, StoreError, UnknownRunError
from optim.store.row_text import (
    COLUMNS,
    EVALUATION_COLUMNS,
    evaluation_from_columns,
    from_columns,
    notes_from_json,
    to_columns,
    to_json,
)
from optim.store.sql_queue import SqlQueue

_PORTION = 200
_COLUMN_LIST = ", ".join(COLUMNS)
_INSERT = f"INSERT INTO evaluations (run_id, {_COLUMN_LIST}) VALUES (?{', ?' * len(COLUMNS)})"
_SELECT = f"SELECT {_COLUMN_LIST}, sequence FROM evaluations "
_RUN_COLUMNS = (
    "run_id, study_name, study_text, state, reason, created, heartbeat, elapsed, stop_request, "
    "parent, settings, notes"
)


class SqlStore(SqlQueue):
    """Runs and their rows; see `optim.store.contract.Store` for what each method promises.

    Parameters
    ----------
    database : Database
        Where the tables are.
    clock : callable
        Gives the Unix time [s].
    """

    def __init__(self, database: Database, *, clock: Callable[[], float] = time.time) -> None:
        self._database = database
        self._clock = clock

    def close(self) -> None:
        """Release the database."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

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
        with self._database.writing() as transaction:
            if transaction.read("SELECT 1 FROM runs WHERE run_id = ?", (run_id,)):
                raise StoreError(f"run id {run_id!r} is taken; give another or leave it out")
            transaction.run(
                "INSERT INTO runs (run_id, study_name, study_text, state, created, parent, "
                "settings) VALUES (?, ?, ?, 'queued', ?, ?, ?)",
                (run_id, study_name, study_text, self._clock(), parent, to_json(settings or {})),
            )
        return self.run(run_id)

    def run(self, run_id: str) -> RunRecord:
        """Return a run."""
        found = self._read(f"SELECT {_RUN_COLUMNS} FROM runs WHERE run_id = ?", (run_id,))
        if not found:
            raise UnknownRunError(f"run {run_id!r} is not in {self._database.name}")
        return _run_record(found[0])

    def runs(self) -> tuple[RunRecord, ...]:
        """Return all runs, oldest first."""
        found = self._read(
            f"SELECT {_RUN_COLUMNS} FROM runs "
            f"ORDER BY created, {self._database.dialect.order_of_insertion}"
        )
        return tuple(_run_record(values) for values in found)

    def change_state(self, run_id: str, before: str, after: str, *, reason: str = "") -> None:
        """Change the state if it is still `before`."""
        with self._database.writing() as transaction:
            changed = transaction.run(
                "UPDATE runs SET state = ?, reason = ?, stop_request = '' "
                "WHERE run_id = ? AND state = ?",
                (after, reason, run_id, before),
            )
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
        with self._database.writing() as transaction:
            found = transaction.read(
                "SELECT notes FROM runs WHERE run_id = ?" + self._database.dialect.lock_row,
                (run_id,),
            )
            if not found:
                raise UnknownRunError(f"run {run_id!r} is not in {self._database.name}")
            notes = {**notes_from_json(found[0][0]), name: value}
            transaction.run("UPDATE runs SET notes = ? WHERE run_id = ?", (to_json(notes), run_id))

    def hold(self, run_id: str) -> AbstractContextManager[None]:
        """Keep others from driving the run while the context lasts."""
        return self._database.hold(self.run(run_id).run_id)

    # Rows

    def append(
        self, run_id: str, rows: Sequence[EvaluationRow], *, asks: Sequence[AskRecord] = ()
    ) -> None:
        """Commit rows and the order of asking, all or none."""
        try:
            values = [(run_id, *to_columns(row)) for row in rows]
        except ValueError as error:
            raise StoreError(f"run {run_id!r}: a row holds a number that is not finite") from error
        try:
            with self._database.writing() as transaction:
                transaction.run_many(_INSERT, values)
                transaction.run_many(
                    "INSERT INTO asks (run_id, number, told) VALUES (?, ?, ?)",
                    [(run_id, ask.number, ask.told) for ask in asks],
                )
        except ConflictError as error:
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
        with self._database.writing() as transaction:
            changed = transaction.run(
                f"UPDATE runs SET {change} WHERE run_id = ?", (*values, run_id)
            )
        if not changed:
            raise UnknownRunError(f"run {run_id!r} is not in {self._database.name}")

    def _read(self, statement: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        return self._database.read(statement, values)


def _run_record(values: tuple[Any, ...]) -> RunRecord:
    fields = (*values[:-2], notes_from_json(values[-2]), notes_from_json(values[-1]))
    return RunRecord(*fields)
