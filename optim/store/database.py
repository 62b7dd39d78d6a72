"""What the stores need of a database, whichever it is."""

from collections.abc import Iterable
from contextlib import AbstractContextManager
from typing import Any, Protocol

from optim.store.errors import StoreError
from optim.store.schema import Dialect


class ConflictError(StoreError):
    """A rule of the tables (once each, refers to a row that is there) does not allow a change."""


class Transaction(Protocol):
    """Statements that are done all or none. Values stand for each `?` of a statement."""

    def read(self, statement: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        """Return the rows of a query."""

    def run(self, statement: str, values: tuple[Any, ...] = ()) -> int:
        """Change something; return how many rows."""

    def run_many(self, statement: str, values: Iterable[tuple[Any, ...]]) -> None:
        """Do a statement for each tuple of values. Raises `ConflictError`."""


class Database(Protocol):
    """A connection that several threads may use. Errors come as a `StoreError`.

    A connection that is lost is made again at the next use; what was going on fails.
    """

    @property
    def name(self) -> str:
        """What to call it in messages; holds no secret."""

    @property
    def dialect(self) -> Dialect:
        """What differs in its statements."""

    def read(self, statement: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        """Return the rows of a query outside any transaction."""

    def writing(self) -> AbstractContextManager[Transaction]:
        """Do everything inside or nothing."""

    def hold(self, name: str) -> AbstractContextManager[None]:
        """Keep other processes from holding that name; ends with the process.

        Waits a moment for one that only looks. Raises `RunHeldError`.
        """

    def is_held(self, name: str) -> bool:
        """Return whether a process holds that name."""

    def forget(self, name: str) -> None:
        """Remove what is left of a name that nobody will hold any more."""

    def close(self) -> None:
        """Let go of the connection."""
