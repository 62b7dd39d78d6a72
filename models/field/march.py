"""Solving many operating points: each starts from its neighbours in the grid."""

from math import gcd, pi

import numpy as np
from numpy.typing import NDArray

from models.field.factor import Factor
from models.field.machine_field import FieldModel
from models.field.solve import TOLERANCE, Solution, at_angle, factor_at, solve

Array = NDArray[np.float64]


def averaging_positions(passings: int, least: int = 3) -> Array:
    """Return rotor positions over one phase belt that see the slots evenly [electrical rad].

    A count with no common factor with `Sector.passings` (the slots per belt where these are whole)
    puts the positions at different places of a slot pitch.
    """
    count = least
    while gcd(count, passings) != 1:
        count += 1
    return pi / 3.0 * np.arange(count) / count


def solve_grid(
    model: FieldModel,
    i_d: Array,
    i_q: Array,
    *,
    rotor_angles: Array,
    remanence: float,
    factor: Factor | None = None,
) -> tuple[Array, Array]:
    """Solve a grid of currents at several rotor positions.

    Parameters
    ----------
    model : FieldModel
        Equations.
    i_d, i_q : ndarray, shapes (n_d,) and (n_q,)
        Currents [A], ascending; the march starts at the last i_d and the first i_q.
    rotor_angles : ndarray, shape (n,)
        Electrical angles [rad].
    remanence : float
        [T].
    factor : Factor, optional
        Kept between calls.

    Returns
    -------
    potential : ndarray, shape (n, n_d, n_q, size + 1)
        Vector potential [Wb/m].
    per_remanence : ndarray, shape (n_d, n_q, size + 1)
        Its derivative by remanence at the first position [m].
    """
    system = model.system
    factor = factor or Factor(system.columns, system.rows, system.plan)
    factor.forget()
    linear = [at_angle(system, model.mechanical_angle(t)) for t in rotor_angles.tolist()]
    out = np.zeros((len(rotor_angles), len(i_d), len(i_q), system.size + 1))
    derivative = np.zeros(out.shape[1:])
    magnets = model.source(0.0, 0.0, 0.0, 1.0)
    for q in range(len(i_q)):
        for k in range(len(i_d) - 1, -1, -1):
            for n, angle in enumerate(rotor_angles.tolist()):
                factor.forget()
                out[n, k, q] = solve(
                    system,
                    linear[n],
                    source=model.source(i_d[k], i_q[q], angle, remanence),
                    start=_guess(out[n], i_d, k, q),
                    factor=factor,
                ).potential
                if n == 0:
                    factor_at(factor, system, linear[n], out[n, k, q])
                    derivative[k, q, :-1] = factor.solve(magnets[:-1])
    return out, derivative


def _guess(out: Array, i_d: Array, k: int, q: int) -> Array | None:
    """Extrapolate from the neighbours already solved."""
    last = len(i_d) - 1
    if k == last:
        if q == 0:
            return None
        # teeth saturate between two steps of i_q: a straight line overshoots
        previous: Array = out[k, q - 1]
        return previous
    if q > 0:
        # parallelogram: the step along i_d is much the same one row earlier
        parallel: Array = out[k + 1, q] + out[k, q - 1] - out[k + 1, q - 1]
        return parallel
    if k == last - 1:
        first: Array = out[k + 1, q]
        return first
    ratio = (i_d[k] - i_d[k + 1]) / (i_d[k + 1] - i_d[k + 2])
    line: Array = out[k + 1, q] + ratio * (out[k + 1, q] - out[k + 2, q])
    return line


def solve_positions(
    model: FieldModel,
    *,
    i_d: float,
    i_q: float,
    rotor_angles: Array,
    remanence: float,
    factor: Factor | None = None,
    tolerance: float = TOLERANCE,
) -> list[Solution]:
    """Solve one operating point at several rotor positions in order, each from the one before.

    Parameters
    ----------
    model : FieldModel
        Equations.
    i_d, i_q : float
        Currents [A].
    rotor_angles : ndarray
        Electrical angles [rad].
    remanence : float
        [T].
    factor : Factor, optional
        Kept between calls.
    tolerance : float
        See `solve`.

    Returns
    -------
    list of Solution
    """
    system = model.system
    factor = factor or Factor(system.columns, system.rows, system.plan)
    out: list[Solution] = []
    for angle in rotor_angles:
        linear = at_angle(system, model.mechanical_angle(float(angle)))
        factor.forget()
        start = None
        if out:
            start = out[-1].potential
            if len(out) > 1:
                start = 2.0 * start - out[-2].potential
        out.append(
            solve(
                system,
                linear,
                source=model.source(i_d, i_q, float(angle), remanence),
                start=start,
                factor=factor,
                tolerance=tolerance,
            )
        )
    return out
