"""What a driver says goes into its job's log in the database."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from optim.store.errors import StoreError
from optim.store.opening import open_database
from optim.store.queue_contract import JobStore, LogLevel


@contextmanager
def writing_to_log(database: str, run_id: str) -> Iterator[None]:
    """Send what the optimiser's modules log (information and above) to a job's log."""
    # A connection of its own: lines come from several threads, also while the driver is in the
    # middle of a transaction.
    with open_database(database, is_checked=False) as store:
        handler = _JobLogHandler(store, run_id)
        root = logging.getLogger("optim")
        former = root.level
        root.addHandler(handler)
        root.setLevel(logging.INFO)
        try:
            yield
        finally:
            root.removeHandler(handler)
            root.setLevel(former)


class _JobLogHandler(logging.Handler):
    def __init__(self, store: JobStore, run_id: str) -> None:
        super().__init__(level=logging.INFO)
        self._store, self._run_id = store, run_id

    def emit(self, record: logging.LogRecord) -> None:
        """Write a line."""
        # A log that cannot be written must not end the run that it is about.
        with suppress(StoreError):
            self._store.log(self._run_id, _level(record.levelno), self.format(record))


def _level(number: int) -> LogLevel:
    if number >= logging.ERROR:
        return "error"
    return "warning" if number >= logging.WARNING else "info"
