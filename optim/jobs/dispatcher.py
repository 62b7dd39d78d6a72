"""What evaluates designs for the driver, and the simplest such thing."""

import time
from collections import deque
from collections.abc import Callable, Mapping
from typing import Protocol

from models.machine import ParameterValue
from optim.jobs.work import Evaluate, Outcome, evaluate_one


class Dispatcher(Protocol):
    """Takes designs, returns outcomes in any order, each submitted number exactly once.

    Outcomes never depend on how many workers there are or how designs are put together.
    """

    @property
    def in_flight(self) -> int:
        """How many designs have been submitted and neither returned nor withdrawn."""

    @property
    def appetite(self) -> int:
        """How many designs in flight keep every worker busy."""

    def submit(self, number: int, parameters: Mapping[str, ParameterValue]) -> None:
        """Add a design to be evaluated. Lower numbers are evaluated first."""

    def collect(self, timeout: float) -> list[Outcome]:
        """Return what has arrived, waiting for at most `timeout` [s] if nothing has.

        Raises
        ------
        DispatchError
            If the workers are out of reach and could not be had back.
        """

    def withdraw(self) -> tuple[int, ...]:
        """Take back and return the designs whose evaluation has not begun."""

    def close(self, *, is_immediate: bool = False) -> None:
        """Let the workers go, without waiting for running evaluations if immediate."""


class SerialDispatcher:
    """Evaluates in the driver's own process, one design after another.

    For tests and very small runs: a design that hangs or kills the process takes the run with it,
    and there is no time limit.

    Parameters
    ----------
    evaluate : callable
        From a parameter table to an evaluation.
    batch_seconds : float
        `collect` returns after about this time [s].
    """

    def __init__(
        self,
        evaluate: Evaluate,
        *,
        batch_seconds: float = 0.05,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._evaluate = evaluate
        self._batch_seconds = batch_seconds
        self._clock = clock
        self._waiting: deque[tuple[int, Mapping[str, ParameterValue]]] = deque()

    @property
    def in_flight(self) -> int:
        """How many designs wait."""
        return len(self._waiting)

    @property
    def appetite(self) -> int:
        """One is enough."""
        return 1

    def submit(self, number: int, parameters: Mapping[str, ParameterValue]) -> None:
        """Add a design."""
        self._waiting.append((number, parameters))

    def collect(self, timeout: float) -> list[Outcome]:
        """Evaluate for about `batch_seconds`, at least one design if any waits."""
        begin = self._clock()
        outcomes: list[Outcome] = []
        while self._waiting:
            number, parameters = self._waiting.popleft()
            outcomes.append(evaluate_one(self._evaluate, number, parameters).outcome())
            if self._clock() - begin >= min(timeout, self._batch_seconds):
                break
        return outcomes

    def withdraw(self) -> tuple[int, ...]:
        """Take back all that waits."""
        numbers = tuple(number for number, _ in self._waiting)
        self._waiting.clear()
        return numbers

    def close(self, *, is_immediate: bool = False) -> None:
        """Nothing is held."""
