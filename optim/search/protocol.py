"""What every search algorithm looks like from outside: ask for a vector, be told its outcome."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Outcome(Protocol):
    """The part of a judged evaluation that a search reads (`optim.study.judge.Judgement` fits)."""

    @property
    def objectives(self) -> FloatArray | None:
        """Objectives, all minimised, shape (n_objectives,); None when there are none."""

    @property
    def violations(self) -> FloatArray | None:
        """Relative violation of each limit, >= 0, shape (n_limits,); None when unknown."""

    @property
    def is_feasible(self) -> bool:
        """Whether every limit holds."""


class Searcher(Protocol):
    """A search that is a deterministic function of the calls made to it.

    The same sequence of `ask` and `tell` calls gives bit-identical vectors, so a run is resumed by
    replaying its stored evaluations: a searcher needs no saved state, holds no clock, and reads
    no global random generator.
    """

    def ask(self, number: int) -> FloatArray:
        """Vector of candidate `number`.

        Parameters
        ----------
        number : int
            Number of the candidate, from 0, strictly increasing from call to call.

        Returns
        -------
        ndarray of shape (n_variables,)
            SI values; grid values of integer variables; index into the choices of a choice.
        """

    def tell(self, number: int, vector: FloatArray, judgement: Outcome) -> None:
        """Outcome of candidate `number`, once for each candidate asked.

        Parameters
        ----------
        number : int
            A number that was asked and not yet told.
        vector : ndarray of shape (n_variables,)
            The vector that `ask` gave.
        judgement : Outcome
            Objectives and violations; both None for a failed or impossible design.
        """
