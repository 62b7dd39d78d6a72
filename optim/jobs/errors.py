"""Errors of driving a run."""

from optim.errors import OptimError


class RunStateError(OptimError, ValueError):
    """What was wanted of a run is not allowed in its state."""


class ScheduleError(OptimError, ValueError):
    """Asking, telling and arrivals were reported in a way the schedule does not allow."""


class ReplayError(OptimError, ValueError):
    """The stored rows do not fit the search that should be resumed from them."""


class DispatchError(OptimError, RuntimeError):
    """The workers cannot be reached or kept; the run stays resumable."""


class UnreachableError(DispatchError):
    """There is no scheduler or no worker; nothing is wrong with the run."""
