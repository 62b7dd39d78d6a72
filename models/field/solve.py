"""One operating point: Newton's method that keeps its factors while they serve.

The energy of the field is convex, so a limited-memory quasi-Newton method on top of the factors of
an earlier tangent (a neighbour in the map) converges in a few cheap steps. Where it slows down the
tangent is factored anew and a line search on the residual guards the step.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.assemble import System, add_iron_force, add_iron_tangent, symmetric_product
from models.field.factor import Factor

Array = NDArray[np.float64]

TOLERANCE = 1e-4
"""Residual over source. Looser ones are unsafe: 1e-2 leaves up to 5 % in flux."""
LARGEST_COUNT = 200
"""Steps before giving up."""
SLOW = 0.55
"""Residual ratio of a step above which the tangent is factored anew. A factorisation costs about
eight steps with old factors."""


@dataclass(frozen=True, eq=False)
class Solution:
    """A converged field.

    Attributes
    ----------
    potential : ndarray, shape (size + 1,)
        Vector potential of the unknowns [Wb/m]; the last entry is the 0 of fixed nodes.
    steps : int
        Steps taken.
    factored : int
        Tangents factored.
    residual : float
        Residual over source at the end.
    """

    potential: Array
    steps: int
    factored: int
    residual: float


def at_angle(system: System, angle: float) -> Array:
    """Return the stored values of the linear parts with the rotor at an angle [rad]."""
    stored = system.linear.copy()
    stored[system.gap_place] = system.gap.mutual_block(angle)
    return stored


def solve(
    system: System,
    linear: Array,
    *,
    source: Array,
    start: Array | None = None,
    factor: Factor | None = None,
    tolerance: float = TOLERANCE,
) -> Solution:
    """Solve for the vector potential.

    Parameters
    ----------
    system : System
        Equations.
    linear : ndarray
        Linear parts at the rotor angle, from `at_angle`.
    source : ndarray, shape (size + 1,)
        Right-hand side.
    start : ndarray, optional
        First guess; zero if not given.
    factor : Factor, optional
        Kept between calls so that the pattern is analysed once and old factors serve again. Call
        its `forget` when the rotor has turned.
    tolerance : float
        Residual over source at which to stop.

    Returns
    -------
    Solution

    Raises
    ------
    SolverError
        No convergence.
    """
    n = system.size
    factor = factor or Factor(system.columns, system.rows)
    scale = float(np.linalg.norm(source[:n]))
    a = np.zeros(n + 1) if start is None else start.copy()
    if scale == 0.0:
        return Solution(np.zeros(n + 1), 0, 0, 0.0)
    residual = _residual(system, linear, source, a)
    norm = float(np.linalg.norm(residual)) / scale
    history: list[tuple[Array, Array, float]] = []
    steps, factored = 0, 0
    is_fresh = False
    while steps < LARGEST_COUNT:
        if norm <= tolerance:
            return Solution(a, steps, factored, norm)
        if not factor.is_ready:
            factor.update(_tangent(system, linear, a))
            history, is_fresh = [], True
            factored += 1
        steps += 1
        change = _direction(factor, history, residual)
        share = 1.0
        while True:
            trial = a.copy()
            trial[:n] += share * change
            new_residual = _residual(system, linear, source, trial)
            new_norm = float(np.linalg.norm(new_residual)) / scale
            # a fresh tangent guarantees descent: then shorten the step until it pays
            if not is_fresh or new_norm <= (1.0 - 0.25 * share) * norm or share < 1e-3:
                break
            share *= 0.5
        if new_norm < norm or is_fresh:
            step, bend = share * change, residual - new_residual
            product = float(step @ bend)
            if product > 0.0:
                history.append((step, bend, 1.0 / product))
            is_slow = new_norm > SLOW * norm
            a, residual, norm = trial, new_residual, new_norm
        else:
            is_slow = True
        is_fresh = False
        if is_slow:
            factor.forget()
    raise SolverError(
        f"field solution did not converge in {LARGEST_COUNT} steps (residual {norm:.1e} of "
        "the source); check the B-H table and the currents"
    )


def factor_at(
    factor: Factor, system: System, linear: Array, potential: Array, *, is_secant: bool = False
) -> None:
    """Factor the tangent at a potential, or the secant (frozen permeability)."""
    factor.update(_tangent(system, linear, potential, 0.0 if is_secant else 1.0))


def _direction(factor: Factor, history: list[tuple[Array, Array, float]], residual: Array) -> Array:
    """Return the step of the limited-memory quasi-Newton method (two-loop recursion).

    The factors are those of an earlier tangent; the history corrects them.
    """
    q = residual.copy()
    weights = []
    for step, bend, inverse in reversed(history):
        weight = inverse * float(step @ q)
        weights.append(weight)
        q -= weight * bend
    out = factor.solve(q)
    for (step, bend, inverse), weight in zip(history, reversed(weights)):
        out += (weight - inverse * float(bend @ out)) * step
    return out


def _residual(system: System, linear: Array, source: Array, a: Array) -> Array:
    """Return source minus internal force."""
    force = np.zeros(system.size + 1)
    symmetric_product(system.columns, system.rows, linear, a, force)
    for iron in system.iron:
        add_iron_force(
            a, force, iron.unknown, iron.sign, iron.gradient, iron.weight,
            iron.table.step, iron.table.nu, iron.table.slope,
        )  # fmt: skip
    out: Array = (source - force)[:-1]
    return out


def _tangent(system: System, linear: Array, a: Array, slope_share: float = 1.0) -> Array:
    """Return the stored values of the tangent."""
    tangent = linear.copy()
    for iron in system.iron:
        add_iron_tangent(
            a, tangent, iron.unknown, iron.sign, iron.place, iron.gradient, iron.weight,
            iron.table.step, iron.table.nu, iron.table.slope, slope_share,
        )  # fmt: skip
    return tangent[:-1]
