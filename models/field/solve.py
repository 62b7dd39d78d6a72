"""Newton's method for one operating point, with a line search on the residual."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.assemble import System, add_iron, symmetric_product
from models.field.factor import Factor

Array = NDArray[np.float64]

TOLERANCE = 1e-4
"""Residual over source. Looser ones are unsafe: 1e-2 leaves up to 5 % in flux."""
LARGEST_COUNT = 60
"""Newton steps before giving up."""


@dataclass(frozen=True, eq=False)
class Solution:
    """A converged field.

    Attributes
    ----------
    potential : ndarray, shape (size + 1,)
        Vector potential of the unknowns [Wb/m]; the last entry is the 0 of fixed nodes.
    steps : int
        Newton steps taken.
    residual : float
        Residual over source at the end.
    """

    potential: Array
    steps: int
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
        Kept between calls so that the pattern is analysed once.
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
        return Solution(np.zeros(n + 1), 0, 0.0)
    tangent, residual = _evaluate(system, linear, source, a)
    norm = float(np.linalg.norm(residual[:n])) / scale
    for count in range(LARGEST_COUNT):
        if norm <= tolerance:
            return Solution(a, count, norm)
        factor.update(tangent[:-1])
        change = factor.solve(residual[:n])
        share = 1.0
        for _ in range(12):
            trial = a.copy()
            trial[:n] += share * change
            tangent, residual = _evaluate(system, linear, source, trial)
            new_norm = float(np.linalg.norm(residual[:n])) / scale
            # a step must pay for its length
            if new_norm <= (1.0 - 0.25 * share) * norm:
                break
            share *= 0.5
        a, norm = trial, new_norm
    raise SolverError(
        f"field solution did not converge in {LARGEST_COUNT} Newton steps (residual {norm:.1e} of "
        "the source); check the B-H table and the currents"
    )


def _evaluate(system: System, linear: Array, source: Array, a: Array) -> tuple[Array, Array]:
    """Return the tangent's stored values and the residual (source minus internal force)."""
    force = np.zeros(system.size + 1)
    symmetric_product(system.columns, system.rows, linear, a, force)
    tangent = linear.copy()
    for iron in system.iron:
        add_iron(
            a, tangent, force, True, iron.unknown, iron.sign, iron.place, iron.gradient,
            iron.weight, iron.table.step, iron.table.nu, iron.table.slope,
        )  # fmt: skip
    return tangent, source - force
