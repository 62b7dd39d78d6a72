"""Fixed ranges that objectives are normalised on.

They come from the study alone, never from the points at hand: with ranges of the present front,
one more point could reorder all others.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.nomenclature import METRICS
from optim.study.model import Objective, Study

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Scale:
    """Best and worst value of each objective, as minimised (a maximised metric is negative).

    Attributes
    ----------
    best, worst : ndarray, shape (n_objectives,)
        SI, best < worst. `worst` is the reference point of the hypervolume.
    """

    best: Array
    worst: Array

    def normalised(self, objectives: ArrayLike) -> Array:
        """Return objectives, shape (..., n_objectives), as 0 at the best and 1 at the worst.

        Values beyond the range pass 0 or 1; nothing is clipped.
        """
        out: Array = (np.asarray(objectives, dtype=float) - self.best) / (self.worst - self.best)
        return out


def fixed_scale(study: Study) -> Scale:
    """Return the ranges of a study's objectives.

    For each objective, in this order: its range in [ranking.ranges]; else the metric's plausible
    range of the nomenclature, cut at the study's limits on it.
    """
    ends = [_range(study, objective) for objective in study.objectives]
    is_less = [o.sense == "minimise" for o in study.objectives]
    best = [low if less else -high for (low, high), less in zip(ends, is_less)]
    worst = [high if less else -low for (low, high), less in zip(ends, is_less)]
    return Scale(np.array(best, dtype=float), np.array(worst, dtype=float))


def _range(study: Study, objective: Objective) -> tuple[float, float]:
    given = study.preferences.ranges.get(objective.metric)
    if given is not None:
        return given
    metric = METRICS[objective.metric]
    low, high = metric.low / metric.shown_factor, metric.high / metric.shown_factor
    width = high - low
    for limit in study.limits:
        if limit.metric != objective.metric:
            continue
        # A limit beyond the far end moves the whole range rather than turning it around.
        if limit.relation == "<=":
            high = limit.bound
            low = low if low < high else high - width
        else:
            low = limit.bound
            high = high if high > low else low + width
    return low, high
