"""Newton's method for a magnetic network, all currents and rotor positions in compiled loops.

The residual of the energy is  K A + sum(area nu(B^2) G^T B) - f  and its Hessian is positive
definite (energy is convex), so a step that is halved until the residual falls always succeeds.
Points are visited along falling i_d with linear extrapolation of the potentials.
"""

from typing import NamedTuple

import numba
import numpy as np

from models.circuit.network import Array, IntArray
from models.circuit.sparse import back_substitute, factorise, order_and_fill
from models.materials.reluctivity import reluctivity_at

MOST_STEPS = 60
MOST_HALVINGS = 30


@numba.njit(cache=True, error_model="numpy")
def residual_and_hessian(
    potentials: Array,
    load: Array,
    stiffness: Array,
    start: IntArray,
    rows: IntArray,
    cell_count: IntArray,
    cell_nodes: IntArray,
    cell_gradient: Array,
    cell_area: Array,
    step: float,
    nu: Array,
    slope: Array,
    residual: Array,
    hessian: Array,
    is_secant: bool,
) -> float:
    """Fill residual [A] and the Hessian's lower triangle [m/H]; return the residual's norm.

    With `is_secant` the Hessian is the stiffness at frozen reluctivity instead. Rows and columns
    are in elimination order.
    """
    n = potentials.shape[0]
    for k in range(n):
        residual[k] = -load[k]
    for k in range(n):
        p_k = potentials[k]
        diagonal = stiffness[k, k]
        hessian[k, k] = diagonal
        total = diagonal * p_k
        for a in range(start[k], start[k + 1]):
            i = rows[a]
            value = stiffness[i, k]
            hessian[i, k] = value
            residual[i] += value * p_k
            total += value * potentials[i]
        residual[k] += total
    for c in range(cell_nodes.shape[0]):
        count = cell_count[c]
        bx = 0.0
        by = 0.0
        for a in range(count):
            p = potentials[cell_nodes[c, a]]
            bx += cell_gradient[c, 0, a] * p
            by += cell_gradient[c, 1, a] * p
        value, derivative = reluctivity_at(bx * bx + by * by, step, nu, slope)
        if is_secant:
            derivative = 0.0
        value *= cell_area[c]
        derivative *= 2.0 * cell_area[c]
        for a in range(count):
            gx = cell_gradient[c, 0, a]
            gy = cell_gradient[c, 1, a]
            i = cell_nodes[c, a]
            along = gx * bx + gy * by
            residual[i] += value * along
            lead = derivative * along
            hessian[i, i] += value * (gx * gx + gy * gy) + lead * along
            for b in range(a):
                hx = cell_gradient[c, 0, b]
                hy = cell_gradient[c, 1, b]
                term = value * (gx * hx + gy * hy) + lead * (hx * bx + hy * by)
                j = cell_nodes[c, b]
                if i > j:
                    hessian[i, j] += term
                else:
                    hessian[j, i] += term
    total = 0.0
    for i in range(n):
        total += residual[i] * residual[i]
    return float(np.sqrt(total))


@numba.njit(cache=True, error_model="numpy")
def solve_point(
    potentials: Array,
    load: Array,
    stiffness: Array,
    start: IntArray,
    rows: IntArray,
    cell_count: IntArray,
    cell_nodes: IntArray,
    cell_gradient: Array,
    cell_area: Array,
    step: float,
    nu: Array,
    slope: Array,
    tolerance: float,
    residual: Array,
    hessian: Array,
    factors: Array,
    trial: Array,
) -> int:
    """Solve one point from a start in `potentials` (overwritten); return steps, -1 if stuck.

    On return `factors` holds the factorised Hessian of the last step's start, which differs from
    the solution's by no more than that step: near enough for a derivative.
    """
    n = potentials.shape[0]
    scale = 0.0
    for i in range(n):
        scale += load[i] * load[i]
    scale = max(np.sqrt(scale), 1e-9)
    norm = residual_and_hessian(
        potentials, load, stiffness, start, rows, cell_count, cell_nodes, cell_gradient, cell_area,
        step, nu, slope, residual, hessian, False,
    )  # fmt: skip
    for count in range(MOST_STEPS):
        if norm <= tolerance * scale and count > 0:
            return count
        factors[:] = hessian
        factorise(factors, start, rows)
        back_substitute(factors, start, rows, residual)
        direction = residual.copy()
        length = 1.0
        is_better = False
        for _ in range(MOST_HALVINGS):
            for i in range(n):
                trial[i] = potentials[i] - length * direction[i]
            new = residual_and_hessian(
                trial, load, stiffness, start, rows, cell_count, cell_nodes, cell_gradient,
                cell_area, step, nu, slope, residual, hessian, False,
            )  # fmt: skip
            if new < norm:
                is_better = True
                break
            length *= 0.5
        if not is_better:
            return -1
        norm = new
        potentials[:] = trial
    return -1


class Elimination(NamedTuple):
    """Each position's unknowns in elimination order.

    Attributes
    ----------
    order : ndarray of int, shape (n_positions, n)
        `order[p, k]` is the unknown eliminated k-th.
    start, rows : ndarray of int, shape (n_positions, n + 1), (n_positions, longest)
        Pattern of the lower factor, see `order_and_fill`.
    cells : ndarray of int, shape (n_positions, n_cells, 4)
        Cell nodes, renumbered.
    stiffness : ndarray, shape (n_positions, n, n)
        Linear stiffness, renumbered [m/H].
    """

    order: IntArray
    start: IntArray
    rows: IntArray
    cells: IntArray
    stiffness: Array


@numba.njit(cache=True, error_model="numpy")
def plan_elimination(stiffness: Array, cell_count: IntArray, cell_nodes: IntArray) -> Elimination:
    """Order every position's unknowns once; all solutions of a circuit share the result."""
    n_p, n = stiffness.shape[0], stiffness.shape[1]
    n_cells = cell_nodes.shape[0]
    orders = np.empty((n_p, n), dtype=np.int64)
    starts = np.empty((n_p, n + 1), dtype=np.int64)
    all_rows = np.zeros((n_p, n * (n - 1) // 2), dtype=np.int64)
    cells = np.empty((n_p, n_cells, 4), dtype=np.int64)
    renumbered = np.empty_like(stiffness)
    place = np.empty(n, dtype=np.int64)
    for p in range(n_p):
        pattern = stiffness[p].copy()
        for c in range(n_cells):
            for a in range(cell_count[c]):
                for b in range(cell_count[c]):
                    pattern[cell_nodes[c, a], cell_nodes[c, b]] = 1.0
        order, start, rows = order_and_fill(pattern)
        starts[p] = start
        all_rows[p, : rows.shape[0]] = rows
        for k in range(n):
            orders[p, k] = order[k]
            place[order[k]] = k
        for c in range(n_cells):
            for a in range(4):
                cells[p, c, a] = place[cell_nodes[c, a]]
        for i in range(n):
            for j in range(n):
                renumbered[p, i, j] = stiffness[p, order[i], order[j]]
    return Elimination(orders, starts, all_rows, cells, renumbered)


@numba.njit(cache=True, error_model="numpy")
def solve_map(
    elimination: Elimination,
    load_d: Array,
    load_q: Array,
    load_magnet: Array,
    i_d: Array,
    i_q: Array,
    cell_count: IntArray,
    cell_gradient: Array,
    cell_area: Array,
    step: float,
    nu: Array,
    slope: Array,
    tolerance: float,
) -> tuple[Array, Array, int]:
    """Solve a grid of currents at several rotor positions.

    Parameters
    ----------
    elimination : Elimination
        Of every position.
    load_d, load_q : ndarray, shape (n_positions, n)
        Load per ampere of i_d and i_q.
    load_magnet : ndarray, shape (n_positions, n)
        Load of the magnets.
    i_d, i_q : ndarray, shape (n_d,), (n_q,)
        Currents [A]; the march starts at the last i_d.
    tolerance : float
        Residual over load.

    Returns
    -------
    potentials : ndarray, shape (n_positions, n_d, n_q, n)
        [Wb/m].
    per_magnet : ndarray, same shape
        Derivative of the potentials with respect to a relative change of all remanence [Wb/m].
    steps : int
        Newton steps of all points together; -1 if a point did not converge.
    """
    n_p, n = load_d.shape
    n_d, n_q = i_d.shape[0], i_q.shape[0]
    out = np.zeros((n_p, n_d, n_q, n))
    per_magnet = np.zeros((n_p, n_d, n_q, n))
    residual, trial, load, guess = np.empty(n), np.empty(n), np.empty(n), np.zeros(n)
    solved = np.zeros((n_d, n_q, n))  # in elimination order
    hessian, factors = np.zeros((n, n)), np.zeros((n, n))
    steps = 0
    for p in range(n_p):
        order, start, rows = elimination.order[p], elimination.start[p], elimination.rows[p]
        cells, matrix = elimination.cells[p], elimination.stiffness[p]
        magnet, of_d, of_q = load_magnet[p][order], load_d[p][order], load_q[p][order]
        if p >= 1:
            guess[:] = out[p - 1, n_d - 1, 0][order]
        for q in range(n_q):
            for back in range(n_d):
                d = n_d - 1 - back
                for i in range(n):
                    load[i] = magnet[i] + i_d[d] * of_d[i] + i_q[q] * of_q[i]
                if back >= 2:
                    ratio = (i_d[d] - i_d[d + 1]) / (i_d[d + 1] - i_d[d + 2])
                    guess[:] = solved[d + 1, q] + ratio * (solved[d + 1, q] - solved[d + 2, q])
                    if q >= 1:
                        # What the same extrapolation missed at the i_q before.
                        guess[:] += solved[d, q - 1] - (
                            solved[d + 1, q - 1]
                            + ratio * (solved[d + 1, q - 1] - solved[d + 2, q - 1])
                        )
                elif back == 1:
                    guess[:] = solved[d + 1, q]
                    if q >= 1:
                        guess[:] += solved[d, q - 1] - solved[d + 1, q - 1]
                elif q >= 2:
                    ratio = (i_q[q] - i_q[q - 1]) / (i_q[q - 1] - i_q[q - 2])
                    guess[:] = solved[d, q - 1] + ratio * (solved[d, q - 1] - solved[d, q - 2])
                elif q == 1:
                    guess[:] = solved[d, 0]
                count = solve_point(
                    guess, load, matrix, start, rows, cell_count, cells, cell_gradient, cell_area,
                    step, nu, slope, tolerance, residual, hessian, factors, trial,
                )  # fmt: skip
                if count < 0:
                    return out, per_magnet, -1
                steps += count
                solved[d, q] = guess
                # The factorised Hessian is at hand: one more solve gives the sensitivity to
                # remanence.
                residual[:] = magnet
                back_substitute(factors, start, rows, residual)
                for k in range(n):
                    out[p, d, q, order[k]] = guess[k]
                    per_magnet[p, d, q, order[k]] = residual[k]
    return out, per_magnet, steps


@numba.njit(cache=True, error_model="numpy")
def frozen_response(
    elimination: Elimination,
    potentials: Array,
    load: Array,
    cell_count: IntArray,
    cell_gradient: Array,
    cell_area: Array,
    step: float,
    nu: Array,
    slope: Array,
) -> Array:
    """Return the potentials of one load with every cell's reluctivity frozen.

    Parameters
    ----------
    elimination : Elimination
        Of every position.
    potentials : ndarray, shape (n_positions, n)
        Solution at which reluctivities are taken [Wb/m].
    load : ndarray, shape (n_positions, n)
        The load that acts alone.

    Returns
    -------
    ndarray, shape (n_positions, n)
        [Wb/m].
    """
    n_p, n = potentials.shape
    out = np.empty((n_p, n))
    residual, matrix = np.empty(n), np.zeros((n, n))
    for p in range(n_p):
        order, start, rows = elimination.order[p], elimination.start[p], elimination.rows[p]
        x = load[p][order]
        residual_and_hessian(
            potentials[p][order], x, elimination.stiffness[p], start, rows, cell_count,
            elimination.cells[p], cell_gradient, cell_area, step, nu, slope, residual, matrix, True,
        )  # fmt: skip
        factorise(matrix, start, rows)
        back_substitute(matrix, start, rows, x)
        for k in range(n):
            out[p, order[k]] = x[k]
    return out
