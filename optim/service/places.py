"""Where runs are read from: a store here, or a service."""

from optim.service.errors import RequestError
from optim.service.remote.profiles import connect
from optim.service.remote.store import RemoteStore
from optim.service.run_store import open_store
from optim.store.sql_store import SqlStore


def open_place(store: str | None = None, to: str = "") -> SqlStore | RemoteStore:
    """Open a store for reading, or a service that is read like one.

    Parameters
    ----------
    store : str or None
        See `open_store`.
    to : str
        URL or profile of a service; empty for the store.

    Raises
    ------
    RequestError
        If both are given.
    SelectionError, StoreError
        See `open_store`.
    """
    if not to:
        return open_store(store)
    if store is not None:
        raise RequestError("--store and --to: given both; allowed: one of them")
    return RemoteStore(connect(to))
