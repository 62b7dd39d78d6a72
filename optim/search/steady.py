"""Steady-state genetic search over mixed variables with limits.

One child is made for each candidate asked, from the population as it stands: no candidate waits
for a generation. Results enter the population in blocks, which saves time and loses nothing,
because candidates are asked many results ahead anyway.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optim.search.errors import SearchError
from optim.search.feasibility import usable, violation_score
from optim.search.operators import Variation, make_child
from optim.search.protocol import FloatArray, Outcome
from optim.search.sampling import candidate_generator, initial_designs
from optim.search.space import SearchSpace
from optim.search.survival import Survival

# Attempts at a child that was not asked before: by variation, then at random. A space that is
# all but used up then gives a repeat, which costs nothing, instead of searching for ever.
_CHILD_ATTEMPTS = 16
_RANDOM_ATTEMPTS = 32


@dataclass(frozen=True, eq=False)
class _Pool:
    """Designs with known objectives; rows belong together."""

    vectors: FloatArray
    objectives: FloatArray
    violations: FloatArray

    def __len__(self) -> int:
        return len(self.vectors)

    def rows(self, index: NDArray[np.int64]) -> "_Pool":
        return _Pool(self.vectors[index], self.objectives[index], self.violations[index])


class SteadySearcher:
    """Genetic search that follows the `Searcher` protocol.

    Parameters
    ----------
    space : SearchSpace
        Variables.
    n_objectives, n_limits : int
        Lengths of the objectives and violations that will be told.
    survival : Survival
        Selection among feasible designs.
    population : int
        Designs kept for mating, >= 4.
    initial : int
        Space-filling designs to start with, including those given.
    seed : int
        Seed of the run, >= 0.
    seeds : sequence of ndarray of shape (n,), optional
        Designs to start from.
    block : int, optional
        Results that enter the population together, >= 1.
    variation : Variation, optional
        Strength of the operators.

    Notes
    -----
    Limits follow the feasibility rules: a feasible design beats an infeasible one, and of two
    infeasible ones the smaller violation wins (see `optim.search.feasibility`). Failed and
    impossible designs never mate; they only count as asked.

    References
    ----------
    K. Deb, "An efficient constraint handling method for genetic algorithms", Comput. Methods
    Appl. Mech. Eng. 186(2-4), 311-338, 2000, doi:10.1016/S0045-7825(99)00389-8.
    """

    def __init__(
        self,
        space: SearchSpace,
        n_objectives: int,
        n_limits: int,
        *,
        survival: Survival,
        population: int,
        initial: int,
        seed: int,
        seeds: Sequence[FloatArray] = (),
        block: int = 10,
        variation: Variation = Variation(),  # noqa: B008 (frozen)
    ) -> None:
        if population < 4 or block < 1 or n_objectives < 1:
            raise SearchError(
                f"search: population {population}, block {block}, {n_objectives} objectives were "
                "given; at least 4, 1 and 1 are needed. Raise them in [search] and [objectives]."
            )
        self._space = space
        self._survival = survival
        self._population = population
        self._block = block
        self._seed = seed
        self._variation = variation
        self._initial = initial_designs(space, max(initial, 1), seed=seed, seeds=seeds)
        self._pool = _Pool(
            np.empty((0, len(space))), np.empty((0, n_objectives)), np.empty((0, n_limits))
        )
        self._grade: NDArray[np.int64] = np.empty(0, dtype=np.int64)
        self._waiting: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        self._known: set[bytes] = set()
        self._open: dict[int, bool] = {}
        self._last_asked = -1
        self._told = 0

    def ask(self, number: int) -> FloatArray:
        """Vector of candidate `number`; see `optim.search.protocol.Searcher`."""
        if number <= self._last_asked:
            raise SearchError(
                f"search: candidate {number} was asked after {self._last_asked}; numbers must "
                "increase. Ask each candidate once, in order."
            )
        self._last_asked = number
        vector = self._initial[number] if number < len(self._initial) else self._vary(number)
        # A repeat must not enter the population twice.
        self._open[number] = vector.tobytes() not in self._known
        self._known.add(vector.tobytes())
        return vector.copy()

    def tell(self, number: int, vector: FloatArray, judgement: Outcome) -> None:
        """Outcome of candidate `number`; see `optim.search.protocol.Searcher`."""
        if number not in self._open:
            raise SearchError(
                f"search: candidate {number} was told but is not open; it was never asked or "
                "told before. Tell each asked candidate once."
            )
        is_new = self._open.pop(number)
        self._told += 1
        n_objectives, n_limits = self._pool.objectives.shape[1], self._pool.violations.shape[1]
        found = usable(judgement, n_objectives, n_limits)
        if is_new and found is not None:
            self._waiting.append((np.array(vector, dtype=np.float64), *found))
        if self._told % self._block == 0 and self._waiting:
            self._renew()

    def _renew(self) -> None:
        """Let the waiting designs compete with the population."""
        vectors, objectives, violations = (np.array(column) for column in zip(*self._waiting))
        self._waiting.clear()
        merged = _Pool(
            np.concatenate((self._pool.vectors, vectors)),
            np.concatenate((self._pool.objectives, objectives)),
            np.concatenate((self._pool.violations, violations)),
        )
        score = violation_score(merged.violations)
        feasible = np.flatnonzero(score == 0.0)
        infeasible = np.flatnonzero(score > 0.0)
        rank = np.zeros(len(merged), dtype=np.int64)
        spread = np.zeros(len(merged))
        if len(feasible):
            generator = candidate_generator(self._seed, self._told, 1)
            kept = self._survival.select(
                merged.objectives[feasible],
                min(len(feasible), self._population),
                generator=generator,
            )
            feasible = feasible[kept.indices]
            rank[feasible], spread[feasible] = kept.rank, kept.spread
        room = self._population - len(feasible)
        order = np.argsort(score[infeasible], kind="stable")[: max(room, 0)]
        index = np.concatenate((feasible, np.sort(infeasible[order])))
        self._pool = merged.rows(index)
        self._grade = _grade(score[index], rank[index], spread[index])

    def _vary(self, number: int) -> FloatArray:
        """Make a child of the population, different from all designs asked before."""
        generator = candidate_generator(self._seed, number)
        vector = self._space.from_quantile(generator.random(len(self._space)))
        if len(self._pool) >= 2:
            for _ in range(_CHILD_ATTEMPTS):
                first, second = self._parents(generator)
                vector = make_child(
                    self._space, first, second, generator=generator, variation=self._variation
                )
                if vector.tobytes() not in self._known:
                    return vector
        for _ in range(_RANDOM_ATTEMPTS):
            if vector.tobytes() not in self._known:
                break
            vector = self._space.from_quantile(generator.random(len(self._space)))
        return vector

    def _parents(self, generator: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Two different parents, each the better of two drawn at random."""
        rivals = generator.integers(len(self._pool), size=(2, 2))
        grade = self._grade[rivals]
        # Of equals the first drawn wins, which is a fair coin already.
        first, second = np.where(grade[:, 0] <= grade[:, 1], rivals[:, 0], rivals[:, 1])
        if first == second:
            second = (first + 1 + generator.integers(len(self._pool) - 1)) % len(self._pool)
        return self._pool.vectors[first], self._pool.vectors[second]


def _grade(score: FloatArray, rank: NDArray[np.int64], spread: FloatArray) -> NDArray[np.int64]:
    """Place of each design by violation, then rank, then spread; equals share a place."""
    order = np.lexsort((-spread, rank, score))
    key = np.stack((score, rank, spread))[:, order]
    steps = np.any(key[:, 1:] != key[:, :-1], axis=0)
    grade = np.empty(len(order), dtype=np.int64)
    grade[order] = np.concatenate(([0], np.cumsum(steps)))
    return grade
