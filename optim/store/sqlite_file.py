"""The file of an SQLite store: opening, checking, schema versions, and what its errors mean."""

import sqlite3
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from optim.store.errors import StoreBusyError, StoreDamagedError, StoreError, StoreFullError
from optim.store.schema import SCHEMA_VERSION, SQLITE, all_tables, step_from

__all__ = ["MIGRATIONS", "SCHEMA_VERSION", "explained", "open_file", "transaction"]

APPLICATION_ID = 0x50717165
_MAGIC = b"SQLite format 3\x00"

Migration = Callable[[sqlite3.Connection], None]


def _add_jobs(connection: sqlite3.Connection) -> None:
    for statement in step_from(1, SQLITE):
        connection.execute(statement)


# From a schema version to the next. A step changes tables inside the caller's transaction.
MIGRATIONS: Mapping[int, Migration] = {1: _add_jobs}


def open_file(
    path: Path,
    *,
    busy_seconds: float = 10.0,
    is_checked: bool = True,
    migrations: Mapping[int, Migration] = MIGRATIONS,
    version: int = SCHEMA_VERSION,
) -> sqlite3.Connection:
    """Open a store file, making it if it is not there and bringing an older one up to date.

    Parameters
    ----------
    path : Path
        The file. Its folder is made.
    busy_seconds : float
        How long to wait for another process's lock [s].
    is_checked : bool
        Whether to walk through the file's pages first, so that damage shows before the run.
    migrations, version : mapping and int
        Steps between schema versions and the version wanted.

    Raises
    ------
    StoreError
        With what is wrong and what to do.
    """
    with explained(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = _connect(path, busy_seconds)
        try:
            _prepare(connection, path, is_checked, migrations, version)
        except BaseException:
            connection.close()
            raise
    return connection


class _StoreConnection(sqlite3.Connection):
    """A connection that is counted while it is open."""

    file: tuple[int, int] | None = None

    def close(self) -> None:
        """Close it, and count one less."""
        super().close()
        with _COUNTING:
            if self.file is not None:
                _OPEN[self.file] -= 1
                self.file = None


# How many connections this process has to which file. The system drops *all* of a process's locks
# on a file when the process closes *any* descriptor of it. Looking into a store's file while there
# is a connection to it would therefore let another process take the log away from under it.
_OPEN: Counter[tuple[int, int]] = Counter()
_COUNTING = threading.Lock()


def _connect(path: Path, busy_seconds: float) -> sqlite3.Connection:
    with _COUNTING:
        if not _OPEN[_identity(path)]:
            _refuse_foreign(path)
        connection = sqlite3.connect(
            path,
            timeout=busy_seconds,
            isolation_level=None,
            check_same_thread=False,
            factory=_StoreConnection,
        )
        connection.file = _identity(path)
        _OPEN[connection.file] += 1
    return connection


def _identity(path: Path) -> tuple[int, int]:
    if not path.exists():
        return (0, 0)
    found = path.stat()
    return (found.st_dev, found.st_ino)


def _refuse_foreign(path: Path) -> None:
    if path.is_dir():
        raise StoreDamagedError(f"{path.name}: a folder; allowed: a store file or no file yet")
    if not path.exists() or path.stat().st_size == 0:
        return
    with path.open("rb") as file:
        head = file.read(len(_MAGIC))
    if head != _MAGIC:
        raise StoreDamagedError(
            f"{path.name}: not a store (it begins with {head[:8]!r}); name another file, or move "
            "this one away to start an empty store"
        )


def _prepare(
    connection: sqlite3.Connection,
    path: Path,
    is_checked: bool,
    migrations: Mapping[int, Migration],
    version: int,
) -> None:
    found_id = _pragma(connection, "application_id")
    found = _pragma(connection, "user_version")
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if found_id != APPLICATION_ID and tables:
        raise StoreDamagedError(
            f"{path.name}: a database of another program; name another file for the store"
        )
    if found > version:
        raise StoreDamagedError(
            f"{path.name}: schema {found} is newer than this version's {version}; install the "
            "version that wrote it, or name another file"
        )
    if is_checked and tables:
        (verdict,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        if verdict != "ok":
            raise StoreDamagedError(
                f"{path.name}: damaged ({str(verdict).splitlines()[0]}); {_RESCUE}"
            )
    connection.execute("PRAGMA journal_mode = WAL")
    # A commit survives the end of the process. Loss of power may take the last commits, never
    # tear one; what they held is then evaluated again with the same outcome.
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute("PRAGMA foreign_keys = ON")
    if not tables or found < version:
        _bring_up_to_date(connection, path, migrations, version)


def _bring_up_to_date(
    connection: sqlite3.Connection, path: Path, migrations: Mapping[int, Migration], version: int
) -> None:
    with transaction(connection):
        # Asked again inside the transaction: another process may have been faster.
        found = _pragma(connection, "user_version")
        (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        if not tables:
            for statement in all_tables(SQLITE):
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            found = SCHEMA_VERSION
        while found < version:
            if found not in migrations:
                raise StoreDamagedError(
                    f"{path.name}: schema {found} cannot be brought to {version}; open it with "
                    "the version that wrote it"
                )
            migrations[found](connection)
            found += 1
        connection.execute(f"PRAGMA user_version = {found}")


def _pragma(connection: sqlite3.Connection, name: str) -> int:
    return int(connection.execute(f"PRAGMA {name}").fetchone()[0])


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Do everything inside or nothing, with the write lock taken at once."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


_RESCUE = (
    "restore it from a copy, or move it (with its -wal and -shm companions) away to start an "
    "empty store"
)


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn database and system errors inside into store errors that say what to do."""
    try:
        yield
    except sqlite3.Error as error:
        raise _explain(path, error) from error
    except StoreError:
        raise
    except OSError as error:
        raise StoreFullError(
            f"{path.name}: {error.strerror or error}; make the folder writable and free space, "
            "or name another file"
        ) from error


def _explain(path: Path, error: sqlite3.Error) -> StoreError:
    code = getattr(error, "sqlite_errorcode", None)
    primary = (code or 0) & 0xFF
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreBusyError(
            f"{path.name}: locked by another process for longer than the store waits; end the "
            "process that writes to it, then resume"
        )
    if primary in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return StoreFullError(
            f"{path.name}: cannot be written ({error}); free disk space, then resume: every "
            "evaluation committed before is kept"
        )
    if primary in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return StoreFullError(
            f"{path.name}: cannot be opened for writing ({error}); make the file and its folder "
            "writable, or name another file"
        )
    if primary in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return StoreDamagedError(f"{path.name}: damaged ({error}); {_RESCUE}")
    return StoreError(f"{path.name}: {error}")
