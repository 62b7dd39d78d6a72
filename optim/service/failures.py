"""Exit codes, and which error ends a command with which."""

from collections.abc import Sequence

from models.errors import InfeasibleDesignError, InvalidInputError
from optim.errors import Problem, StudyError, VectorError
from optim.export.errors import DesignFileError, ExportError
from optim.jobs.errors import ReplayError, RunStateError
from optim.ranking.preferences import PreferenceError
from optim.search.errors import SearchError
from optim.service.errors import ServiceError
from optim.store.errors import RunHeldError, UnknownRunError

DONE, OUR_FAULT, USAGE, NOTHING_FEASIBLE, TOO_MANY_FAILED, INTERRUPTED = 0, 1, 2, 3, 4, 130

# What the caller can put right by another command or another file.
_USAGE_ERRORS: tuple[type[Exception], ...] = (
    StudyError, DesignFileError, ServiceError, PreferenceError, SearchError, VectorError,
    InvalidInputError, InfeasibleDesignError, RunStateError, RunHeldError, ReplayError,
    UnknownRunError, ExportError,
)  # fmt: skip


def exit_code(error: Exception) -> int:
    """Return the exit code that an error ends a command with."""
    return USAGE if isinstance(error, _USAGE_ERRORS) else OUR_FAULT


def problems_of(error: Exception) -> Sequence[Problem]:
    """Return the single mistakes that an error holds, none for most."""
    return getattr(error, "problems", ())
