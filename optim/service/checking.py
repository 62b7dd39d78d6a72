"""What can be known of a study before it is run."""

import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from math import log10, prod
from statistics import median

import numpy as np

from models.errors import InfeasibleDesignError
from models.geometry.build import build, section
from optim.service.designs import Assessment, assess, study_design
from optim.study.families import family_spaces
from optim.study.model import Study
from optim.study.space import decode, levels, sample

SAMPLE = 200
"""Random designs whose section is tried."""
SEARCH_SECONDS = 0.003
"""Driver's own time for a candidate [s]: asking, judging, committing, telling. On the safe side:
10,000 made-up evaluations without a cluster cost it 1 ms each."""
_TIMED = 5


@dataclass(frozen=True, eq=False)
class CheckResult:
    """A study before its run.

    Attributes
    ----------
    study : Study
        As read.
    baseline : Assessment
        Its start design.
    evaluation_seconds : float
        Median time of one evaluation here, once compiled [s].
    workers : int
        Worker processes that the duration is for.
    duration_seconds : float
        Expected time of the run's budget [s], from the measured time.
    real_variables : int
        How many variables are continuous.
    grid_log10 : float
        Decimal logarithm of the number of combinations of all other variables.
    sampled, valid : int
        Random designs tried, and how many have a valid section.
    reasons : mapping of str to int
        Named reasons of the others.
    """

    study: Study
    baseline: Assessment
    evaluation_seconds: float
    workers: int
    duration_seconds: float
    real_variables: int
    grid_log10: float
    sampled: int
    valid: int
    reasons: Mapping[str, int]


def check(study: Study, *, workers: int) -> CheckResult:
    """Evaluate a study's baseline and look at its space.

    Parameters
    ----------
    study : Study
        As read, so without mistakes.
    workers : int
        Worker processes to expect.
    """
    design = study_design(study)
    baseline = assess(design, study)
    seconds = _evaluation_seconds(study)
    reasons = _reasons(study)
    grids = [levels(v) for v in study.variables if levels(v)]
    busy = seconds / workers
    return CheckResult(
        study=study,
        baseline=baseline,
        evaluation_seconds=seconds,
        workers=workers,
        duration_seconds=study.search.budget * max(busy, SEARCH_SECONDS),
        real_variables=sum(levels(v) == 0 for v in study.variables),
        grid_log10=log10(prod(grids)),
        sampled=SAMPLE,
        valid=SAMPLE - sum(reasons.values()),
        reasons=dict(reasons.most_common()),
    )


def _evaluation_seconds(study: Study) -> float:
    design = study_design(study)
    times = []
    for _ in range(_TIMED):
        begin = time.perf_counter()
        assess(design, study)
        times.append(time.perf_counter() - begin)
    return median(times)


def _reasons(study: Study) -> Counter[str]:
    reasons: Counter[str] = Counter()
    generator = np.random.default_rng(study.search.seed)
    spaces = family_spaces(study)
    for place, space in enumerate(spaces):
        # the sample is divided among the families
        count = SAMPLE * (place + 1) // len(spaces) - SAMPLE * place // len(spaces)
        for vector in sample(space, generator, count=count):
            try:
                section(build(decode(space, vector), family=space.family))
            except InfeasibleDesignError as error:
                reasons[error.reason] += 1
    return reasons
