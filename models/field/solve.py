"""One operating point: Newton's method that keeps its factors while they serve.

The energy of the field is convex, so a limited-memory quasi-Newton method on top of the factors of
an earlier tangent converges in a few cheap steps. Where it slows down the
tangent is factored anew. A line search on the slope of the energy guards every step.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.assemble import System
from models.field.factor import Factor
from models.field.stiffness import (
    add_iron_force,
    add_iron_tangent,
    add_linear,
    symmetric_product,
)

Array = NDArray[np.float64]

TOLERANCE = 5e-4
"""Energy norm of the remaining error over that of the field, at which the last step is taken.
Measured on random designs: flux linkages and torque are then within 0.02 % of full convergence.
(A residual norm tells less: at a relative residual of 1e-2 the flux may be off by 5 %.)"""
FINE_TOLERANCE = 1e-4
"""For torque against position, where differences count."""
START_FLUX_DENSITY = 1.3
"""The first linear solution uses the reluctivity at this flux density [T]: from an unmagnetised
start, where iron is harder to magnetise, Newton's method needs many short steps."""
LARGEST_COUNT = 200
"""Steps before giving up."""
SLOW = 0.6
"""Energy ratio of a step above which the tangent is factored anew. A factorisation costs about
eight steps with old factors."""
OVERSHOOT = 0.5
"""Slope of the energy after a step over that before it, above which the step is shortened."""


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
    error : float
        Energy norm of the last step over that of the field: the error before that step.
    """

    potential: Array
    steps: int
    factored: int
    error: float


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
        Kept between calls so that the pattern is analysed once. Factors it holds serve for the
        first step: call its `forget` when currents or rotor angle have moved far.
    tolerance : float
        Energy norm of a step over that of the field at which it is the last.

    Returns
    -------
    Solution

    Raises
    ------
    SolverError
        No convergence.
    """
    n = system.size
    factor = factor or Factor(system.columns, system.rows, system.plan)
    steps, factored = 0, 0
    if not np.any(source):
        return Solution(np.zeros(n + 1), 0, 0, 0.0)
    if start is None:
        a = np.zeros(n + 1)
        factor.update(_uniform(system, linear))
        a[:n] = factor.solve(source[:n])
        factor.forget()
        factored += 1
    else:
        a = start.copy()
    values = linear[system.linear_place]
    residual = _residual(system, values, source, a)
    history: list[tuple[Array, Array, float]] = []
    gain = 0.0  # residual times step, about twice the energy still to be gained
    while steps < LARGEST_COUNT:
        is_fresh = not factor.is_ready
        if is_fresh:
            factor_at(factor, system, linear, a)
            history = []
            factored += 1
        change = _direction(factor, history, residual)
        last_gain, gain = gain, float(residual @ change)
        if not is_fresh and last_gain > 0.0 and gain > SLOW * last_gain:
            factor.forget()
            gain = 0.0
            continue
        steps += 1
        error = sqrt(max(gain, 0.0) / max(float(a @ source - a[:n] @ residual), 1e-300))
        if error <= tolerance:
            a[:n] += change
            return Solution(a, steps, factored, error)
        share, trial, new_residual = _line_search(system, values, source, a, change, gain)
        step, bend = share * change, residual - new_residual
        product = float(step @ bend)
        if product > 0.0:
            history.append((step, bend, 1.0 / product))
        a, residual = trial, new_residual
    raise SolverError(
        f"field solution did not converge in {LARGEST_COUNT} steps (error {error:.1e} of "
        "the field); check the B-H table and the currents"
    )


def _line_search(
    system: System, values: Array, source: Array, a: Array, change: Array, gain: float
) -> tuple[float, Array, Array]:
    """Find a step at which the energy has stopped falling fast along `change`.

    The energy is convex: its slope along the step, minus residual times `change`, rises from
    -`gain`. A residual norm would do for small steps only; it can rise while the energy falls.
    """
    n = system.size
    share, low, low_slope = 1.0, 0.0, -gain
    while True:
        trial = a.copy()
        trial[:n] += share * change
        residual = _residual(system, values, source, trial)
        slope = -float(residual @ change)
        if slope <= OVERSHOOT * gain or share < 1e-4:
            return share, trial, residual
        guess = low + (share - low) * low_slope / (low_slope - slope)
        share = min(max(guess, low + 0.1 * (share - low)), low + 0.7 * (share - low))


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


def _residual(system: System, values: Array, source: Array, a: Array) -> Array:
    """Return source minus internal force; `values` are those of the linear parts' own pattern."""
    force = np.zeros(system.size + 1)
    symmetric_product(system.linear_columns, system.linear_rows, values, a, force)
    for iron in system.iron:
        add_iron_force(
            a, force, iron.unknown, iron.sign, iron.gradient, iron.weight,
            iron.table.step, iron.table.nu, iron.table.slope,
        )  # fmt: skip
    out: Array = (source - force)[:-1]
    return out


def _uniform(system: System, linear: Array) -> Array:
    """Return the stored values with every iron at one constant reluctivity."""
    stored = linear.copy()
    for iron in system.iron:
        nu, _ = iron.table(np.array([START_FLUX_DENSITY**2]))
        add_linear(stored, iron.place, iron.sign, iron.gradient, iron.weight * nu[0])
    return stored[:-1]


def _tangent(system: System, linear: Array, a: Array, slope_share: float = 1.0) -> Array:
    """Return the stored values of the tangent."""
    tangent = linear.copy()
    for iron in system.iron:
        add_iron_tangent(
            a, tangent, iron.unknown, iron.sign, iron.place, iron.gradient, iron.weight,
            iron.table.step, iron.table.nu, iron.table.slope, slope_share,
        )  # fmt: skip
    return tangent[:-1]
