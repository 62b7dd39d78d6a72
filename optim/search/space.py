"""The variables of a study as one numeric matrix: bounds, grids and canonical vectors."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optim.search.errors import SearchError
from optim.search.protocol import FloatArray
from optim.study.model import Variable

# An integer variable with at least so many levels has a meaningful distance between its values
# and is varied like a real one; below, recombination along a line would hardly ever move it.
_WIDE_LEVELS = 9


@dataclass(frozen=True, eq=False)
class SearchSpace:
    """Bounds and grids of all variables.

    Attributes
    ----------
    variables : tuple of Variable
        In the order of the columns.
    low, high : ndarray of shape (n,)
        Bounds [SI, or index for a choice]; `high` lies on the grid.
    step : ndarray of shape (n,)
        Grid spacing; 0 for real variables.
    levels : ndarray of int of shape (n,)
        Number of grid values; 0 for real variables.
    is_ordered : ndarray of bool of shape (n,)
        Whether values vary along a line (real and wide integers) or are picked from a few.
    """

    variables: tuple[Variable, ...]
    low: FloatArray
    high: FloatArray
    step: FloatArray
    levels: NDArray[np.int64]
    is_ordered: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return the number of variables."""
        return len(self.variables)

    @cached_property
    def span(self) -> FloatArray:
        """Width of each variable, 1 where the bounds coincide, shape (n,)."""
        width = self.high - self.low
        return np.where(width > 0.0, width, 1.0)

    @cached_property
    def size(self) -> float:
        """Number of different designs; infinite as soon as one real variable has a width."""
        counts = np.where(self.levels > 0, self.levels, np.where(self.high > self.low, np.inf, 1))
        return float(np.prod(counts.astype(np.float64)))

    def canonical(self, vector: FloatArray) -> FloatArray:
        """Nearest valid vector, so that equal designs have bit-equal vectors.

        Parameters
        ----------
        vector : ndarray of shape (..., n)
            Any finite values.

        Returns
        -------
        ndarray of shape (..., n)
            Clipped to the bounds and rounded to the grids; -0.0 becomes 0.0.
        """
        has_grid = self.levels > 0
        step = np.where(has_grid, self.step, 1.0)
        rounded = self.low + step * np.rint((np.asarray(vector) - self.low) / step)
        return np.clip(np.where(has_grid, rounded, vector), self.low, self.high) + 0.0

    def to_unit(self, vector: FloatArray) -> FloatArray:
        """Scale each variable to 0..1 between its bounds, shape (..., n)."""
        return np.asarray((vector - self.low) / self.span)

    def from_unit(self, unit: FloatArray) -> FloatArray:
        """Undo `to_unit` and make the result canonical, shape (..., n)."""
        return self.canonical(self.low + unit * (self.high - self.low))

    def from_quantile(self, quantile: FloatArray) -> FloatArray:
        """Map uniform numbers in [0, 1) to vectors in which every grid value is equally likely.

        Parameters
        ----------
        quantile : ndarray of shape (..., n)
            Numbers in [0, 1).

        Returns
        -------
        ndarray of shape (..., n)
            Canonical vectors.
        """
        level = np.minimum(np.floor(quantile * self.levels), np.maximum(self.levels - 1, 0))
        line = self.low + quantile * (self.high - self.low)
        return self.canonical(np.where(self.levels > 0, self.low + self.step * level, line))


def search_space(variables: Sequence[Variable]) -> SearchSpace:
    """Collect the bounds and grids of the variables of a study.

    Parameters
    ----------
    variables : sequence of Variable
        At least one.

    Returns
    -------
    SearchSpace
        The numeric view of these variables.

    Raises
    ------
    SearchError
        If there is no variable, or a bound is not finite or out of order.
    """
    if not variables:
        raise SearchError(
            "search: no variable was given; a search needs at least one. "
            "Add an entry to [variables]."
        )
    for variable in variables:
        is_finite = np.isfinite(variable.low) and np.isfinite(variable.high)
        if not is_finite or variable.low > variable.high:
            raise SearchError(
                f"variable {variable.name}: bounds {variable.low:g} .. {variable.high:g} were "
                "given; both must be finite and low <= high. Correct the bounds."
            )
    low = np.array([variable.low for variable in variables], dtype=np.float64)
    high = np.array([variable.high for variable in variables], dtype=np.float64)
    step = np.array([_step(variable) for variable in variables], dtype=np.float64)
    has_grid = step > 0.0
    safe_step = np.where(has_grid, step, 1.0)
    # The small slack keeps a top value that rounding puts just below its grid line.
    levels = np.where(has_grid, np.floor((high - low) / safe_step + 1e-9) + 1, 0).astype(np.int64)
    is_choice = np.array([variable.kind == "choice" for variable in variables])
    return SearchSpace(
        variables=tuple(variables),
        low=low,
        # The sum may pass the bound by a rounding error: the bound itself is then the last value.
        high=np.where(has_grid, np.minimum(low + step * (levels - 1), high), high),
        step=step,
        levels=levels,
        is_ordered=~is_choice & (~has_grid | (levels >= _WIDE_LEVELS)),
    )


def _step(variable: Variable) -> float:
    """Grid spacing of a variable, 0 for a real one."""
    if variable.kind == "real":
        return 0.0
    if variable.kind == "choice":
        return 1.0
    return variable.step if variable.step > 0.0 else 1.0
