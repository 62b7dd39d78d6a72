"""Sparse factorisation behind a small interface: the pattern is analysed once."""

import numpy as np
import qdldl
from numpy.typing import NDArray
from scipy.sparse import csc_matrix

from models.errors import SolverError

Array = NDArray[np.float64]


class Factor:
    """Factors of a symmetric matrix whose pattern stays the same.

    Not to be shared between threads: it holds the numbers of the last matrix.

    Parameters
    ----------
    columns, rows : ndarray of int32
        Upper triangle by columns.
    """

    def __init__(self, columns: NDArray[np.int32], rows: NDArray[np.int32]) -> None:
        n = len(columns) - 1
        self._matrix = csc_matrix((np.ones(len(rows)), rows, columns), shape=(n, n))
        self._solver: qdldl.Solver | None = None
        self.is_ready = False

    def update(self, stored: Array) -> None:
        """Factor the matrix with these values, one per stored pair."""
        self._matrix.data[:] = stored
        if self._solver is None:
            self._solver = qdldl.Solver(self._matrix, upper=True)
        else:
            self._solver.update(self._matrix, upper=True)
        self.is_ready = True

    def solve(self, right: Array) -> Array:
        """Return the solution for one right-hand side."""
        if self._solver is None or not self.is_ready:
            raise SolverError("factor: solve was called before update")
        out: Array = self._solver.solve(right)
        return out

    def forget(self) -> None:
        """Mark the factors as out of date (the analysis of the pattern stays)."""
        self.is_ready = False
