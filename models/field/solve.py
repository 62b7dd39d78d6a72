"""Operating points, four side by side: Newton's method that keeps its factors while they serve.

The energy of the field is convex, so a limited-memory quasi-Newton method on top of the factors of
an earlier tangent converges in a few cheap steps. Where that slows down the tangents are factored
anew. A line search on the slope of the energy guards every step.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.field.assemble import System
from models.field.factor import Factor, in_lanes
from models.field.lanes import COUNT, inner_products
from models.field.quasi_newton import Corrections
from models.field.stiffness import (
    add_iron_force,
    add_iron_tangent,
    add_linear,
    symmetric_product,
)

Array = NDArray[np.float64]

TOLERANCE = 1e-3
"""Energy norm of the remaining error over that of the field, at which the last step is taken.
Measured on random designs: flux linkages are then within 0.03 % of full convergence, losses
within 0.3 % (rotor sheets 1.4 %).
(A residual norm tells less: at a relative residual of 1e-2 the flux may be off by 5 %.)"""
FINE_TOLERANCE = 1e-4
"""For torque against position, where differences count."""
START_FLUX_DENSITY = 1.9
"""The first linear solution uses the reluctivity at this flux density [T]: from an unmagnetised
start, where iron is harder to magnetise, Newton's method needs many short steps."""
LARGEST_COUNT = 200
"""Steps before giving up."""
FAR = 0.02
"""Error above which the iron changes too much in a step for old factors to serve once more."""
SLOW = 0.6
"""Energy ratio of a step above which a lane waits for new factors."""
FEW = 0.3
"""Share of the lanes still in work up to which the others do not wait for those that move on."""
STEPS_PER_FACTOR = 8
"""Steps after which the tangents are factored anew in any case."""
OVERSHOOT = 0.5
"""Slope of the energy after a step over that before it, above which the step is shortened."""


@dataclass(frozen=True, eq=False)
class Problem:
    """One field to solve for, and where to start from.

    Attributes
    ----------
    linear : ndarray
        Linear parts at the rotor angle, from `at_angle`.
    source : ndarray, shape (size + 1,)
        Right-hand side.
    base : ndarray, shape (size + 1,), optional
        First guess.
    neighbours : tuple of (int, float)
        Numbers of points whose potentials, times the weight, are added to the first guess. They
        are solved before. Without base and neighbours a linear solution is the first guess.
    """

    linear: Array
    source: Array
    base: Array | None = None
    neighbours: tuple[tuple[int, float], ...] = ()


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
    """Solve for one vector potential, see `solve_points`."""
    point = Problem(linear, source, start)
    return solve_points(system, [point], factor=factor, tolerance=tolerance)[0]


def solve_points(
    system: System,
    points: Sequence[Problem],
    *,
    factor: Factor | None = None,
    tolerance: float = TOLERANCE,
) -> list[Solution]:
    """Solve for vector potentials, four at a time.

    Parameters
    ----------
    system : System
        Equations.
    points : sequence of Problem
        In the order in which they are taken up, as far as their neighbours are solved.
    factor : Factor, optional
        Its room is kept between calls.
    tolerance : float
        Energy norm of a step over that of the field at which it is the last.

    Returns
    -------
    list of Solution
        In the same order.

    Raises
    ------
    SolverError
        No convergence, or points that wait for each other.
    """
    found: list[Solution | None] = [
        None if np.any(p.source) else Solution(np.zeros(system.size + 1), 0, 0, 0.0) for p in points
    ]
    lanes = _Lanes(system, factor or Factor(system.columns, system.rows, system.plan), points)
    waiting = [k for k, solution in enumerate(found) if solution is None]
    while waiting or lanes.is_active.any():
        waiting = lanes.fill(waiting, found)
        if not lanes.is_active.any():
            raise SolverError(f"field points {waiting} wait for each other's solutions")
        for lane, solution in lanes.advance(tolerance):
            found[lanes.number[lane]] = solution
    return [solution for solution in found if solution is not None]


class _Lanes:
    """What is being solved for at the moment: one point per lane, or nothing."""

    def __init__(self, system: System, factor: Factor, points: Sequence[Problem]) -> None:
        n = system.size
        self._system, self._factor, self._points = system, factor, points
        self._corrections = Corrections(n, STEPS_PER_FACTOR)
        self._potential, self._source = np.zeros((n + 1, COUNT)), np.zeros((n + 1, COUNT))
        # lanes without a point are factored too, so their matrix must be sound
        self._linear = in_lanes(points[0].linear if points else system.linear)
        self._values = self._linear[system.linear_place]
        self.number = np.full(COUNT, -1)
        self.is_active = np.zeros(COUNT, dtype=bool)
        self._steps, self._factored = np.zeros(COUNT, dtype=int), np.zeros(COUNT, dtype=int)

    def fill(self, waiting: list[int], found: Sequence[Solution | None]) -> list[int]:
        """Put points whose neighbours are solved into free lanes; return those still waiting."""
        free = np.nonzero(~self.is_active)[0].tolist()
        cold = []
        for number in list(waiting):
            if not free:
                break
            point = self._points[number]
            start = point.base
            for neighbour, weight in point.neighbours:
                solution = found[neighbour]
                if solution is None:
                    break
                part = weight * solution.potential
                start = part if start is None else start + part
            else:
                lane = free.pop(0)
                waiting = [k for k in waiting if k != number]
                self._load(lane, number, point)
                if start is None:
                    cold.append(lane)
                else:
                    self._potential[:, lane] = start
        if cold:
            self._factor.update(_uniform(self._system, self._linear))
            self._potential[:-1, cold] = self._factor.solve(self._source[:-1])[:, cold]
            self._factored[cold] += 1
        return waiting

    def _load(self, lane: int, number: int, point: Problem) -> None:
        self.number[lane], self.is_active[lane] = number, True
        self._steps[lane], self._factored[lane] = 0, 0
        self._source[:, lane], self._potential[-1, lane] = point.source, 0.0
        self._linear[:, lane] = point.linear
        self._values[:, lane] = point.linear[self._system.linear_place]

    def advance(self, tolerance: float) -> list[tuple[int, Solution]]:
        """Factor all tangents and step while that serves; return lanes that have converged."""
        factor_at(self._factor, self._system, self._linear, self._potential)
        self._factored[self.is_active] += 1
        self._corrections.forget()
        residual = self._residual(self._potential)
        is_slow = np.zeros(COUNT, dtype=bool)
        gain = np.full(COUNT, np.inf)  # residual times step, about twice the energy to be gained
        out = []
        for _ in range(STEPS_PER_FACTOR):
            change = self._corrections.direction(self._factor, residual)
            last_gain, gain = gain, inner_products(residual, change)
            is_slow |= gain > SLOW * last_gain
            if not self._is_worth_a_step(is_slow):
                break
            self._steps[self.is_active] += 1
            error = self._error(gain, residual)
            is_last = self.is_active & ~is_slow & (error <= tolerance)
            for lane in np.nonzero(is_last)[0].tolist():
                out.append((lane, self._solution(lane, change, float(error[lane]))))
            self.is_active &= ~is_last
            if not self._is_worth_a_step(is_slow):
                break
            share, self._potential, after = self._line_search(change, gain)
            self._corrections.add(share * change, residual - after)
            residual = after
            is_slow |= error > FAR
            if not self._is_worth_a_step(is_slow):
                break
        if np.any(self._steps[self.is_active] >= LARGEST_COUNT):
            raise SolverError(
                f"field solution did not converge in {LARGEST_COUNT} steps; check the B-H table "
                "and the currents"
            )
        return out

    def _is_worth_a_step(self, is_slow: NDArray[np.bool_]) -> bool:
        moving = np.count_nonzero(self.is_active & ~is_slow)
        return bool(moving > FEW * np.count_nonzero(self.is_active))

    def _error(self, gain: Array, residual: Array) -> Array:
        """Return the energy norm of the next step over that of the field, shape (4,)."""
        energy = inner_products(self._potential, self._source) - inner_products(
            self._potential, residual
        )
        return np.asarray(np.sqrt(np.maximum(gain, 0.0) / np.maximum(energy, 1e-300)))

    def _solution(self, lane: int, change: Array, error: float) -> Solution:
        potential = self._potential[:, lane].copy()
        potential[:-1] += change[:, lane]
        return Solution(potential, int(self._steps[lane]), int(self._factored[lane]), error)

    def _line_search(self, change: Array, gain: Array) -> tuple[Array, Array, Array]:
        """Find steps at which the energy has stopped falling fast along `change`.

        The energy is convex: its slope along the step, minus residual times `change`, rises from
        -`gain`. A residual norm would do for small steps only; it can rise while the energy falls.
        """
        share = np.where(self.is_active, 1.0, 0.0)
        while True:
            trial = self._potential.copy()
            trial[:-1] += share * change
            residual = self._residual(trial)
            slope = -inner_products(residual, change)
            is_beyond = self.is_active & (slope > OVERSHOOT * gain) & (share >= 1e-4)
            if not is_beyond.any():
                return share, trial, residual
            guess = gain[is_beyond] / (gain[is_beyond] + slope[is_beyond])
            share[is_beyond] *= np.clip(guess, 0.1, 0.7)

    def _residual(self, potential: Array) -> Array:
        """Return source minus internal force, shape (size, 4)."""
        s = self._system
        force = np.zeros((s.size + 1, COUNT))
        symmetric_product(s.linear_columns, s.linear_rows, self._values, potential, force)
        for iron in s.iron:
            add_iron_force(
                potential, force, iron.unknown, iron.gradient, iron.weight,
                iron.table.step, iron.table.nu, iron.table.slope,
            )  # fmt: skip
        return np.asarray((self._source - force)[:-1])


def factor_at(
    factor: Factor, system: System, linear: Array, potential: Array, *, is_secant: bool = False
) -> None:
    """Factor the tangents at potentials of shape (size + 1, 4), or the secants (frozen nu)."""
    factor.update(tangent(system, linear, potential, 0.0 if is_secant else 1.0))


def tangent(system: System, linear: Array, potential: Array, slope_share: float = 1.0) -> Array:
    """Return the stored values of the tangents of four fields, shape (nnz, 4)."""
    out = linear.copy()
    for iron in system.iron:
        add_iron_tangent(
            potential, out, iron.unknown, iron.place, iron.gradient, iron.weight,
            iron.table.step, iron.table.nu, iron.table.slope, slope_share,
        )  # fmt: skip
    return out[:-1]


def _uniform(system: System, linear: Array) -> Array:
    """Return the stored values with every iron at one constant reluctivity, shape (nnz, 4)."""
    iron_parts = np.zeros(len(linear))
    for iron in system.iron:
        nu, _ = iron.table(np.array([START_FLUX_DENSITY**2]))
        add_linear(iron_parts, iron.place, iron.gradient, iron.weight * nu[0])
    return np.asarray((linear + iron_parts[:, None])[:-1])


def responses(
    system: System,
    linear: Sequence[Array],
    potentials: Array,
    sources: Sequence[Array],
    *,
    factor: Factor,
    is_secant: bool = False,
) -> Array:
    """Return the linear fields of sources around solved fields, shape (n, size + 1).

    Parameters
    ----------
    system : System
        Equations.
    linear, sources : sequences of n ndarrays
        As in `Problem`.
    potentials : ndarray, shape (n, size + 1)
        The fields solved.
    factor : Factor
        Room.
    is_secant : bool
        With the reluctivity frozen at these fields rather than with its tangent.
    """
    out = np.zeros((len(sources), system.size + 1))
    for begin in range(0, len(sources), COUNT):
        members = [min(begin + lane, len(sources) - 1) for lane in range(COUNT)]
        columns = [
            np.stack([values[k] for k in members], axis=1)
            for values in (linear, potentials, sources)
        ]
        factor_at(factor, system, columns[0], columns[1], is_secant=is_secant)
        out[members, :-1] = factor.solve(columns[2][:-1]).T
    return out
