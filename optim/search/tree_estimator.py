"""Tree-structured Parzen estimator search, by Optuna. The only file that imports optuna.

For a few hundred slow evaluations: a candidate costs tens of milliseconds, more as the run
grows, and a resume pays that again. For thousands use the genetic searchers.
"""

import warnings
from collections.abc import Sequence

import numpy as np
import optuna
from optuna.distributions import (
    BaseDistribution,
    CategoricalDistribution,
    FloatDistribution,
    IntDistribution,
)
from optuna.trial import Trial, TrialState

from optim.search.errors import SearchError
from optim.search.feasibility import usable, violation_score
from optim.search.protocol import FloatArray, Outcome
from optim.search.sampling import candidate_generator, initial_designs
from optim.search.space import SearchSpace

# Attempts at a vector that was not asked before, drawn at random after the estimator's.
_RANDOM_ATTEMPTS = 32


class TreeEstimatorSearcher:
    """Parzen-estimator search that follows the `Searcher` protocol.

    Parameters
    ----------
    space : SearchSpace
        Variables.
    n_objectives, n_limits : int
        Lengths of the objectives and violations that will be told.
    initial : int
        Space-filling designs to start with, including those given.
    seed : int
        Seed of the run, >= 0.
    seeds : sequence of ndarray of shape (n,), optional
        Designs to start from.

    Notes
    -----
    The estimator sees the total violation of a design as one constraint. Failed and impossible
    designs are shown as worse than any violation, so that it learns to stay away from them.
    Candidates still being evaluated count as poor (the library's constant liar), which spreads
    candidates that are asked before the results of the last ones are known.

    References
    ----------
    Y. Ozaki, Y. Tanigaki, S. Watanabe, M. Nomura, M. Onishi, "Multiobjective tree-structured
    Parzen estimator", J. Artif. Intell. Res. 73, 1209-1250, 2022, doi:10.1613/jair.1.13188.
    """

    def __init__(
        self,
        space: SearchSpace,
        n_objectives: int,
        n_limits: int,
        *,
        initial: int,
        seed: int,
        seeds: Sequence[FloatArray] = (),
    ) -> None:
        self._space = space
        self._lengths = n_objectives, n_limits
        self._seed = seed
        self._initial = initial_designs(space, initial, seed=seed, seeds=seeds)
        self._distributions = {
            variable.name: _distribution(space, column)
            for column, variable in enumerate(space.variables)
        }
        # One line for each trial would drown the output of the command.
        optuna.logging.set_verbosity(optuna.logging.ERROR)
        self._study = optuna.create_study(
            directions=["minimize"] * n_objectives,
            # The library takes seeds of 32 bits; the start designs are not its own.
            sampler=optuna.samplers.TPESampler(seed=seed % 2**32, n_startup_trials=1),
        )
        self._open: dict[int, Trial] = {}
        self._known: set[bytes] = set()
        self._last_asked = -1

    def ask(self, number: int) -> FloatArray:
        """Vector of candidate `number`; see `optim.search.protocol.Searcher`."""
        if number <= self._last_asked:
            raise SearchError(
                f"search: candidate {number} was asked after {self._last_asked}; numbers must "
                "increase. Ask each candidate once, in order."
            )
        self._last_asked = number
        vector: FloatArray
        if number < len(self._initial):
            vector = self._initial[number]
            trial = self._place(vector)
        else:
            trial = self._study.ask(self._distributions)
            vector = self._vector(trial)
            if vector.tobytes() in self._known:
                vector = self._other(number, vector)
                # The repeat is withdrawn, and the estimator told of the design in its place.
                self._study.tell(trial, state=TrialState.FAIL)
                trial = self._place(vector)
        self._open[number] = trial
        self._known.add(vector.tobytes())
        return vector.copy()

    def tell(self, number: int, vector: FloatArray, judgement: Outcome) -> None:
        """Outcome of candidate `number`; see `optim.search.protocol.Searcher`."""
        if number not in self._open:
            raise SearchError(
                f"search: candidate {number} was told but is not open; it was never asked or "
                "told before. Tell each asked candidate once."
            )
        trial = self._open.pop(number)
        n_objectives, n_limits = self._lengths
        found = usable(judgement, n_objectives, n_limits)
        if found is None:
            trial.set_constraint("limits", n_limits + 1.0)
            self._study.tell(trial, state=TrialState.PRUNED)
            return
        objectives, violations = found
        trial.set_constraint("limits", float(violation_score(violations)))
        self._study.tell(trial, [float(value) for value in objectives])

    def _other(self, number: int, vector: FloatArray) -> FloatArray:
        """Random design that was not asked before; a repeat if all seem to be used up."""
        generator = candidate_generator(self._seed, number)
        for _ in range(_RANDOM_ATTEMPTS):
            if vector.tobytes() not in self._known:
                break
            vector = self._space.from_quantile(generator.random(len(self._space)))
        return vector

    def _place(self, vector: FloatArray) -> Trial:
        """Trial of the library with a given vector."""
        levels = np.rint(
            (vector - self._space.low) / np.where(self._space.step > 0, self._space.step, 1)
        )
        values = {
            variable.name: float(vector[column]) if variable.kind == "real" else int(levels[column])
            for column, variable in enumerate(self._space.variables)
        }
        with warnings.catch_warnings():
            # The library marks the call as experimental.
            warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
            self._study.enqueue_trial(values)
        return self._study.ask(self._distributions)

    def _vector(self, trial: Trial) -> FloatArray:
        """Canonical vector of a trial's values."""
        values = np.array(
            [float(trial.params[variable.name]) for variable in self._space.variables]
        )
        has_grid = self._space.levels > 0
        return self._space.canonical(
            np.where(has_grid, self._space.low + self._space.step * values, values)
        )


def _distribution(space: SearchSpace, column: int) -> BaseDistribution:
    """Range of one variable: grid values by their level, choices by their index."""
    levels = int(space.levels[column])
    if levels == 0:
        return FloatDistribution(float(space.low[column]), float(space.high[column]))
    if space.variables[column].kind == "choice":
        return CategoricalDistribution(list(range(levels)))
    return IntDistribution(0, levels - 1)
