"""A store in one SQLite file (write-ahead log) with a folder per run beside it for exports.

Readers never wait for the writer. The file must lie on a local disk: network file systems do not
keep the locks that SQLite needs.
"""

import sqlite3
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from optim.store.database import ConflictError
from optim.store.errors import RunHeldError, StoreError
from optim.store.schema import SQLITE, Dialect
from optim.store.sql_store import SqlStore
from optim.store.sqlite_file import explained, open_file, transaction

DEFAULT_PATH = Path("runs") / "paretorque.sqlite"
_LOCK_NAME = "driver.lock"
_LOOK_SECONDS = 0.5  # one that only looks whether a name is held keeps it for a moment


class SqliteStore(SqlStore):
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
        database = SqliteDatabase(self.path, busy_seconds=busy_seconds, is_checked=is_checked)
        super().__init__(database, clock=clock)


class SqliteDatabase:
    """One connection to a store's file; see `optim.store.database.Database`."""

    def __init__(self, path: Path, *, busy_seconds: float, is_checked: bool) -> None:
        self._path = path
        self._guard = threading.RLock()
        self._connection = open_file(path, busy_seconds=busy_seconds, is_checked=is_checked)

    @property
    def name(self) -> str:
        """The file's name."""
        return self._path.name

    @property
    def dialect(self) -> Dialect:
        """What differs in its statements."""
        return SQLITE

    def read(self, statement: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        """Return the rows of a query."""
        with self._guard, explained(self._path):
            return self._connection.execute(statement, values).fetchall()

    @contextmanager
    def writing(self) -> Iterator["SqliteTransaction"]:
        """Do everything inside or nothing, with the write lock taken at once."""
        with self._guard, explained(self._path), transaction(self._connection):
            yield SqliteTransaction(self._connection)

    @contextmanager
    def hold(self, name: str) -> Iterator[None]:
        """Keep other processes from holding that name."""
        # An exclusive lock on an empty database file of its own: the system drops it when the
        # process ends, on every platform, and no worker inherits it.
        lock = self._lock_file(name)
        with explained(lock):
            lock.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(
                lock, timeout=_LOOK_SECONDS, isolation_level=None, check_same_thread=False
            )
        try:
            try:
                connection.execute("BEGIN EXCLUSIVE")
            except sqlite3.OperationalError as error:
                if (error.sqlite_errorcode & 0xFF) != sqlite3.SQLITE_BUSY:
                    raise StoreError(f"{lock.name} of {name!r}: {error}") from error
                raise RunHeldError(held_text(name)) from error
            yield
        finally:
            connection.close()

    def is_held(self, name: str) -> bool:
        """Return whether a process holds that name."""
        if not self._lock_file(name).exists():
            return False
        try:
            with self.hold(name):
                return False
        except RunHeldError:
            return True

    def forget(self, name: str) -> None:
        """Remove the lock's file, and the folder if nothing else is in it."""
        lock = self._lock_file(name)
        with explained(lock):
            lock.unlink(missing_ok=True)
            if lock.parent.is_dir() and not any(lock.parent.iterdir()):
                lock.parent.rmdir()

    def close(self) -> None:
        """Close the file."""
        with self._guard:
            self._connection.close()

    def _lock_file(self, name: str) -> Path:
        return self._path.parent / name / _LOCK_NAME


class SqliteTransaction:
    """See `optim.store.database.Transaction`."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def read(self, statement: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        """Return the rows of a query."""
        return self._connection.execute(statement, values).fetchall()

    def run(self, statement: str, values: tuple[Any, ...] = ()) -> int:
        """Change something; return how many rows."""
        try:
            return self._connection.execute(statement, values).rowcount
        except sqlite3.IntegrityError as error:
            raise ConflictError(str(error)) from error

    def run_many(self, statement: str, values: Iterable[tuple[Any, ...]]) -> None:
        """Do a statement for each tuple of values."""
        try:
            self._connection.executemany(statement, values)
        except sqlite3.IntegrityError as error:
            raise ConflictError(str(error)) from error


def held_text(name: str) -> str:
    """Return what to tell somebody who wants what another process holds."""
    return (
        f"run {name!r} is being driven by another process; end or stop that one first, or follow "
        "it instead"
    )
