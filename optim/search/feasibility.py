"""Which outcomes a search can use, and how far a design is from holding all its limits."""

import numpy as np

from optim.search.errors import SearchError
from optim.search.protocol import FloatArray, Outcome

# Relative violation at which a limit counts half. Near the boundary a tenth matters; a limit
# missed three times over is no more urgent than one missed twice over.
HALF_VIOLATION = 0.1

# No physical objective is larger; beyond it, differences of two would overflow.
LARGEST_OBJECTIVE = 1e100


def violation_score(violations: FloatArray) -> FloatArray:
    """Add up the violations of all limits, each worth at most one.

    Parameters
    ----------
    violations : ndarray of shape (..., n_limits)
        Relative violations, >= 0, finite.

    Returns
    -------
    ndarray of shape (...)
        0 exactly where no limit is violated, else between 0 and n_limits.

    Notes
    -----
    score = sum of v / (v + 0.1). Between a count of the violated limits and a plain sum, in
    which one limit with a large scale (a stress ten times too high) would hide all others. It
    depends on nothing but the design, so the order of two designs never changes in a run.
    On three random problems with nine limits, 0.035 % feasible, it did no worse than a plain
    sum, the largest violation, the count, or sums scaled by the largest value seen; the
    differences were smaller than those between seeds.
    """
    return np.asarray((violations / (violations + HALF_VIOLATION)).sum(axis=-1))


def usable(
    outcome: Outcome, n_objectives: int, n_limits: int
) -> tuple[FloatArray, FloatArray] | None:
    """Objectives and violations that a search can rely on.

    Parameters
    ----------
    outcome : Outcome
        What was told.
    n_objectives, n_limits : int
        Lengths expected.

    Returns
    -------
    tuple of ndarray, or None
        Own copies of objectives and violations; None for a design that failed, was impossible,
        or whose numbers are not finite or contradict `is_feasible`.

    Raises
    ------
    SearchError
        If the lengths differ from those expected.
    """
    if outcome.objectives is None or outcome.violations is None:
        return None
    objectives = np.array(outcome.objectives, dtype=np.float64)
    violations = np.array(outcome.violations, dtype=np.float64)
    if objectives.shape != (n_objectives,) or violations.shape != (n_limits,):
        raise SearchError(
            f"search: {objectives.size} objectives and {violations.size} violations were told; "
            f"{n_objectives} and {n_limits} are expected. Judge with the study of this search."
        )
    # A number that is not finite would stay in a population for ever, because dominance and
    # hypervolume both compare false with it.
    is_finite = np.all(np.abs(objectives) < LARGEST_OBJECTIVE) and np.all(np.isfinite(violations))
    if not is_finite or outcome.is_feasible == bool(np.any(violations > 0.0)):
        return None
    return objectives, np.maximum(violations, 0.0)
