"""Selection by the survival operators of pymoo. The only file that imports pymoo."""

import warnings
from typing import Any

import numpy as np
from pymoo.algorithms.moo.nsga3 import ReferenceDirectionSurvival
from pymoo.core.population import Population
from pymoo.core.problem import Problem
from pymoo.operators.survival.rank_and_crowding import RankAndCrowding
from pymoo.util.ref_dirs import get_reference_directions

from optim.search.protocol import FloatArray
from optim.search.survival import Survivors


class CrowdingSurvival:
    """Whole fronts first; from the last one, drop the most crowded (NSGA-II).

    References
    ----------
    K. Deb, A. Pratap, S. Agarwal, T. Meyarivan, "A fast and elitist multiobjective genetic
    algorithm: NSGA-II", IEEE Trans. Evol. Comput. 6(2), 182-197, 2002, doi:10.1109/4235.996017.
    """

    def __init__(self) -> None:
        self._operator = RankAndCrowding()

    def select(
        self, objectives: FloatArray, count: int, *, generator: np.random.Generator
    ) -> Survivors:
        """Keep `count` designs; see `optim.search.survival.Survival`."""
        return _select(self._operator, objectives, count, generator, spread="crowding")


class ReferenceSurvival:
    """Whole fronts first; from the last one, fill the emptiest reference directions (NSGA-III).

    The scaling of the objectives remembers the extremes of earlier calls, so an object of this
    class belongs to one search.

    Parameters
    ----------
    n_objectives : int
        Number of objectives, >= 2.
    population : int
        Most reference directions wanted; the finest regular grid that is not larger is used.

    References
    ----------
    K. Deb, H. Jain, "An evolutionary many-objective optimization algorithm using
    reference-point-based nondominated sorting approach, part I", IEEE Trans. Evol. Comput.
    18(4), 577-601, 2014, doi:10.1109/TEVC.2013.2281535.
    """

    def __init__(self, n_objectives: int, population: int) -> None:
        self._operator = ReferenceDirectionSurvival(_directions(n_objectives, population))

    def select(
        self, objectives: FloatArray, count: int, *, generator: np.random.Generator
    ) -> Survivors:
        """Keep `count` designs; see `optim.search.survival.Survival`."""
        return _select(self._operator, objectives, count, generator, spread=None)


def _directions(n_objectives: int, population: int) -> FloatArray:
    """Finest regular grid on the unit simplex with at most `population` points."""
    partitions, size = 1, n_objectives
    while size * (n_objectives + partitions) // (partitions + 1) <= population:
        partitions += 1
        size = size * (n_objectives + partitions - 1) // partitions
    grid = get_reference_directions("das-dennis", n_objectives, n_partitions=partitions)
    return np.asarray(grid, dtype=np.float64)


def _select(
    operator: Any,
    objectives: FloatArray,
    count: int,
    generator: np.random.Generator,
    *,
    spread: str | None,
) -> Survivors:
    """Run an operator of the library on plain arrays."""
    population = Population.new("F", objectives, "row", np.arange(len(objectives)))
    problem = Problem(n_var=1, n_obj=objectives.shape[1])
    with warnings.catch_warnings():
        # The library switches all warnings off in one branch; this restores them.
        kept = operator.do(problem, population, n_survive=count, random_state=generator)
    rows = kept.get("row").astype(np.int64)
    order = np.argsort(rows)
    rank = kept.get("rank").astype(np.int64)[order]
    value = kept.get(spread).astype(np.float64)[order] if spread else np.zeros(len(rows))
    return Survivors(rows[order], rank, value)
