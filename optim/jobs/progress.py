"""How far a run is, for people and for stop rules."""

import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from optim.study.judge import Judgement

Observe = Callable[[int, Judgement], tuple[int, float]]
"""Takes each told result in order; returns the size of the front and its hypervolume."""


@dataclass(frozen=True)
class Progress:
    """A moment of a run.

    Attributes
    ----------
    told, asked, budget : int
        Results told to the search, candidates asked for, candidates in all.
    feasible, infeasible, failed : int
        Of the told results: within every limit; no such machine or a limit missed; failed.
    rate : float
        Results per second lately [1/s], NaN before there are any.
    front_size : int
        Designs on the front.
    hypervolume : float
        As the observer gives it; NaN without one.
    elapsed, eta : float
        Driving time over all sessions and time left at this rate [s]; NaN when unknown.
    """

    told: int
    asked: int
    budget: int
    feasible: int
    infeasible: int
    failed: int
    rate: float
    front_size: int
    hypervolume: float
    elapsed: float
    eta: float


class Tally:
    """Counts told results and watches the hypervolume.

    Parameters
    ----------
    budget : int
        Candidates in all.
    observe : callable or None
        See `Observe`.
    """

    def __init__(self, *, budget: int, observe: Observe | None) -> None:
        self._budget = budget
        self._observe = observe
        self._counts = {"feasible": 0, "infeasible": 0, "failed": 0}
        self._recent: deque[tuple[float, int]] = deque(maxlen=200)
        self.told = 0
        self.front_size = 0
        self.hypervolume = math.nan
        self._level = 0.0
        self._level_at = 0

    def tell(self, number: int, judgement: Judgement) -> None:
        """Count a told result."""
        self.told += 1
        if judgement.status == "failed":
            self._counts["failed"] += 1
        else:
            self._counts["feasible" if judgement.is_feasible else "infeasible"] += 1
        if self._observe is not None:
            self.front_size, self.hypervolume = self._observe(number, judgement)

    def has_stalled(self, evaluations: int, growth: float) -> bool:
        """Return whether the hypervolume has not grown enough over so many results.

        Called after each told result, so that the answer depends on the results alone. It cannot
        stall before there is a feasible design.
        """
        value = self.hypervolume
        if math.isnan(value) or value <= 0.0:
            self._level_at = self.told
            return False
        if value > self._level * (1.0 + growth):
            self._level, self._level_at = value, self.told
        return 0 < evaluations <= self.told - self._level_at

    def mark(self, moment: float) -> None:
        """Remember when how much had been told, for the rate; moment [s]."""
        self._recent.append((moment, self.told))
        while len(self._recent) > 2 and moment - self._recent[0][0] > 60.0:
            self._recent.popleft()

    def progress(self, *, asked: int, elapsed: float) -> Progress:
        """Return the moment as a value."""
        rate = math.nan
        if len(self._recent) > 1:
            (begin, first), (end, last) = self._recent[0], self._recent[-1]
            if end > begin and last > first:
                rate = (last - first) / (end - begin)
        return Progress(
            told=self.told,
            asked=asked,
            budget=self._budget,
            feasible=self._counts["feasible"],
            infeasible=self._counts["infeasible"],
            failed=self._counts["failed"],
            rate=rate,
            front_size=self.front_size,
            hypervolume=self.hypervolume,
            elapsed=elapsed,
            eta=(self._budget - self.told) / rate,
        )
