"""The front as it grows: what the driver is told after each result, and what a screen shows."""

import math

import numpy as np

from optim.ranking.archive import Archive
from optim.ranking.hypervolume import normalised_hypervolume
from optim.ranking.preferences import rank
from optim.ranking.scale import fixed_scale
from optim.study.judge import Judgement
from optim.study.model import Study

_EVERY = 10
_LONGEST_CURVE = 512


class FrontObserver:
    """Keeps front, hypervolume and its curve from results told in order.

    Parameters
    ----------
    study : Study
        Objectives and their fixed ranges.
    """

    def __init__(self, study: Study) -> None:
        self._study = study
        self._scale = fixed_scale(study)
        self._archive = Archive(len(study.objectives))
        self._told = 0
        self._has_changed = False
        self._hypervolume = 0.0
        self.curve: list[tuple[int, float]] = []

    def __call__(self, number: int, judgement: Judgement) -> tuple[int, float]:
        """Take a result; return the size of the front and its hypervolume."""
        self._told += 1
        self._has_changed |= self._archive.add(number, judgement)
        # Counted in results, not in time, so that a stop by stall falls on the same result
        # wherever the run is driven.
        if self._told % _EVERY == 0:
            if self._has_changed:
                self._hypervolume = normalised_hypervolume(self._archive.objectives, self._scale)
                self._has_changed = False
            self._extend_curve()
        return len(self._archive), self._hypervolume if len(self._archive) else math.nan

    def best(self, count: int) -> list[tuple[int, tuple[float, ...]]]:
        """Return number and objectives [SI, minimised] of the best ranked, best first."""
        if not len(self._archive):
            return []
        numbers, objectives = self._archive.numbers, self._archive.objectives
        order = rank(self._study, objectives, numbers=numbers).order[:count]
        return [(int(numbers[k]), tuple(np.asarray(objectives[k]).tolist())) for k in order]

    def _extend_curve(self) -> None:
        self.curve.append((self._told, self._hypervolume))
        if len(self.curve) > _LONGEST_CURVE:
            # Every second point is enough to draw; memory stays flat however long the run.
            self.curve = self.curve[::2]
