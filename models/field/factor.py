"""Sparse factorisation behind a small interface: the pattern is planned once."""

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.elimination import EliminationPlan, plan_elimination
from models.field.fronts import factor_fronts, solve_fronts
from models.field.lanes import COUNT

Array = NDArray[np.float64]


class Factor:
    """Factors of four symmetric positive definite matrices of one pattern, side by side.

    Not to be shared between threads: it holds the numbers of the last matrices. The plan may be
    shared. A single matrix is factored in all four lanes.

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
        heights = np.diff(p.row_start)
        largest = int(heights.max())
        self._plan = p
        self._remainders = np.empty((p.stack_size, COUNT))
        self._rest = np.empty((int((heights - np.diff(p.first)).max()) ** 2, COUNT))
        self._factor = np.empty((p.panel[-1], COUNT))
        self._pivot = np.empty((len(p.order), COUNT))
        self._x = np.empty((len(p.order), COUNT))
        self._local = np.empty((largest, COUNT))
        self.is_ready = False

    def update(self, stored: Array) -> None:
        """Factor matrices with these values, of shape (nnz,) for one or (nnz, 4) for four.

        Raises
        ------
        SolverError
            A matrix is not positive definite (a B-H table that falls, a value not a number).
        """
        p = self._plan
        self.is_ready = False
        bad = factor_fronts(
            in_lanes(stored), p.first, p.row_start, p.child_start, p.children, p.relative, p.stack,
            p.entry_start, p.entry_source, p.entry_target, p.panel, self._remainders,
            self._rest, self._factor, self._pivot,
        )  # fmt: skip
        if bad >= 0:
            raise SolverError(
                f"factor: pivot of unknown {p.order[bad]} is not positive; H must rise with B in "
                "every B-H table, and every value must be a number"
            )
        self.is_ready = True

    def solve(self, right: Array) -> Array:
        """Return the solution: one per lane for a right-hand side of shape (n, 4).

        One of shape (n,) is solved with the matrix of the first lane.
        """
        if not self.is_ready:
            raise SolverError("factor: solve was called before update")
        p = self._plan
        out = np.empty((len(p.order), COUNT))
        solve_fronts(
            in_lanes(right), p.order, p.first, p.row_start, p.rows, p.panel, self._factor,
            self._pivot, self._x, self._local, out,
        )  # fmt: skip
        return out if right.ndim == 2 else np.ascontiguousarray(out[:, 0])


def in_lanes(values: Array) -> Array:
    """Return values of shape (m,) in every lane, (m, 4); those of that shape as they are."""
    return values if values.ndim == 2 else np.repeat(values[:, None], COUNT, axis=1)
