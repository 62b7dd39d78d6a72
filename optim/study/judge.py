"""From an evaluation to what the search needs: objectives and violations of limits.

Raw metrics are stored and judged again whenever limits, objectives or prices change, so nothing
here may depend on anything but its arguments.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from models.cost import PRICED, priced
from models.evaluation import Evaluation, Status
from models.machine import ParameterValue
from models.nomenclature import METRICS
from optim.errors import MissingMetricError
from optim.study.families import family_of, has_metric
from optim.study.model import Limit, Study

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Judgement:
    """What a study thinks of one evaluation.

    Attributes
    ----------
    objectives : ndarray, shape (n_objectives,), or None
        Metrics in SI units, all to be minimised: a maximised metric has its sign changed.
        None unless the evaluation is ok.
    violations : ndarray, shape (n_limits,), or None
        How far each limit is missed, >= 0, in parts of its scale (`limit_scale`). None unless
        the evaluation is ok.
    is_feasible : bool
        Whether the evaluation is ok and every violation is zero.
    status : {"ok", "infeasible", "failed"}
        Status of the evaluation; `failed` also when a needed metric is not a finite number.
    """

    objectives: Array | None
    violations: Array | None
    is_feasible: bool
    status: Status


def limit_scale(limit: Limit) -> float:
    """Return the scale of a limit [SI]: its bound's size, or for a bound of zero the width of
    the metric's plausible range."""
    if limit.bound != 0.0:
        return abs(limit.bound)
    metric = METRICS[limit.metric]
    return (metric.high - metric.low) / metric.shown_factor


def margin(limit: Limit, value: float) -> float:
    """Return how far a metric's value [SI] is inside a limit, in parts of the limit's scale.

    Negative when the limit is missed.
    """
    gap = value - limit.bound if limit.relation == ">=" else limit.bound - value
    return gap / limit_scale(limit)


def needed_metrics(study: Study) -> tuple[str, ...]:
    """Return the metrics that the objectives and limits use, without repeats."""
    names = [o.metric for o in study.objectives] + [limit.metric for limit in study.limits]
    return tuple(dict.fromkeys(names))


def priced_metrics(
    study: Study, evaluation: Evaluation, parameters: Mapping[str, ParameterValue]
) -> dict[str, float]:
    """Return the metrics of an ok evaluation with those of the study's price list.

    Raises
    ------
    InvalidInputError
        If the price list lacks an entry that this design needs.
    """
    return {**evaluation.metrics, **priced(evaluation.metrics, parameters, study.prices)}


def judge(
    study: Study, evaluation: Evaluation, parameters: Mapping[str, ParameterValue]
) -> Judgement:
    """Judge an evaluation by a study's objectives and limits.

    Parameters
    ----------
    study : Study
        Objectives, limits and prices.
    evaluation : Evaluation
        Outcome of the model.
    parameters : mapping
        Full parameter table of the design (SI), for its price.

    Returns
    -------
    Judgement
        Objectives and violations, or the status alone unless the evaluation is ok.

    Raises
    ------
    MissingMetricError
        If an ok evaluation lacks a needed metric: a fault of the model, not of the design.
    """
    if evaluation.status != "ok":
        return Judgement(None, None, False, evaluation.status)
    family = family_of(study, parameters)
    bound = [has_metric(family, limit.metric) for limit in study.limits]
    needed = [name for name in needed_metrics(study) if has_metric(family, name)]
    metrics = (
        priced_metrics(study, evaluation, parameters)
        if any(name in PRICED for name in needed)
        else evaluation.metrics
    )
    missing = [name for name in needed if name not in metrics]
    if missing:
        raise MissingMetricError(
            f"the {evaluation.model} model gave no {', '.join(missing)}, which the study "
            f"{study.name!r} needs; take these out of its objectives and limits"
        )
    if not all(isfinite(metrics[name]) for name in needed):
        return Judgement(None, None, False, "failed")
    objectives = np.array(
        [metrics[o.metric] if o.sense == "minimise" else -metrics[o.metric]
         for o in study.objectives],
        dtype=float,
    )  # fmt: skip
    # A limit on what a family does not have does not bind its designs.
    violations = np.array(
        [
            max(0.0, -margin(limit, metrics[limit.metric])) if binds else 0.0
            for limit, binds in zip(study.limits, bound)
        ],
        dtype=float,
    )
    return Judgement(objectives, violations, bool(np.all(violations == 0.0)), "ok")
