"""Temperatures over time: exact for a constant load, marched and closed to a loop for a cycle."""

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import InvalidInputError, SolverError
from models.thermal.nodes import NODES, ThermalNetwork
from models.thermal.steady import (
    Load,
    factorise,
    fill_matrix,
    hottest_winding,
    loss_slope,
    magnet_temperature,
    substitute,
    system,
)

Array = NDArray[np.float64]
_K = 3  # branches that depend on speed
_HOLD_GRID = np.linspace(0.0, 1.0, 33)
_MEAN_PASSES = 6
"""Passes closed with the matrix of the mean network; 2 or 3 do for nearly every machine."""
SETTLED = 1e-2
"""A cycle counts as settled when it ends within this of where it began [K]."""


def temperatures_after(
    network: ThermalNetwork, load: Load, *, start: ArrayLike, times: ArrayLike
) -> Array:
    """Return temperatures at times after a constant load is put on.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    load : Load
        Load points of shape (...).
    start : array_like, shape (n,) or (..., n)
        Temperatures at time zero [degC]; of a runaway (+inf) all that follow are +inf.
    times : array_like, shape (k,)
        [s], >= 0.

    Returns
    -------
    ndarray, shape (..., k, n)
        [degC].

    Notes
    -----
    Exact solution of C dT/dt = q - A T by the eigenvectors of C^-1/2 A C^-1/2; resistance
    follows temperature, so A may have a negative eigenvalue (runaway), which is handled the
    same way. A sudden load that lasts so long that exp overflows gives +inf.
    """
    begin, at = np.asarray(start, dtype=float), np.asarray(times, dtype=float)
    if np.any(np.isposinf(begin)):
        return np.full((*np.shape(load.winding_dc), at.size, len(NODES)), np.inf)
    return _modes(network, load, begin).at(at)


@dataclass(frozen=True, eq=False)
class _Modes:
    """Eigenvalues [1/s], mode shapes (in K), and start and drive of each mode."""

    values: Array
    shapes: Array
    first: Array
    drive: Array

    def at(self, t: Array) -> Array:
        x = -self.values[..., None, :] * t[:, None]
        with np.errstate(over="ignore", invalid="ignore"):
            # (e^x - 1) / x, which is 1 at x = 0.
            grown = np.expm1(x)
            ramp = np.where(np.abs(x) < 1e-12, 1.0, grown / np.where(x == 0.0, 1.0, x))
            first = (grown + 1.0) * self.first[..., None, :]
            size = first + t[:, None] * ramp * self.drive[..., None, :]
            return np.asarray(size @ np.swapaxes(self.shapes, -1, -2))


def _modes(network: ThermalNetwork, load: Load, start: Array) -> _Modes:
    matrix, rhs = system(network, load)
    root = np.sqrt(network.capacity)
    values, vectors = np.linalg.eigh(matrix / (root[:, None] * root))
    turned = np.swapaxes(vectors, -1, -2)
    return _Modes(
        values=values,
        shapes=vectors / root[:, None],
        first=(turned @ (start * root)[..., None])[..., 0],
        drive=(turned @ (rhs / root)[..., None])[..., 0],
    )


@dataclass(frozen=True)
class HoldTime:
    """How long a load can be held.

    Attributes
    ----------
    time : float
        Time until the first limit [s]; the longest time asked for if none is met.
    limit : {"winding", "magnet", "none"}
        Which limit.
    """

    time: float
    limit: str


def hold_time(
    network: ThermalNetwork, load: Load, *, start: ArrayLike, winding_limit: float,
    magnet_limit: float, longest: float = 3600.0,
) -> HoldTime:  # fmt: skip
    """Return how long one load can be held before a temperature limit.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    load : Load
        One load point (shape ()).
    start : array_like, shape (n,)
        Temperatures at the beginning [degC].
    winding_limit, magnet_limit : float
        Limits [degC].
    longest : float
        Time at which to stop looking [s].

    Returns
    -------
    HoldTime
        To 0.01 % of the time.
    """
    if np.any(np.isposinf(np.asarray(start, dtype=float))):
        return HoldTime(0.0, "winding")
    low, high = 0.0, longest
    grid = np.concatenate([[0.0], np.geomspace(1e-2, longest, 64)])
    modes = _modes(network, load, np.asarray(start, dtype=float))
    limit = "none"
    for _ in range(4):
        t = modes.at(grid)
        winding = hottest_winding(t) >= winding_limit
        magnet = magnet_temperature(t) >= magnet_limit
        over = np.flatnonzero(winding | magnet)
        if over.size == 0:
            return HoldTime(longest, "none")
        k = int(over[0])
        limit = "winding" if winding[k] else "magnet"
        if k == 0:
            return HoldTime(0.0, limit)
        low, high = float(grid[k - 1]), float(grid[k])
        if high - low <= 1e-4 * high:
            break
        grid = low + (high - low) * _HOLD_GRID
    return HoldTime(0.5 * (low + high), limit)


@dataclass(frozen=True, eq=False)
class CycleTemperatures:
    """Temperatures over a cycle that repeats without end.

    Attributes
    ----------
    winding, magnet : float
        Highest winding hot spot and magnet temperature [degC]; +inf in thermal runaway.
    mean : ndarray, shape (n,)
        Time mean of each node [degC].
    start : ndarray, shape (n,)
        Temperatures at the beginning (and end) of the settled cycle [degC].
    """

    winding: float
    magnet: float
    mean: Array
    start: Array


def settled_cycle_temperatures(
    network: ThermalNetwork, load: Load, durations: Array, *, step: float = 10.0
) -> CycleTemperatures:
    """Return the highest temperatures over repeated cycles once these have settled.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    load : Load
        Loads of the cycle's intervals, shape (n_t,).
    durations : ndarray, shape (n_t,)
        Length of each interval [s], > 0.
    step : float
        Intervals are joined to pieces of about this length [s], energy kept: short peaks are
        smoothed (10 s: 0.1 to 0.5 K below 1 s on an uneven made-up cycle).

    Returns
    -------
    CycleTemperatures

    Raises
    ------
    InvalidInputError
        Durations and loads do not match.
    SolverError
        The settled cycle was not found.

    Notes
    -----
    The periodic state is solved for, not waited for: the cycle is marched from the steady state
    of its mean load, and the gap between end and start is closed with the monodromy matrix of
    the mean network, (I - exp(-C^-1 A t))^-1, until it is below 10 mK (2 or 3 passes). March:
    two-stage singly diagonally implicit Runge-Kutta, second order and L-stable (Alexander, SIAM
    J. Numer. Anal. 14(6) 1006, 1977), so the light nodes (air, coolant) do no harm. Where that
    does not close the gap the cycle's own monodromy matrix is marched; an eigenvalue of 1 or more
    is thermal runaway from cycle to cycle, although the mean load could be held.
    """
    if durations.shape != np.shape(load.winding_dc) or durations.ndim != 1:
        raise InvalidInputError(
            f"cycle: {durations.shape} durations for loads of shape {np.shape(load.winding_dc)}; "
            "one duration per load is needed"
        )
    table = np.column_stack([network.speed_conductances(load.speed), load.winding_dc, load.losses])
    dt, table = _joined(table, durations, step)
    mean = dt @ table / dt.sum()
    beta = loss_slope(network, load.reference_temperature)
    matrix = network.fixed + np.tensordot(mean[:_K], network.speed_branches, axes=1)
    matrix[np.diag_indices(len(NODES))] -= beta * mean[_K] * network.winding_split
    root = np.sqrt(network.capacity)
    values, vectors = np.linalg.eigh(matrix / (root[:, None] * root))
    if values[0] <= 0.0:
        return _runaway()
    copper = mean[_K] * (1.0 - beta * load.reference_temperature) * network.winding_split
    start = np.linalg.solve(matrix, network.source + mean[_K + 1 :] + copper)
    closing = (vectors / -np.expm1(-values * dt.sum())) @ vectors.T
    closing = closing / root[:, None] * root
    steps = _factorised(
        network.fixed, network.speed_branches, network.winding_split, network.capacity, beta,
        table, dt,
    )  # fmt: skip
    sources = network.source + table[:, _K + 1 :]
    sources += (table[:, _K] * (1.0 - beta * load.reference_temperature))[:, None] * (
        network.winding_split
    )
    for count in range(20):
        if count == _MEAN_PASSES:
            # The loads are too uneven for the mean network: the cycle's own matrix, by marching
            # every node's kelvin through it.
            once = _once_round(steps, network.capacity, dt)
            if not np.all(np.isfinite(once)) or np.abs(np.linalg.eigvals(once)).max() >= 1.0:
                return _runaway()
            closing = np.linalg.inv(np.eye(len(NODES)) - once)
        track = _march(steps, sources, network.capacity, dt, start)
        gap_to_start = track[-1] - start
        if np.max(np.abs(gap_to_start)) < SETTLED:
            middle = 0.5 * (track + np.vstack([start, track[:-1]]))
            return CycleTemperatures(
                winding=float(hottest_winding(track).max()),
                magnet=float(magnet_temperature(track).max()),
                mean=np.asarray(dt @ middle / dt.sum()),
                start=start,
            )
        start = start + closing @ gap_to_start
    raise SolverError(
        f"cycle temperatures: start and end still differ by {np.max(np.abs(gap_to_start)):.3g} K "
        "after 20 passes"
    )


def _runaway() -> CycleTemperatures:
    hot = np.full(len(NODES), np.inf)
    return CycleTemperatures(np.inf, np.inf, hot, hot)


def _once_round(steps: Array, capacity: Array, dt: Array) -> Array:
    """Return the derivative of a cycle's end temperatures by those of its start, shape (n, n)."""
    silent = np.zeros((dt.shape[0], len(NODES)))
    return np.stack(
        [_march(steps, silent, capacity, dt, kelvin)[-1] for kelvin in np.eye(len(NODES))], axis=1
    )


def _joined(table: Array, durations: Array, step: float) -> tuple[Array, Array]:
    """Join rows to pieces of about `step` seconds, weighted by duration."""
    total = np.cumsum(durations)
    piece = np.floor((total - 1e-9 * total[-1]) / step)
    first = np.flatnonzero(np.diff(piece, prepend=-1.0))
    dt = np.add.reduceat(durations, first)
    return dt, np.add.reduceat(table * durations[:, None], first, axis=0) / dt[:, None]


GAMMA = 1.0 - 0.5 * 2.0**0.5
"""Of the two-stage method: its diagonal coefficient."""


@numba.njit(cache=True, error_model="numpy")
def _factorised(
    fixed: Array, branches: Array, split: Array, capacity: Array, beta: float, table: Array,
    dt: Array,
) -> Array:  # fmt: skip
    """Return every piece's factor of A + C / (gamma h), shape (n_t, n, n), the same in all passes.

    Rows of `table` begin with factors of the branches and winding loss. NaN where it is not
    positive definite.
    """
    n = capacity.shape[0]
    count = branches.shape[0]
    out = np.empty((dt.shape[0], n, n))
    for s in range(dt.shape[0]):
        fill_matrix(fixed, branches, split, table[s, :count], beta * table[s, count], out[s])
        for i in range(n):
            out[s, i, i] += capacity[i] / (GAMMA * dt[s])
        if not factorise(out[s]):
            out[s] = np.nan
    return out


@numba.njit(cache=True, error_model="numpy")
def _march(factors: Array, sources: Array, capacity: Array, dt: Array, start: Array) -> Array:
    """March through the cycle; return the temperatures at the end of every piece.

    A stage's slope k solves (C + gamma h A) k = q - A T. With F = A + C / (gamma h) that is
    h k = (F^-1 (q + C T / (gamma h)) - T) / gamma: the matrix itself is not needed.
    """
    n = start.shape[0]
    out = np.empty((dt.shape[0], n))
    now, trial = start.copy(), np.empty(n)
    first, second = np.empty(n), np.empty(n)
    for s in range(dt.shape[0]):
        rate = 1.0 / (GAMMA * dt[s])
        for i in range(n):
            first[i] = sources[s, i] + rate * capacity[i] * now[i]
        substitute(factors[s], first)
        for i in range(n):
            first[i] = (first[i] - now[i]) / GAMMA
            trial[i] = now[i] + (1.0 - GAMMA) * first[i]
            second[i] = sources[s, i] + rate * capacity[i] * trial[i]
        substitute(factors[s], second)
        for i in range(n):
            second[i] = (second[i] - trial[i]) / GAMMA
            now[i] += (1.0 - GAMMA) * first[i] + GAMMA * second[i]
            out[s, i] = now[i]
    return out
