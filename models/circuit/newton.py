"""Newton's method for a magnetic network, all currents and rotor positions in compiled loops.

The residual of the energy is  K A + sum(area nu(B^2) G^T B) - f  and its Hessian is positive
definite (energy is convex), so a step that is halved until the residual falls always succeeds.
Points are visited along falling i_d with linear extrapolation of the potentials.
"""

import numba
import numpy as np

from models.circuit.network import Array, IntArray
from models.materials.reluctivity import reluctivity_at

MOST_STEPS = 60
MOST_HALVINGS = 30


@numba.njit(cache=True, error_model="numpy")
def residual_and_hessian(
    potentials: Array,
    load: Array,
    stiffness: Array,
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
    """Fill residual [A] and Hessian [m/H] at `potentials` [Wb/m]; return the residual's norm.

    With `is_secant` the Hessian is the stiffness at frozen reluctivity instead.
    """
    n = potentials.shape[0]
    for i in range(n):
        total = -load[i]
        for j in range(n):
            k = stiffness[i, j]
            hessian[i, j] = k
            total += k * potentials[j]
        residual[i] = total
    for c in range(cell_nodes.shape[0]):
        bx = 0.0
        by = 0.0
        for a in range(4):
            p = potentials[cell_nodes[c, a]]
            bx += cell_gradient[c, 0, a] * p
            by += cell_gradient[c, 1, a] * p
        value, derivative = reluctivity_at(bx * bx + by * by, step, nu, slope)
        if is_secant:
            derivative = 0.0
        value *= cell_area[c]
        derivative *= 2.0 * cell_area[c]
        for a in range(4):
            gx = cell_gradient[c, 0, a]
            gy = cell_gradient[c, 1, a]
            if gx == 0.0 and gy == 0.0:
                continue
            i = cell_nodes[c, a]
            along = gx * bx + gy * by
            residual[i] += value * along
            for b in range(4):
                hx = cell_gradient[c, 0, b]
                hy = cell_gradient[c, 1, b]
                hessian[i, cell_nodes[c, b]] += value * (gx * hx + gy * hy) + derivative * along * (
                    hx * bx + hy * by
                )
    total = 0.0
    for i in range(n):
        total += residual[i] * residual[i]
    return np.sqrt(total)


@numba.njit(cache=True, error_model="numpy")
def factorise(matrix: Array) -> None:
    """Factorise a symmetric positive definite matrix in place as L D L^T.

    The unit lower factor and, on the diagonal, D overwrite the lower triangle. Zero factors are
    skipped, so sparsity pays.
    """
    n = matrix.shape[0]
    column = np.empty(n)
    for k in range(n):
        pivot = matrix[k, k]
        for i in range(k + 1, n):
            column[i] = matrix[i, k]
        for i in range(k + 1, n):
            c = column[i]
            if c != 0.0:
                factor = c / pivot
                for j in range(k + 1, i + 1):
                    matrix[i, j] -= factor * column[j]
                matrix[i, k] = factor


@numba.njit(cache=True, error_model="numpy")
def back_substitute(factors: Array, rhs: Array) -> None:
    """Solve with the factors of `factorise`; `rhs` is overwritten by the solution."""
    n = factors.shape[0]
    for i in range(n):
        total = rhs[i]
        for j in range(i):
            total -= factors[i, j] * rhs[j]
        rhs[i] = total
    for i in range(n):
        rhs[i] /= factors[i, i]
    for i in range(n - 1, -1, -1):
        value = rhs[i]
        for j in range(i):
            rhs[j] -= factors[i, j] * value


@numba.njit(cache=True, error_model="numpy")
def solve_point(
    potentials: Array,
    load: Array,
    stiffness: Array,
    cell_nodes: IntArray,
    cell_gradient: Array,
    cell_area: Array,
    step: float,
    nu: Array,
    slope: Array,
    tolerance: float,
    residual: Array,
    hessian: Array,
    trial: Array,
) -> int:
    """Solve one point from a start in `potentials` (overwritten); return steps, -1 if stuck."""
    n = potentials.shape[0]
    scale = 0.0
    for i in range(n):
        scale += load[i] * load[i]
    scale = max(np.sqrt(scale), 1e-9)
    norm = residual_and_hessian(
        potentials, load, stiffness, cell_nodes, cell_gradient, cell_area, step, nu, slope,
        residual, hessian, False,
    )  # fmt: skip
    for count in range(MOST_STEPS):
        if norm <= tolerance * scale:
            return count
        factorise(hessian)
        back_substitute(hessian, residual)
        direction = residual.copy()
        length = 1.0
        for _ in range(MOST_HALVINGS):
            for i in range(n):
                trial[i] = potentials[i] - length * direction[i]
            new = residual_and_hessian(
                trial, load, stiffness, cell_nodes, cell_gradient, cell_area, step, nu, slope,
                residual, hessian, False,
            )  # fmt: skip
            if new < norm:
                break
            length *= 0.5
        else:
            return -1
        norm = new
        potentials[:] = trial
    return -1


@numba.njit(cache=True, error_model="numpy")
def solve_map(
    stiffness: Array,
    load_d: Array,
    load_q: Array,
    load_magnet: Array,
    i_d: Array,
    i_q: Array,
    cell_nodes: IntArray,
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
    stiffness : ndarray, shape (n_positions, n, n)
        Linear part with the gap at each position [m/H].
    load_d, load_q : ndarray, shape (n_positions, n)
        Load per ampere of i_d and i_q.
    load_magnet : ndarray, shape (n,)
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
    worst : int
        Most steps of any point; -1 if a point did not converge.
    """
    n_p, n = load_d.shape
    n_d, n_q = i_d.shape[0], i_q.shape[0]
    out = np.zeros((n_p, n_d, n_q, n))
    per_magnet = np.zeros((n_p, n_d, n_q, n))
    residual, trial, load, start = np.empty(n), np.empty(n), np.empty(n), np.zeros(n)
    hessian = np.empty((n, n))
    worst = 0
    for p in range(n_p):
        for q in range(n_q):
            for back in range(n_d):
                d = n_d - 1 - back
                for i in range(n):
                    load[i] = load_magnet[i] + i_d[d] * load_d[p, i] + i_q[q] * load_q[p, i]
                if back >= 2:
                    ratio = (i_d[d] - i_d[d + 1]) / (i_d[d + 1] - i_d[d + 2])
                    start[:] = out[p, d + 1, q] + ratio * (out[p, d + 1, q] - out[p, d + 2, q])
                elif back == 1:
                    start[:] = out[p, d + 1, q]
                    if q >= 1:
                        start[:] += out[p, d, q - 1] - out[p, d + 1, q - 1]
                elif q >= 2:
                    ratio = (i_q[q] - i_q[q - 1]) / (i_q[q - 1] - i_q[q - 2])
                    start[:] = out[p, d, q - 1] + ratio * (out[p, d, q - 1] - out[p, d, q - 2])
                elif q == 1:
                    start[:] = out[p, d, 0]
                elif p >= 1:
                    start[:] = out[p - 1, d, q]
                steps = solve_point(
                    start, load, stiffness[p], cell_nodes, cell_gradient, cell_area,
                    step, nu, slope, tolerance, residual, hessian, trial,
                )  # fmt: skip
                if steps < 0:
                    return out, per_magnet, -1
                worst = max(worst, steps)
                out[p, d, q] = start
                # The Hessian of the converged point is at hand: one more solve gives the
                # sensitivity to remanence.
                factorise(hessian)
                residual[:] = load_magnet
                back_substitute(hessian, residual)
                per_magnet[p, d, q] = residual
    return out, per_magnet, worst
