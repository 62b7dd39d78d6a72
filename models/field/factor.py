"""Sparse factorisation behind a small interface: the pattern is planned once."""

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.elimination import EliminationPlan, plan_elimination
from models.field.fronts import factor_fronts, solve_fronts

Array = NDArray[np.float64]


class Factor:
    """Factors of a symmetric positive definite matrix whose pattern stays the same.

    Not to be shared between threads: it holds the numbers of the last matrix. The plan may be
    shared.

    Parameters
    ----------
    columns, rows : ndarray of int32
        Upper triangle by columns, every diagonal entry stored.
    plan : EliminationPlan, optional
        That of this pattern; made anew if not given.
    """

    def __init__(
        self,
        columns: NDArray[np.int32],
        rows: NDArray[np.int32],
        plan: EliminationPlan | None = None,
    ) -> None:
        p = plan or plan_elimination(columns, rows)
        largest = int(np.diff(p.row_start).max())
        self._plan = p
        self._remainders = np.empty(p.stack_size)
        self._front = np.empty(largest**2)
        self._factor = np.empty(p.panel[-1])
        self._pivot = np.empty(len(p.order))
        self._x = np.empty(len(p.order))
        self._local = np.empty(largest)
        self.is_ready = False

    def update(self, stored: Array) -> None:
        """Factor the matrix with these values, one per stored pair.

        Raises
        ------
        SolverError
            The matrix is not positive definite (a B-H table that falls, a value not a number).
        """
        p = self._plan
        self.is_ready = False
        bad = factor_fronts(
            stored, p.first, p.row_start, p.child_start, p.children, p.relative, p.stack,
            p.entry_start, p.entry_source, p.entry_target, p.panel, self._remainders,
            self._front, self._factor, self._pivot,
        )  # fmt: skip
        if bad >= 0:
            raise SolverError(
                f"factor: pivot of unknown {p.order[bad]} is not positive; H must rise with B in "
                "every B-H table, and every value must be a number"
            )
        self.is_ready = True

    def solve(self, right: Array) -> Array:
        """Return the solution for one right-hand side."""
        if not self.is_ready:
            raise SolverError("factor: solve was called before update")
        p = self._plan
        out = np.empty(len(p.order))
        solve_fronts(
            right, p.order, p.first, p.row_start, p.rows, p.panel, self._factor, self._pivot,
            self._x, self._local, out,
        )  # fmt: skip
        return out

    def forget(self) -> None:
        """Mark the factors as out of date (the plan stays)."""
        self.is_ready = False
