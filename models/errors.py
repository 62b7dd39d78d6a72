"""Errors of the models. Each carries where, what was given, what is allowed, what to do."""


class ModelError(Exception):
    """Root of every error this package raises on purpose."""


class InvalidInputError(ModelError, ValueError):
    """An input is outside what the model accepts: the caller must change it."""


class InfeasibleDesignError(ModelError, ValueError):
    """A design vector that resolves to no possible machine.

    Not a fault of the program: an evaluation turns it into an `infeasible` outcome.

    Parameters
    ----------
    reason : str
        Short stable name of the reason, in lower case with underscores (`magnet_too_short`).
    message : str
        One sentence for people: what does not fit, the numbers, and what to change.
    """

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(f"{reason}: {message}")
        self.reason = reason
        self.message = message


class SolverError(ModelError, RuntimeError):
    """A numerical solution did not converge: an evaluation turns it into a `failed` outcome."""
