"""Ranks the front by a person's preferences, on the study's fixed scale.

Every score depends on its own design and the study only, so one more design on the front cannot
reorder the others.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from optim.errors import OptimError
from optim.ranking.scale import Scale, fixed_scale
from optim.study.model import Preferences, Study

Array = NDArray[np.float64]
Method = Literal["weights", "goals", "knee"]

AUGMENTATION = 0.01
"""Share of the weighted sum added to the largest term, which tells weakly dominated designs
apart (common practice, no source for the size)."""


class PreferenceError(OptimError, ValueError):
    """Preferences that do not fit the study's objectives."""


@dataclass(frozen=True, eq=False)
class Ranking:
    """Designs in order of preference.

    Attributes
    ----------
    order : ndarray of int, shape (n,)
        Positions in the given rows, best first.
    scores : ndarray, shape (n,)
        Score of each given row (not reordered); lower is better.
    pseudo_weights : ndarray, shape (n, n_objectives)
        Which weights each row stands for; each row sums to 1.
    method : str
        What the score is.
    """

    order: NDArray[np.int64]
    scores: Array
    pseudo_weights: Array
    method: Method


def rank(
    study: Study, objectives: ArrayLike, *, numbers: ArrayLike, method: Method | None = None
) -> Ranking:
    """Rank designs.

    Parameters
    ----------
    study : Study
        Objectives, limits and preferences.
    objectives : array_like, shape (n, n_objectives)
        Minimised, SI.
    numbers : array_like of int, shape (n,)
        Numbers of the designs; the last tie-break, lowest first.
    method : {"weights", "goals", "knee"} or None
        None takes goals if the study has some, else weights.

    Returns
    -------
    Ranking
        Order, scores and pseudo-weights. A design never ranks behind one it dominates.

    Raises
    ------
    PreferenceError
        For goals asked of a study without goals.
    """
    scale = fixed_scale(study)
    rows = scale.normalised(np.asarray(objectives, dtype=float).reshape(-1, scale.best.size))
    chosen = method or ("goals" if study.preferences.goals else "weights")
    if chosen == "goals":
        scores = achievement(rows, goal_point(study, scale), weights=weight_vector(study))
    elif chosen == "knee":
        scores = -knee_distance(rows)
    else:
        scores = weighted_compromise(rows, weights=weight_vector(study))
    order = np.lexsort((np.asarray(numbers), rows.sum(axis=1), scores))
    return Ranking(order.astype(np.int64), scores, pseudo_weights(rows), chosen)


def weight_vector(study: Study) -> Array:
    """Return the weights of the objectives, summing to 1; all equal if none is given."""
    return _weights(study.preferences, tuple(o.metric for o in study.objectives))


def goal_point(study: Study, scale: Scale) -> Array:
    """Return the goals as normalised objectives; an objective without a goal has the worst.

    Raises
    ------
    PreferenceError
        If there is no goal.
    """
    goals: Mapping[str, float] = study.preferences.goals
    if not goals:
        raise PreferenceError(
            "ranking by goals: given no goal; allowed: a value for at least one objective; "
            "add [ranking.goals] or rank by weights"
        )
    point = scale.worst.copy()
    for k, objective in enumerate(study.objectives):
        if objective.metric in goals:
            value = goals[objective.metric]
            point[k] = value if objective.sense == "minimise" else -value
    return scale.normalised(point)


def weighted_compromise(rows: ArrayLike, *, weights: ArrayLike) -> Array:
    """Return the augmented weighted Chebyshev distance from the best corner.

    Parameters
    ----------
    rows : array_like, shape (n, m)
        Normalised objectives z (0 best, 1 worst).
    weights : array_like, shape (m,)
        Weights w >= 0.

    Returns
    -------
    ndarray, shape (n,)
        max_i w_i z_i + rho sum_i w_i z_i, lower is better.

    References
    ----------
    R. E. Steuer and E.-U. Choo, Mathematical Programming 26, 326-344, 1983,
    DOI 10.1007/BF02591870 (from memory).
    """
    return achievement(rows, np.zeros(np.shape(weights)), weights=weights)


def achievement(rows: ArrayLike, goals: ArrayLike, *, weights: ArrayLike) -> Array:
    """Return the achievement scalarising function.

    Parameters
    ----------
    rows : array_like, shape (n, m)
        Normalised objectives z.
    goals : array_like, shape (m,)
        Normalised goals g.
    weights : array_like, shape (m,)
        Weights w >= 0.

    Returns
    -------
    ndarray, shape (n,)
        max_i w_i (z_i - g_i) + rho sum_i w_i (z_i - g_i): lower is better, and clearly
        negative when every goal is passed.

    References
    ----------
    A. P. Wierzbicki, in Lecture Notes in Economics and Mathematical Systems 177, 468-486,
    Springer 1980 (from memory).
    """
    terms = np.asarray(weights, dtype=float) * (np.asarray(rows, dtype=float) - goals)
    return np.asarray(terms.max(axis=1, initial=-np.inf) + AUGMENTATION * terms.sum(axis=1))


def knee_distance(rows: ArrayLike) -> Array:
    """Return how far designs bulge below the plane through the range's corners.

    Parameters
    ----------
    rows : array_like, shape (n, m)
        Normalised objectives z.

    Returns
    -------
    ndarray, shape (n,)
        (1 - sum_i z_i) / sqrt(m): the signed distance from the plane through the m points that
        are worst in one objective and best in all others; the largest is the knee.

    Notes
    -----
    The usual plane goes through the extreme points of the front itself, and moves when a point
    is added. Here it is fixed by the study, so the answer is worth as much as the ranges are.

    References
    ----------
    I. Das, Structural Optimization 18, 107-115, 1999, DOI 10.1007/BF01195985 (from memory).
    """
    z = np.asarray(rows, dtype=float)
    return np.asarray((1.0 - z.sum(axis=1)) / np.sqrt(z.shape[1]))


def pseudo_weights(rows: ArrayLike) -> Array:
    """Return the weights that designs stand for, shape (n, m), each row summing to 1.

    The nearer an objective is to its best, the larger its weight:
    w_i = (1 - z_i) / sum_k (1 - z_k), objectives beyond the worst counting 0.

    References
    ----------
    K. Deb, Multi-Objective Optimization using Evolutionary Algorithms, Wiley 2001 (from memory);
    there with the extremes of the front, here with the study's fixed ranges.
    """
    gain = np.maximum(1.0 - np.asarray(rows, dtype=float), 0.0)
    total = gain.sum(axis=1, keepdims=True)
    count = gain.shape[1]
    # A design at its worst in everything stands for no weight in particular.
    shares = np.divide(gain, total, out=np.full_like(gain, 1.0 / count), where=total > 0.0)
    return np.asarray(shares)


def _weights(preferences: Preferences, names: tuple[str, ...]) -> Array:
    missing = 0.0 if preferences.weights else 1.0
    raw = np.array([preferences.weights.get(name, missing) for name in names], dtype=float)
    return np.asarray(raw / raw.sum())
