"""Which designs stay in the population: the contract, and selection by hypervolume."""

from dataclasses import dataclass
from typing import Protocol

import moocore
import numpy as np
from numpy.typing import NDArray

from optim.search.protocol import FloatArray


@dataclass(frozen=True, eq=False)
class Survivors:
    """Outcome of a selection.

    Attributes
    ----------
    indices : ndarray of int of shape (m,)
        Rows that stay, in increasing order.
    rank : ndarray of int of shape (m,)
        Non-dominated rank of each, 0 for the best front.
    spread : ndarray of shape (m,)
        Preference within a rank, larger is better; 0 where the selection has none.
    """

    indices: NDArray[np.int64]
    rank: NDArray[np.int64]
    spread: FloatArray


class Survival(Protocol):
    """Selects among feasible designs by their objectives."""

    def select(
        self, objectives: FloatArray, count: int, *, generator: np.random.Generator
    ) -> Survivors:
        """Keep `count` designs.

        Parameters
        ----------
        objectives : ndarray of shape (m, n_objectives)
            Finite, all minimised, m >= 1.
        count : int
            Designs to keep, 1 <= count <= m.
        generator : numpy.random.Generator
            Breaks ties, where a selection needs that.

        Returns
        -------
        Survivors
            Exactly `count` rows.
        """


class HypervolumeSurvival:
    """Whole fronts first; from the last one, drop the design that adds least hypervolume.

    Parameters
    ----------
    offset : float
        Distance of the reference point beyond the worst values, in units of the front's extent,
        > 0. A far point keeps the ends of the front.

    Notes
    -----
    Same rule as the SMS-EMOA survival of pymoo (a contract test holds the two together), made
    cheap: leaving one design out can only raise what the others add, so the values of the last
    round are lower bounds and only the smallest have to be computed again. In four objectives
    dropping 10 of 110 designs takes about 10 ms instead of 26.

    References
    ----------
    N. Beume, B. Naujoks, M. Emmerich, "SMS-EMOA: multiobjective selection based on dominated
    hypervolume", Eur. J. Oper. Res. 181(3), 1653-1669, 2007, doi:10.1016/j.ejor.2006.08.008.
    """

    def __init__(self, *, offset: float = 10.0) -> None:
        self.offset = offset

    def select(
        self, objectives: FloatArray, count: int, *, generator: np.random.Generator
    ) -> Survivors:
        """Keep `count` designs; see `Survival.select`."""
        rank = np.asarray(moocore.pareto_rank(objectives), dtype=np.int64)
        rank -= rank.min()
        keep = np.ones(len(objectives), dtype=np.bool_)
        last = int(np.partition(rank, count - 1)[count - 1])
        keep[rank > last] = False
        split = np.flatnonzero(rank == last)
        excess = int(np.count_nonzero(keep)) - count
        if excess > 0:
            low, high = objectives.min(axis=0), objectives.max(axis=0)
            scaled = (objectives[split] - low) / np.where(high > low, high - low, 1.0)
            keep[split[least_contributors(scaled, excess, reference=1.0 + self.offset)]] = False
        indices = np.flatnonzero(keep)
        return Survivors(indices, rank[indices], np.zeros(len(indices)))


def least_contributors(points: FloatArray, count: int, *, reference: float) -> NDArray[np.int64]:
    """Drop one by one the point that adds least to the hypervolume of those left.

    Parameters
    ----------
    points : ndarray of shape (m, n_objectives)
        Mutually non-dominated, minimised; equal points allowed.
    count : int
        How many to drop, 0 <= count < m.
    reference : float
        Coordinate of the reference point in every objective, above all points.

    Returns
    -------
    ndarray of int of shape (count,)
        Rows in the order in which they are dropped; of equals the earliest row.
    """
    left = np.arange(len(points))
    bound = np.array([_contribution(points, left, int(row), reference) for row in left])
    dropped: list[int] = []
    for _ in range(count):
        is_exact = np.zeros(len(points), dtype=np.bool_) if dropped else None
        while True:
            row = int(left[np.argmin(bound[left])])
            if is_exact is None or is_exact[row]:
                break
            bound[row] = _contribution(points, left, row, reference)
            is_exact[row] = True
        dropped.append(row)
        left = left[left != row]
    return np.array(dropped, dtype=np.int64)


def _contribution(points: FloatArray, left: NDArray[np.int64], row: int, reference: float) -> float:
    """Hypervolume that only `row` dominates: its box less what the others cover of it."""
    others = np.maximum(points[left[left != row]], points[row])
    box = float(np.prod(reference - points[row]))
    if len(others) == 0:
        return box
    return box - float(moocore.hypervolume(others, ref=np.full(points.shape[1], reference)))
