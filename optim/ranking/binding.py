"""Why a design is not better, and why a run found nothing: margins and what stops designs."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optim.study.judge import Judgement, margin
from optim.study.model import Limit, Study

BINDING_MARGIN = 0.02
"""A limit met by less than this part of its bound binds (common practice, no source)."""


@dataclass(frozen=True)
class Margin:
    """How a design stands to one limit.

    Attributes
    ----------
    limit : Limit
        The limit.
    value : float
        The design's metric [SI].
    share : float
        Distance inside the limit in parts of its bound (of the metric's plausible width where
        the bound is 0); negative when missed.
    """

    limit: Limit
    value: float
    share: float

    @property
    def is_met(self) -> bool:
        """Whether the limit holds."""
        return self.share >= 0.0

    @property
    def binds(self) -> bool:
        """Whether the limit holds with next to nothing to spare."""
        return 0.0 <= self.share < BINDING_MARGIN


@dataclass(frozen=True)
class Stop:
    """How many evaluated designs one limit stops.

    Attributes
    ----------
    limit : Limit
        The limit.
    stopped : int
        Designs that miss it.
    stopped_alone : int
        Designs that miss no other limit: what loosening this one alone would free.
    smallest_miss : float
        Smallest miss among the stopped, in parts of the limit's scale; 0 if it stops none.
    """

    limit: Limit
    stopped: int
    stopped_alone: int
    smallest_miss: float


def what_binds(study: Study, metrics: Mapping[str, float]) -> tuple[Margin, ...]:
    """Return the margin of each limit, tightest first.

    Parameters
    ----------
    study : Study
        The limits.
    metrics : mapping
        The design's metrics [SI] with its cost (`optim.study.judge.priced_metrics`).
    """
    margins = [
        Margin(limit, metrics[limit.metric], margin(limit, metrics[limit.metric]))
        for limit in study.limits
        if limit.metric in metrics  # a family may not have it
    ]
    return tuple(sorted(margins, key=lambda m: m.share))


def what_stops(study: Study, judgements: Iterable[Judgement]) -> tuple[Stop, ...]:
    """Return how many designs each limit stops, the most stopping first.

    Only designs with metrics count; those that are no machine at all or failed are counted by
    their reasons elsewhere.
    """
    rows = [j.violations for j in judgements if j.violations is not None]
    violations = np.array(rows, dtype=float).reshape(len(rows), len(study.limits))
    missed = violations > 0.0
    alone = missed & (missed.sum(axis=1, keepdims=True) == 1)
    stops = [
        Stop(
            limit=limit,
            stopped=int(missed[:, k].sum()),
            stopped_alone=int(alone[:, k].sum()),
            smallest_miss=float(violations[missed[:, k], k].min()) if missed[:, k].any() else 0.0,
        )
        for k, limit in enumerate(study.limits)
    ]
    return tuple(sorted(stops, key=lambda s: (-s.stopped, -s.stopped_alone)))


def least_infeasible(judgements: Sequence[tuple[int, Judgement]], *, count: int = 5) -> list[int]:
    """Return the numbers of the designs that miss the limits by least in all.

    Parameters
    ----------
    judgements : sequence of (int, Judgement)
        Number and judgement of evaluated designs.
    count : int
        How many to return at most.

    Returns
    -------
    list of int
        By summed violation, then largest violation, then number. Feasible designs come first.
    """
    known = [(number, j.violations) for number, j in judgements if j.violations is not None]
    keyed = sorted((float(v.sum()), float(v.max(initial=0.0)), number) for number, v in known)
    return [number for _, _, number in keyed[:count]]
