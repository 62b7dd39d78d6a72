"""One search over several rotor families: a searcher each, and a budget that follows success.

Every family has its own variables, so its own searcher; designs compete across families only on the
merged front. A vector begins with the place of its family. Which family comes next depends on
nothing but the results told so far, so a run replays bit by bit like any other.
"""

from collections import deque
from collections.abc import Sequence

import numpy as np

from optim.search.errors import SearchError
from optim.search.protocol import FloatArray, Outcome, Searcher

WINDOW = 60
"""Latest results of a family that count for its share."""
RESERVED = 0.25
"""Share of the budget that is divided evenly whatever comes of it: a family that has fallen behind
is still tried."""


class ContestSearcher:
    """Search over several families that follows the `Searcher` protocol.

    Parameters
    ----------
    searchers : sequence of Searcher
        One for each family, fresh.
    n_objectives : int
        Length of the objectives that will be told.
    trial : int
        Results that each family gets before shares begin to move, >= 1.

    Notes
    -----
    Of a family's last `WINDOW` results the share that entered the merged front when told is its
    success. Three quarters of the candidates are divided by success, the rest evenly; with no
    success anywhere all get the same. Candidates are dealt so that every family's count keeps up
    with the sum of its shares.
    """

    def __init__(self, searchers: Sequence[Searcher], n_objectives: int, *, trial: int) -> None:
        if len(searchers) < 2 or trial < 1:
            raise SearchError(
                f"search: {len(searchers)} families and a trial of {trial} results were given; at "
                "least 2 and 1 are needed"
            )
        self._searchers = tuple(searchers)
        self._trial = trial
        self._credit = np.zeros(len(searchers))
        self._asked = [0] * len(searchers)
        self._told = [0] * len(searchers)
        self._successes: list[deque[bool]] = [deque(maxlen=WINDOW) for _ in searchers]
        self._front: FloatArray = np.empty((0, n_objectives))
        self._open: dict[int, tuple[int, int]] = {}
        self._last_asked = -1

    @property
    def shares(self) -> FloatArray:
        """Share of the coming candidates that each family gets, shape (n_families,)."""
        count = len(self._searchers)
        even = np.full(count, 1.0 / count)
        if min(self._told) < self._trial:
            return even
        success = np.array([sum(s) / len(s) for s in self._successes])
        total = float(success.sum())
        return even if total == 0.0 else RESERVED * even + (1.0 - RESERVED) * success / total

    def ask(self, number: int) -> FloatArray:
        """Vector of candidate `number`; see `optim.search.protocol.Searcher`."""
        if number <= self._last_asked:
            raise SearchError(
                f"search: candidate {number} was asked after {self._last_asked}; numbers must "
                "increase. Ask each candidate once, in order."
            )
        self._last_asked = number
        self._credit += self.shares
        family = int(np.argmax(self._credit))  # of equals the first
        self._credit[family] -= 1.0
        own = self._asked[family]
        self._asked[family] += 1
        self._open[number] = (family, own)
        return np.concatenate([[float(family)], self._searchers[family].ask(own)])

    def tell(self, number: int, vector: FloatArray, judgement: Outcome) -> None:
        """Outcome of candidate `number`; see `optim.search.protocol.Searcher`."""
        if number not in self._open:
            raise SearchError(
                f"search: candidate {number} was told but is not open; it was never asked or "
                "told before. Tell each asked candidate once."
            )
        family, own = self._open.pop(number)
        self._told[family] += 1
        self._successes[family].append(self._enters(judgement))
        self._searchers[family].tell(own, np.asarray(vector)[1:], judgement)

    def _enters(self, judgement: Outcome) -> bool:
        """Return whether a result enters the merged front, and keep that front."""
        found = judgement.objectives
        if not judgement.is_feasible or found is None or not np.all(np.isfinite(found)):
            return False
        if np.any(np.all(self._front <= found, axis=1)):
            return False
        beaten = np.all(found <= self._front, axis=1)
        self._front = np.concatenate([self._front[~beaten], [found]])
        return True
