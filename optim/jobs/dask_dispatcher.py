"""Evaluations on Dask workers.

What becomes of the designs on a lost, hung or poisoned worker is decided by
`optim.jobs.placement`; this module carries it out over `optim.jobs.dask_connection`.
"""

import logging
import time
from collections.abc import Callable, Mapping
from typing import Any

from models.machine import ParameterValue
from optim.jobs.dask_connection import (
    MAX_TROUBLES,
    POLL_SECONDS,
    ClusterSettings,
    Connection,
    pack,
)
from optim.jobs.errors import DispatchError, UnreachableError
from optim.jobs.placement import Placement, PlacementSettings
from optim.jobs.work import Evaluate, Outcome, failed

__all__ = ["ClusterSettings", "DaskDispatcher"]

logger = logging.getLogger(__name__)


class DaskDispatcher:
    """Evaluates on Dask workers; see `optim.jobs.dispatcher.Dispatcher`.

    Parameters
    ----------
    evaluate : callable
        From a parameter table to an evaluation; is pickled once.
    cluster : ClusterSettings
        Where the workers are.
    placement : PlacementSettings
        Batches, time limit, losses.

    Raises
    ------
    DispatchError
        If no scheduler is found in time.
    """

    def __init__(
        self,
        evaluate: Evaluate,
        *,
        cluster: ClusterSettings | None = None,
        placement: PlacementSettings | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._settings = cluster or ClusterSettings()
        if self._settings.workers < 1:
            raise ValueError(f"given {self._settings.workers} workers; allowed: 1 or more")
        self._placement_settings = placement or PlacementSettings()
        self._placement = Placement(self._placement_settings)
        self._packed: bytes = pack(evaluate)
        self._clock = clock
        self._parameters: dict[int, Mapping[str, ParameterValue]] = {}
        self._settled: list[Outcome] = []
        self._connection = Connection(self._settings)
        self._troubles = 0
        self._without_worker_since: float | None = self._clock()

    @property
    def in_flight(self) -> int:
        """How many designs have been submitted and neither returned nor withdrawn."""
        return self._placement.in_flight + len(self._settled)

    @property
    def appetite(self) -> int:
        """How many designs in flight keep every worker busy."""
        return self._placement.appetite

    def submit(self, number: int, parameters: Mapping[str, ParameterValue]) -> None:
        """Add a design to be evaluated."""
        # A plain dict travels; a mapping view does not pickle.
        self._parameters[number] = dict(parameters)
        self._placement.submit(number)

    def withdraw(self) -> tuple[int, ...]:
        """Take back and return the designs that are not on a worker."""
        numbers = self._placement.withdraw()
        for number in numbers:
            del self._parameters[number]
        return numbers

    def collect(self, timeout: float) -> list[Outcome]:
        """Return what has arrived, waiting for at most `timeout` [s]."""
        end = self._clock() + timeout
        while True:
            self._send()
            wait = 0.0 if self._settled else max(0.0, min(end - self._clock(), POLL_SECONDS))
            connection = self._connection
            for report in connection.reports(wait):
                self._take(*report)
                if self._connection is not connection:
                    break  # the rest speaks of a connection that is gone
            self._end_overdue()
            self._watch_for_workers()
            if self._settled or self._clock() >= end:
                self._send()
                settled, self._settled = self._settled, []
                return settled

    def close(self, *, is_immediate: bool = False) -> None:
        """Let the workers go."""
        self._connection.close(is_immediate=is_immediate)

    def __enter__(self) -> "DaskDispatcher":
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        self.close(is_immediate=kind is not None)

    def _send(self) -> None:
        for batch in self._placement.place(self._clock()):
            pairs = [(number, self._parameters[number]) for number in batch.numbers]
            self._connection.send(batch, self._packed, pairs)

    def _take(self, kind: str, value: Any) -> None:
        now = self._clock()
        if kind == "results":
            serial, outcomes = value
            awaited = self._placement.finish(serial, sum(o.seconds for o in outcomes), now)
            if awaited:
                self._troubles = 0
                self._settle([plain.outcome() for plain in outcomes])
        elif kind == "workers":
            # One that has gone may come back under its old address.
            self._connection.shunned &= frozenset(value)
            names = frozenset(value) - self._connection.shunned
            self._give_up(self._placement.see_workers(names, now))
            self._connection.drop(self._placement.sent)
        elif kind == "killed":
            batch = self._placement.sent.get(value)
            if batch is not None:
                logger.warning("worker %s was lost with %s", batch.worker, batch.numbers)
                self._give_up(self._placement.lose_worker(batch.worker))
                self._connection.drop(self._placement.sent)
        elif kind == "error":
            serial, error = value
            if serial in self._placement.sent:
                raise DispatchError(
                    f"the workers cannot evaluate ({type(error).__name__}: {error}); they need "
                    "this version of the program and its libraries"
                ) from error
        elif kind == "cancelled":
            if value in self._placement.sent:
                self._recover("its futures were cancelled")
        else:
            self._recover(value)

    def _settle(self, outcomes: list[Outcome]) -> None:
        for outcome in outcomes:
            del self._parameters[outcome.number]
        self._settled += outcomes

    def _give_up(self, numbers: tuple[int, ...]) -> None:
        losses = self._placement_settings.max_losses
        text = f"{losses} workers were lost while evaluating this design alone"
        self._settle([Outcome(n, failed("worker_killed", text), 0.0, "") for n in numbers])

    def _end_overdue(self) -> None:
        limit = self._placement_settings.time_limit
        for batch in self._placement.overdue(self._clock()):
            logger.warning("ending worker %s, overdue with %s", batch.worker, batch.numbers)
            expired = self._placement.expire(batch)
            self._connection.drop(self._placement.sent)
            self._connection.end_worker(batch.worker)
            if not batch.numbers:
                self._count_trouble("workers do not finish loading the program")
            text = f"not done after the time limit of {limit:g} s"
            self._settle([Outcome(n, failed("time_limit", text), limit, "") for n in expired])

    def _watch_for_workers(self) -> None:
        now = self._clock()
        if self._placement.workers:
            self._without_worker_since = None
        elif self._without_worker_since is None:
            self._without_worker_since = now
        elif now - self._without_worker_since > self._settings.reconnect_seconds:
            if not self._settings.address:
                self._recover("no worker is left")
                return
            raise UnreachableError(
                f"no worker for {self._settings.reconnect_seconds:g} s; start workers, then resume"
            )

    def _recover(self, cause: object) -> None:
        logger.warning("scheduler lost (%s); getting it back", cause)
        self._count_trouble(f"the scheduler is lost again and again ({cause})")
        self._placement.forget_workers()
        self._connection.close(is_immediate=True)
        self._connection = Connection(self._settings)
        self._without_worker_since = self._clock()

    def _count_trouble(self, text: str) -> None:
        self._troubles += 1
        if self._troubles > MAX_TROUBLES:
            raise DispatchError(
                f"{text}, {self._troubles} times without a result in between; look into the "
                "workers' log, then resume"
            )
