"""Limited-memory quasi-Newton corrections of old factors, four fields side by side."""

import numba
import numpy as np
from numpy.typing import NDArray

from models.field.factor import Factor
from models.field.lanes import (
    COUNT,
    added,
    inner_product,
    inner_products,
    load,
    reduced,
    store,
    times,
)

Array = NDArray[np.float64]


class Corrections:
    """Steps taken since the tangents were factored, and how the residuals bent along them.

    Parameters
    ----------
    size : int
        Unknowns.
    room : int
        Steps that are remembered at most.
    """

    def __init__(self, size: int, room: int) -> None:
        self._steps = np.empty((room, size, COUNT))
        self._bends = np.empty((room, size, COUNT))
        self._inverse = np.empty((room, 1, COUNT))
        self._weights = np.empty((room, 1, COUNT))
        self.count = 0

    def forget(self) -> None:
        """Start afresh, with new factors."""
        self.count = 0

    def add(self, step: Array, bend: Array) -> None:
        """Remember a step and by how much the residual fell along it, both of shape (n, 4).

        A lane that did not move, or in which the energy is not convex to rounding, learns nothing.
        """
        product = inner_products(step, bend)
        inverse = np.divide(1.0, product, out=np.zeros(COUNT), where=product > 0.0)
        self._steps[self.count], self._bends[self.count] = step, bend
        self._inverse[self.count] = inverse
        self.count += 1

    def direction(self, factor: Factor, residual: Array) -> Array:
        """Return the next step by the two-loop recursion around the factors, shape (n, 4)."""
        inner = residual.copy()
        _backwards(inner, self._steps, self._bends, self._inverse, self._weights, self.count)
        out = factor.solve(inner)
        _forwards(out, self._steps, self._bends, self._inverse, self._weights, self.count)
        return out


@numba.njit(cache=True, error_model="numpy")
def _backwards(
    q: Array, steps: Array, bends: Array, inverse: Array, weights: Array, count: int
) -> None:
    for h in range(count - 1, -1, -1):
        step, bend = steps[h], bends[h]
        weight = times(load(inverse[h], 0), inner_product(step, q, q.shape[0]))
        store(weights[h], 0, weight)
        for i in range(q.shape[0]):
            store(q, i, reduced(load(q, i), load(bend, i), weight))


@numba.njit(cache=True, error_model="numpy")
def _forwards(
    out: Array, steps: Array, bends: Array, inverse: Array, weights: Array, count: int
) -> None:
    for h in range(count):
        step, bend = steps[h], bends[h]
        found = inner_product(bend, out, out.shape[0])
        share = reduced(load(weights[h], 0), load(inverse[h], 0), found)
        for i in range(out.shape[0]):
            store(out, i, added(load(out, i), load(step, i), share))
