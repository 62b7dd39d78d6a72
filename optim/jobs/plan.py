"""What a run is to do: its order, its end, and the functions of its study."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from models.evaluation import Evaluation
from models.machine import ParameterValue
from optim.study.judge import Judgement
from optim.study.model import SearchSettings

Vector = NDArray[np.float64]


class Searcher(Protocol):
    """What the driver needs of a search (`optim.search.protocol.Searcher`)."""

    def ask(self, number: int) -> Vector:
        """Vector of candidate `number`; numbers rise by one."""

    def tell(self, number: int, vector: Vector, judgement: Judgement) -> None:
        """Result of candidate `number`."""


@dataclass(frozen=True)
class DesignFunctions:
    """What turns vectors into designs and outcomes into judgements; all pure.

    Attributes
    ----------
    decode : callable
        From a vector to the full parameter table (SI).
    key : callable
        From a parameter table to the design's key.
    judge : callable
        From an evaluation and its parameter table to a judgement.
    """

    decode: Callable[[Vector], Mapping[str, ParameterValue]]
    key: Callable[[Mapping[str, ParameterValue]], str]
    judge: Callable[[Evaluation, Mapping[str, ParameterValue]], Judgement]


@dataclass(frozen=True)
class Plan:
    """Order and end of a run.

    Attributes
    ----------
    budget : int
        Candidates in all; repeated designs count, though they cost nothing.
    lag : int
        See `optim.jobs.ordered`; in free order the most candidates on their way.
    is_ordered : bool
        Fixed order, or free order with a record.
    wall_time : float
        Longest driving time over all sessions [s]; 0 for none.
    stall_evaluations : int
        Stop when the hypervolume has grown by less than `stall_growth` over so many results; 0
        for never.
    stall_growth : float
        Relative growth.
    """

    budget: int
    lag: int = 100
    is_ordered: bool = True
    wall_time: float = 0.0
    stall_evaluations: int = 0
    stall_growth: float = 1e-3

    @classmethod
    def of(cls, search: SearchSettings) -> "Plan":
        """Return the plan that a study's search settings ask for."""
        return cls(
            budget=search.budget,
            lag=search.lag,
            is_ordered=search.is_ordered,
            wall_time=search.wall_time,
            stall_evaluations=search.stall_evaluations,
        )

    @property
    def order(self) -> str:
        """The order in words; a run keeps the one it began with."""
        return f"ordered, lag {self.lag}" if self.is_ordered else "free"
