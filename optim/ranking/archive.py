"""The non-dominated designs of a run, kept up to date one by one.

The content depends on what was added, not on the order: of designs with equal objectives the one
with the lowest number stays.
"""

from collections.abc import Iterable

import moocore
import numpy as np
from numpy.typing import ArrayLike, NDArray

from optim.errors import OptimError
from optim.study.judge import Judgement

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]


class ObjectiveError(OptimError, ValueError):
    """Objectives of the wrong length or with a value that is not finite."""


class Archive:
    """Feasible non-dominated designs.

    Parameters
    ----------
    count : int
        Number of objectives.
    """

    def __init__(self, count: int) -> None:
        self._count = count
        self._objectives: Array = np.empty((0, count))
        self._numbers: Numbers = np.empty(0, dtype=np.int64)

    def __len__(self) -> int:
        return len(self._numbers)

    def __contains__(self, number: int) -> bool:
        return bool(np.any(self._numbers == number))

    @property
    def numbers(self) -> Numbers:
        """Numbers of the members, ascending, shape (n,)."""
        return np.sort(self._numbers)

    @property
    def objectives(self) -> Array:
        """Objectives of the members in the order of `numbers`, shape (n, n_objectives)."""
        return self._objectives[np.argsort(self._numbers, kind="stable")]

    def add(self, number: int, judgement: Judgement) -> bool:
        """Add a design if it is feasible and not dominated; drop what it dominates.

        Returns
        -------
        bool
            Whether the front changed.
        """
        if not judgement.is_feasible or judgement.objectives is None:
            return False
        return self.add_point(number, judgement.objectives)

    def add_point(self, number: int, objectives: ArrayLike) -> bool:
        """Add a feasible design by its objectives (minimised); return whether it stays."""
        point = np.asarray(objectives, dtype=float)
        if point.shape != (self._count,) or not np.all(np.isfinite(point)):
            raise ObjectiveError(
                f"design {number}: given objectives {point.tolist()}; allowed: {self._count} "
                "finite numbers"
            )
        is_no_worse = np.all(self._objectives <= point, axis=1)
        is_equal = is_no_worse & np.all(self._objectives == point, axis=1)
        if np.any(is_equal):
            k = int(np.argmax(is_equal))
            if self._numbers[k] <= number:
                return False
            self._numbers[k] = number
            return True
        if np.any(is_no_worse):
            return False
        keep = ~np.all(self._objectives >= point, axis=1)
        self._objectives = np.vstack([self._objectives[keep], point])
        self._numbers = np.append(self._numbers[keep], number)
        return True


def front_of(numbers: Iterable[int], objectives: ArrayLike) -> Numbers:
    """Return which designs are non-dominated, computed at once from all of them.

    Parameters
    ----------
    numbers : iterable of int
        Numbers of feasible designs.
    objectives : array_like, shape (n, m)
        Their objectives, minimised.

    Returns
    -------
    ndarray of int
        Numbers of the front, ascending; the same as of an `Archive` given the same designs.
    """
    ids = np.fromiter(numbers, dtype=np.int64)
    if ids.size == 0:
        return ids
    order = np.argsort(ids, kind="stable")
    rows = np.asarray(objectives, dtype=float)[order]
    # Of equal rows the library keeps the first, which is the lowest number after sorting.
    keep = np.asarray(moocore.is_nondominated(rows, keep_weakly=False), dtype=bool)
    front: Numbers = ids[order][keep]
    return front
