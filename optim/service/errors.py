"""Errors of choosing what a command works on."""

from optim.errors import OptimError


class ServiceError(OptimError):
    """Root of the errors of commands."""


class SelectionError(ServiceError, LookupError):
    """A run, candidate or file that is not there, or a name that fits several."""

    def __str__(self) -> str:
        # A LookupError of one argument would otherwise be shown in quotes by some callers.
        return str(self.args[0]) if self.args else ""


class RequestError(ServiceError, ValueError):
    """An option whose value is not allowed, or options that exclude each other."""
