"""Hypervolume against a reference point that the study fixes."""

import moocore
import numpy as np
from numpy.typing import ArrayLike, NDArray

from optim.ranking.scale import Scale

Array = NDArray[np.float64]


def hypervolume(points: ArrayLike, *, reference: ArrayLike) -> float:
    """Return the volume that points dominate, up to a reference point; all minimised.

    Parameters
    ----------
    points : array_like, shape (n, m)
        Objectives; points not better than the reference in every one add nothing.
    reference : array_like, shape (m,)
        Reference point.

    References
    ----------
    E. Zitzler and L. Thiele, IEEE Trans. Evol. Comput. 3(4), 257-271, 1999,
    DOI 10.1109/4235.797969 (from memory).
    """
    end = np.asarray(reference, dtype=float)
    rows = np.asarray(points, dtype=float).reshape(-1, end.size)
    rows = rows[np.all(rows < end, axis=1)]
    return float(moocore.hypervolume(rows, ref=end)) if rows.size else 0.0


def normalised_hypervolume(objectives: ArrayLike, scale: Scale) -> float:
    """Return the share of the study's fixed box that a front dominates, 0 to 1.

    Parameters
    ----------
    objectives : array_like, shape (n, m)
        Feasible designs' objectives, minimised, SI; may be empty.
    scale : Scale
        The study's fixed ranges: `worst` is the reference point, and being better than `best`
        counts as `best`.
    """
    rows = np.asarray(objectives, dtype=float).reshape(-1, scale.best.size)
    inside = np.maximum(scale.normalised(rows), 0.0)
    return hypervolume(inside, reference=np.ones(scale.best.size))
