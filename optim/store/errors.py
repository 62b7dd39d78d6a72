"""Errors of the store."""

from optim.errors import OptimError


class StoreError(OptimError, OSError):
    """Root of the store's errors: what stands in the store cannot be read or written."""


class StoreBusyError(StoreError):
    """Another process has kept the store locked for longer than the store waits."""


class StoreFullError(StoreError):
    """The disk is full, read-only, or refuses writing; nothing committed before is lost."""


class StoreDamagedError(StoreError):
    """The file is torn, is not one of ours, or was written by a newer version."""


class UnknownRunError(StoreError, LookupError):
    """There is no run with the given id."""


class RunHeldError(StoreError):
    """Another living process is driving the run."""


class StaleStateError(StoreError):
    """The run was in another state than the one from which it was to change."""
