"""Newton's method for a magnetic network, all currents and rotor positions in compiled loops.

The residual of the energy is  K A + sum(area nu(B^2) G^T B) - f  and its Hessian is positive
definite (energy is convex), so a step that is halved until the residual falls always succeeds.
A cage's current (`models.circuit.cage_network`) makes it a saddle with one falling direction: the
Hessian stays regular, and the same holds.
Eight currents are solved side by side (`models.circuit.lanes`); a map is visited along falling
i_d with extrapolated potentials.
"""

from typing import NamedTuple

import numba
import numpy as np

from models.circuit.elimination import Elimination, Plan, plan_at
from models.circuit.lanes import (
    COUNT,
    ONES,
    load,
    plus,
    reduced,
    scaled,
    square_norms,
    store,
    times,
)
from models.circuit.network import CORNERS, Array, IntArray
from models.circuit.sparse import back_substitute, factorise
from models.materials.reluctivity import reluctivity_at

MOST_STEPS = 60
MOST_HALVINGS = 30
LEAST_FALL = 0.1
"""Of the residual's square by a full step; without it, iron that is coming back to no field can
swing from one flux density to its opposite, a little nearer each time."""


class Iron(NamedTuple):
    """Iron cells and their material.

    Attributes
    ----------
    corners : ndarray of int, shape (n_cells,)
        Corners in use.
    gradient : ndarray, shape (n_cells, 2, CORNERS)
        Field components per potential [1/m].
    area : ndarray, shape (n_cells,)
        [m^2].
    table : ndarray of int, shape (n_cells,)
        Which reluctivity table each takes.
    step : ndarray, shape (n_tables,)
    nu, slope : ndarray, shape (n_tables, n)
        Reluctivity tables, see `models.materials.reluctivity`.
    """

    corners: IntArray
    gradient: Array
    area: Array
    table: IntArray
    step: Array
    nu: Array
    slope: Array


class Field(NamedTuple):
    """Field in the iron cells at the last residual, eight lanes each, shape (n_cells, 8).

    Attributes
    ----------
    bx, by : ndarray
        Flux density [T].
    weight, slope : ndarray
        Area times reluctivity [m^3/H], area times twice its slope [m^3/(H T^2)].
    """

    bx: Array
    by: Array
    weight: Array
    slope: Array


@numba.njit(cache=True, error_model="numpy")
def new_field(n_cells: int) -> Field:
    """Return room for the field of `n_cells` cells."""
    return Field(
        np.empty((n_cells, COUNT)),
        np.empty((n_cells, COUNT)),
        np.empty((n_cells, COUNT)),
        np.empty((n_cells, COUNT)),
    )


@numba.njit(cache=True, error_model="numpy")
def fill_residual(
    potentials: Array, loads: Array, plan: Plan, iron: Iron, field: Field, residual: Array
) -> Array:
    """Fill residual [A] and the field; return each lane's sum of squares, shape (8,)."""
    n = potentials.shape[0]
    for k in range(n):
        store(residual, k, scaled(load(loads, k), -1.0))
    for k in range(n):
        own = load(potentials, k)
        total = plus(load(residual, k), scaled(own, plan.linear[k]))
        for a in range(plan.start[k], plan.start[k + 1]):
            value = plan.linear[n + a]
            if value != 0.0:
                i = plan.rows[a]
                store(residual, i, plus(load(residual, i), scaled(own, value)))
                total = plus(total, scaled(load(potentials, i), value))
        store(residual, k, total)
    for c in range(iron.corners.shape[0]):
        corner = load(potentials, plan.cells[c, 0])
        bx = scaled(corner, iron.gradient[c, 0, 0])
        by = scaled(corner, iron.gradient[c, 1, 0])
        for a in range(1, iron.corners[c]):
            corner = load(potentials, plan.cells[c, a])
            bx = plus(bx, scaled(corner, iron.gradient[c, 0, a]))
            by = plus(by, scaled(corner, iron.gradient[c, 1, a]))
        store(field.bx, c, bx)
        store(field.by, c, by)
        store(field.slope, c, plus(times(bx, bx), times(by, by)))
        which = iron.table[c]
        step, values, slopes = iron.step[which], iron.nu[which], iron.slope[which]
        for lane in range(COUNT):
            nu, slope = reluctivity_at(field.slope[c, lane], step, values, slopes)
            field.weight[c, lane] = iron.area[c] * nu
            field.slope[c, lane] = 2.0 * iron.area[c] * slope
        weight = load(field.weight, c)
        for a in range(iron.corners[c]):
            along = plus(scaled(bx, iron.gradient[c, 0, a]), scaled(by, iron.gradient[c, 1, a]))
            i = plan.cells[c, a]
            store(residual, i, plus(load(residual, i), times(weight, along)))
    return square_norms(residual)


@numba.njit(cache=True, error_model="numpy")
def fill_hessian(plan: Plan, iron: Iron, field: Field, is_secant: bool, packed: Array) -> None:
    """Fill the packed lower triangle of the Hessian at the field [m/H].

    With `is_secant` it is the stiffness at frozen reluctivity instead.
    """
    n = plan.start.shape[0] - 1
    for i in range(n + plan.start[n]):
        store(packed, i, scaled(ONES, plan.linear[i]))
    alongs = np.empty((CORNERS, COUNT))
    for c in range(iron.corners.shape[0]):
        weight, bx, by = load(field.weight, c), load(field.bx, c), load(field.by, c)
        slope = scaled(load(field.slope, c), 0.0 if is_secant else 1.0)
        pair = 0
        for a in range(iron.corners[c]):
            gx, gy = iron.gradient[c, 0, a], iron.gradient[c, 1, a]
            along = plus(scaled(bx, gx), scaled(by, gy))
            store(alongs, a, along)
            lead = times(slope, along)
            for b in range(a + 1):
                dot = gx * iron.gradient[c, 0, b] + gy * iron.gradient[c, 1, b]
                i = plan.pairs[c, pair]
                term = plus(scaled(weight, dot), times(lead, load(alongs, b)))
                store(packed, i, plus(load(packed, i), term))
                pair += 1


@numba.njit(cache=True, error_model="numpy")
def solve_lanes(
    potentials: Array,
    loads: Array,
    plan: Plan,
    iron: Iron,
    tolerance: float,
    field: Field,
    packed: Array,
) -> int:
    """Solve eight points from a start in `potentials`, shape (n, 8), overwritten.

    Returns the steps of the slowest lane, -1 if one is stuck. On return `packed` holds the
    factorised Hessian of the last step's start, which differs from the solution's by no more
    than that step: near enough for a derivative.
    """
    n = potentials.shape[0]
    residual, direction, trial = np.empty((n, COUNT)), np.empty((n, COUNT)), np.empty((n, COUNT))
    length = np.empty((1, COUNT))
    goal = np.empty(COUNT)
    scale = square_norms(loads)
    for lane in range(COUNT):
        goal[lane] = tolerance**2 * max(scale[lane], 1e-18)
    norm = fill_residual(potentials, loads, plan, iron, field, residual)
    for count in range(MOST_STEPS):
        # The first step is always taken, unless there is nothing left to gain by it.
        slack = 1e-6 if count == 0 else 1.0
        is_done = True
        for lane in range(COUNT):
            length[0, lane] = 1.0 if norm[lane] > slack * goal[lane] else 0.0
            is_done = is_done and length[0, lane] == 0.0
        if is_done and count > 0:
            return count
        fill_hessian(plan, iron, field, False, packed)
        factorise(packed, plan.start, plan.targets)
        direction[:] = residual
        back_substitute(packed, plan.start, plan.rows, direction)
        is_better = False
        for _ in range(MOST_HALVINGS):
            lengths = load(length, 0)
            for i in range(n):
                store(trial, i, reduced(load(potentials, i), lengths, load(direction, i)))
            new = fill_residual(trial, loads, plan, iron, field, residual)
            is_better = True
            for lane in range(COUNT):
                least = (1.0 - LEAST_FALL * length[0, lane]) * norm[lane]
                if length[0, lane] > 0.0 and not new[lane] < least:
                    length[0, lane] *= 0.5
                    is_better = False
            if is_better:
                break
        if not is_better:
            return -1
        norm = new
        potentials[:] = trial
    return -1


@numba.njit(cache=True, error_model="numpy")
def _extrapolated(solved: Array, i_d: Array, d: int, k: int, lane: int) -> float:
    """Guess an unknown at current d from those at the larger currents next to it."""
    last = i_d.shape[0] - 1
    if d == last:
        return 0.0
    near = solved[d + 1, k, lane]
    if d == last - 1:
        return float(near)
    ratio = (i_d[d, 0] - i_d[d + 1, 0]) / (i_d[d + 1, 0] - i_d[d + 2, 0])
    return float(near + ratio * (near - solved[d + 2, k, lane]))


@numba.njit(cache=True, error_model="numpy")
def solve_map(
    elimination: Elimination,
    iron: Iron,
    load_d: Array,
    load_q: Array,
    load_magnet: Array,
    i_d: Array,
    i_q: Array,
    magnet_scale: Array,
    tolerance: float,
) -> tuple[Array, Array, int]:
    """Solve a grid of currents at several rotor positions.

    Parameters
    ----------
    elimination : Elimination
        Of every position.
    iron : Iron
    load_d, load_q : ndarray, shape (n_positions, n)
        Load per ampere of i_d and i_q.
    load_magnet : ndarray, shape (n_positions, n)
        Load of the magnets.
    i_d, i_q : ndarray, shape (n_d, n_q)
        Currents [A]; the march starts at the last row. Where there is more than one row, i_d is
        the same all along a row.
    magnet_scale : ndarray, same shape
        What each point's magnet load is multiplied by.
    tolerance : float
        Residual over load.

    Returns
    -------
    potentials : ndarray, shape (n_positions, n_d, n_q, n)
        [Wb/m].
    per_magnet : ndarray, same shape
        Derivative of the potentials with respect to `magnet_scale` [Wb/m].
    steps : int
        Newton steps of all groups of up to eight points together; -1 if a point did not converge.
    """
    n_p, n = load_d.shape
    n_d, n_q = i_d.shape
    out = np.zeros((n_p, n_d, n_q, n))
    per_magnet = np.zeros((n_p, n_d, n_q, n))
    solved, before = np.zeros((n_d, n, COUNT)), np.zeros((n_d, n, COUNT))
    guess, loads = np.empty((n, COUNT)), np.empty((n, COUNT))
    field = new_field(iron.corners.shape[0])
    packed = np.empty((elimination.linear.shape[1], COUNT))
    steps = 0
    for first in range(0, n_q, COUNT):
        for p in range(n_p):
            order, plan = elimination.order[p], plan_at(elimination, p)
            before, solved = solved, before
            for d in range(n_d - 1, -1, -1):
                for k in range(n):
                    u = order[k]
                    for lane in range(COUNT):
                        q = min(first + lane, n_q - 1)
                        loads[k, lane] = magnet_scale[d, q] * load_magnet[p, u]
                        loads[k, lane] += i_d[d, q] * load_d[p, u] + i_q[d, q] * load_q[p, u]
                        value = _extrapolated(solved, i_d, d, u, lane)
                        if p > 0:
                            # What the same extrapolation missed at the rotor position before.
                            value += before[d, u, lane] - _extrapolated(before, i_d, d, u, lane)
                        guess[k, lane] = value
                count = solve_lanes(guess, loads, plan, iron, tolerance, field, packed)
                if count < 0:
                    return out, per_magnet, -1
                steps += count
                # The factorised Hessian is at hand: one more solve gives the sensitivity to
                # remanence.
                for k in range(n):
                    for lane in range(COUNT):
                        solved[d, order[k], lane] = guess[k, lane]
                        loads[k, lane] = load_magnet[p, order[k]]
                back_substitute(packed, plan.start, plan.rows, loads)
                for k in range(n):
                    for q in range(first, min(first + COUNT, n_q)):
                        out[p, d, q, order[k]] = guess[k, q - first]
                        per_magnet[p, d, q, order[k]] = loads[k, q - first]
    return out, per_magnet, steps


@numba.njit(cache=True, error_model="numpy")
def frozen_response(
    elimination: Elimination, iron: Iron, potentials: Array, load_magnet: Array
) -> Array:
    """Return the potentials of one load with every cell's reluctivity frozen.

    Parameters
    ----------
    elimination : Elimination
        Of every position.
    iron : Iron
    potentials : ndarray, shape (n_positions, n_points, n)
        Solutions at which reluctivities are taken [Wb/m].
    load_magnet : ndarray, shape (n_positions, n)
        The load that acts alone.

    Returns
    -------
    ndarray, shape (n_positions, n_points, n)
        [Wb/m].
    """
    n_p, n_points, n = potentials.shape
    out = np.empty((n_p, n_points, n))
    point, loads, residual = np.empty((n, COUNT)), np.empty((n, COUNT)), np.empty((n, COUNT))
    field = new_field(iron.corners.shape[0])
    packed = np.empty((elimination.linear.shape[1], COUNT))
    for p in range(n_p):
        order, plan = elimination.order[p], plan_at(elimination, p)
        for first in range(0, n_points, COUNT):
            for k in range(n):
                for lane in range(COUNT):
                    m = min(first + lane, n_points - 1)
                    point[k, lane] = potentials[p, m, order[k]]
                    loads[k, lane] = load_magnet[p, order[k]]
            fill_residual(point, loads, plan, iron, field, residual)
            fill_hessian(plan, iron, field, True, packed)
            factorise(packed, plan.start, plan.targets)
            back_substitute(packed, plan.start, plan.rows, loads)
            for k in range(n):
                for m in range(first, min(first + COUNT, n_points)):
                    out[p, m, order[k]] = loads[k, m - first]
    return out
