"""Flux maps made ready for fast control: fine uniform tables and the current-limit circle."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator

from models.control.surface import at, sample, sample_all
from models.errors import InvalidInputError
from models.flux_maps import FluxMaps

Array = NDArray[np.float64]

N_FINE = 49
"""Nodes of the fine table on each axis."""

N_LEVELS = 64
"""Current steps of the max-torque-per-ampere curve."""

N_CIRCLE = 121
"""Points of the current-limit circle."""


@dataclass(frozen=True, eq=False)
class TorqueTable:
    """Everything the search for operating points reads, for one machine and condition.

    Attributes
    ----------
    pole_pairs : int
        Pole pairs.
    resistance : float
        Phase resistance, direct current [ohm].
    current_peak : float
        Largest dq current amplitude [A].
    i_d, i_q : ndarray, shape (n,)
        Uniform fine axes [A]; i_q from 0.
    psi_d, psi_q, torque, psi_squared : ndarray, shape (n, n)
        Flux linkages with end leakage [Wb], air-gap torque [N*m], squared linkage [Wb^2].
    mtpa : ndarray, shape (3, m + 1)
        Max torque per ampere for equal steps of current up to `current_peak`: rows torque [N*m],
        i_d, i_q [A].
    circle : ndarray, shape (4, k)
        Points of the current limit at equal angles from max torque per ampere to the end of the
        map (the negative d axis): rows torque [N*m], i_d, i_q [A], squared linkage [Wb^2].
    cage_loss : ndarray, shape (n, n), or None
        Loss in the cage of an induction machine [W], see `models.control.slip`.
    rise_speed, rise : ndarray, shape (m,), or None
        R_ac/R_dc of a phase at ascending electrical speeds [rad/s], for the voltage limit; None
        takes the direct-current resistance at every speed.
    """

    pole_pairs: int
    resistance: float
    current_peak: float
    i_d: Array
    i_q: Array
    psi_d: Array
    psi_q: Array
    torque: Array
    psi_squared: Array
    mtpa: Array
    circle: Array
    cage_loss: Array | None = None
    rise_speed: Array | None = None
    rise: Array | None = None

    def resistance_at(self, speed: Array) -> Array:
        """Return the phase resistance at electrical speeds [rad/s], any shape [ohm]."""
        if self.rise_speed is None or self.rise is None:
            return np.full(np.shape(speed), self.resistance)
        return np.asarray(self.resistance * np.interp(speed, self.rise_speed, self.rise))

    @property
    def peak_torque(self) -> float:
        """Largest air-gap torque within the current, no voltage limit [N*m]."""
        return float(self.mtpa[0, -1])

    @property
    def step_d(self) -> float:
        """Step of the fine i_d axis [A]."""
        return float(self.i_d[1] - self.i_d[0])

    @property
    def step_q(self) -> float:
        """Step of the fine i_q axis [A]."""
        return float(self.i_q[1] - self.i_q[0])

    def with_current(self, current_peak: float) -> "TorqueTable":
        """Return the table for another current limit [A], within the map."""
        _check_current(current_peak, self.i_d, self.i_q)
        mtpa, circle = _current_limits(
            self.i_d, self.i_q, self.torque, self.psi_squared, current_peak
        )
        return replace(self, current_peak=current_peak, mtpa=mtpa, circle=circle)


def torque_table(
    maps: FluxMaps,
    *,
    pole_pairs: int,
    current_peak: float,
    resistance: float,
    remanence: float | None = None,
) -> TorqueTable:
    """Build the table for one winding and magnet temperature.

    Parameters
    ----------
    maps : FluxMaps
        Flux maps; the grid must reach `current_peak` on both axes.
    pole_pairs : int
        Pole pairs.
    current_peak : float
        Largest dq current amplitude [A].
    resistance : float
        Phase resistance at the winding temperature [ohm].
    remanence : float, optional
        Magnet remanence at the wanted magnet temperature [T]; default that of the maps.

    Returns
    -------
    TorqueTable

    Raises
    ------
    InvalidInputError
        If the map is smaller than the current limit.

    Notes
    -----
    psi(B_r) = psi + (B_r - B_r,map) dpsi/dB_r + L_end i. A cubic spline through the map, mirrored
    at i_q = 0 (psi_d even, psi_q odd), is sampled on a fine uniform grid. Where iron saturates
    within one step of the map's currents the spline swings so far that flux would fall with rising
    current; there a monotone cubic along the linkage's own axis takes its place (F. N. Fritsch, R.
    E. Carlson, SIAM J. Numer. Anal. 17(2) 238, 1980, doi:10.1137/0717021, from memory).
    T = 1.5 p (psi_d i_q - psi_q i_d).
    """
    _check_current(current_peak, maps.i_d, maps.i_q)
    shift = 0.0 if remanence is None else remanence - maps.remanence
    fine_d, fine_q = _fine_axis(maps.i_d), _fine_axis(maps.i_q)
    psi_d, psi_q = _linkages(
        maps,
        maps.psi_d + shift * maps.psi_d_per_remanence,
        maps.psi_q + shift * maps.psi_q_per_remanence,
    )
    psi_d += maps.end_inductance * fine_d[:, None]
    psi_q += maps.end_inductance * fine_q[None, :]
    torque = 1.5 * pole_pairs * (psi_d * fine_q[None, :] - psi_q * fine_d[:, None])
    psi_squared = psi_d**2 + psi_q**2
    mtpa, circle = _current_limits(fine_d, fine_q, torque, psi_squared, current_peak)
    return TorqueTable(
        pole_pairs=pole_pairs,
        resistance=resistance,
        current_peak=current_peak,
        i_d=fine_d,
        i_q=fine_q,
        psi_d=psi_d,
        psi_q=psi_q,
        torque=torque,
        psi_squared=psi_squared,
        mtpa=mtpa,
        circle=circle,
        cage_loss=None if maps.cage_loss is None else resample(maps, maps.cage_loss),
    )


def resample(maps: FluxMaps, values: Array, *, is_odd: bool = False) -> Array:
    """Return a quantity of the flux-map grid on the fine grid of its `TorqueTable`.

    Parameters
    ----------
    maps : FluxMaps
        Source of the coarse axes.
    values : ndarray, shape (..., n_d, n_q)
        Any quantities on the coarse grid.
    is_odd : bool
        Whether it changes sign with i_q (psi_q does; psi_d, losses, flux densities do not).

    Returns
    -------
    ndarray, shape (..., N_FINE, N_FINE)
    """
    along_d = _spline_matrix(tuple(maps.i_d.tolist()), 0)
    along_q = _spline_matrix(tuple(maps.i_q.tolist()), -1 if is_odd else 1)
    return np.ascontiguousarray(along_d @ values @ along_q.T)


def interpolate(table: TorqueTable, values: Array, i_d: Array, i_q: Array) -> Array:
    """Return a fine-grid quantity that is even in i_q at any currents.

    Parameters
    ----------
    table : TorqueTable
        Gives the axes.
    values : ndarray, shape (N_FINE, N_FINE)
        `table.psi_d`, or the result of `resample`.
    i_d, i_q : ndarray, shape (n,)
        Currents [A], inside the map; the sign of i_q is ignored.

    Returns
    -------
    ndarray, shape (n,)
    """
    x = (np.ascontiguousarray(i_d, dtype=float) - table.i_d[0]) / table.step_d
    y = np.abs(np.ascontiguousarray(i_q, dtype=float)) / table.step_q
    return np.asarray(sample(values, x.ravel(), y.ravel())).reshape(x.shape)


def interpolate_all(table: TorqueTable, stack: Array, i_d: Array, i_q: Array) -> Array:
    """Return several fine-grid quantities at once, see `interpolate`.

    Parameters
    ----------
    stack : ndarray, shape (m, N_FINE, N_FINE)

    Returns
    -------
    ndarray, shape (m, n)
    """
    x = (np.ascontiguousarray(i_d, dtype=float) - table.i_d[0]) / table.step_d
    y = np.abs(np.ascontiguousarray(i_q, dtype=float)) / table.step_q
    return np.asarray(sample_all(stack, x, y))


def torque_at_angle(table: TorqueTable, current: float, angle: Array) -> Array:
    """Return air-gap torque [N*m] at a current amplitude [A] over current angle.

    Parameters
    ----------
    table : TorqueTable
        Machine.
    current : float
        Current amplitude [A], within the map.
    angle : ndarray, shape (n,)
        Angle from the q axis towards negative d [rad], within +-pi/2.
    """
    return interpolate(
        table, table.torque, -current * np.sin(angle), current * np.cos(np.asarray(angle))
    )


def _check_current(current_peak: float, i_d: Array, i_q: Array) -> None:
    reach = min(max(-float(i_d[0]), float(i_d[-1])), float(i_q[-1]))
    if not 0.0 < current_peak <= reach * (1.0 + 1e-9):
        raise InvalidInputError(
            f"current limit {current_peak} A (peak): the flux map reaches {reach:.1f} A; solve "
            f"the map up to the current limit on both axes"
        )


def _fine_axis(coarse: Array) -> Array:
    return np.linspace(float(coarse[0]), float(coarse[-1]), N_FINE)


@lru_cache(maxsize=32)
def _spline_matrix(axis: tuple[float, ...], parity: int) -> Array:
    """Return the matrix from coarse to fine values of one axis; parity 0 means not mirrored."""
    nodes = np.array(axis)
    fine = _fine_axis(nodes)
    if parity == 0:
        matrix = CubicSpline(nodes, np.eye(nodes.size))(fine)
    else:
        # mirrored at 0: node 0 appears once
        mirrored = np.concatenate([-nodes[:0:-1], nodes])
        full = CubicSpline(mirrored, np.eye(mirrored.size))(fine)
        zero = nodes.size - 1
        matrix = full[:, zero:].copy()
        matrix[:, 1:] += parity * full[:, zero - 1 :: -1]
        if parity < 0:
            matrix[:, 0] = 0.0
    matrix = np.ascontiguousarray(matrix)
    matrix.setflags(write=False)
    return matrix


def _linkages(maps: FluxMaps, psi_d: Array, psi_q: Array) -> tuple[Array, Array]:
    """Return both linkages on the fine grid, rising along their own axis if the map's do."""
    along_d = _spline_matrix(tuple(maps.i_d.tolist()), 0)
    along_q, along_q_odd = (_spline_matrix(tuple(maps.i_q.tolist()), s) for s in (1, -1))
    rows_d, rows_q = psi_d @ along_q.T, along_d @ psi_q
    fine_d, fine_q = along_d @ rows_d, rows_q @ along_q_odd.T
    if np.diff(fine_d, axis=0).min() <= 0.0:
        fine_d = PchipInterpolator(maps.i_d, rows_d, axis=0)(_fine_axis(maps.i_d))
    if np.diff(fine_q, axis=1).min() <= 0.0:
        mirrored = np.concatenate([-maps.i_q[:0:-1], maps.i_q])
        both = np.concatenate([-rows_q[:, :0:-1], rows_q], axis=1)
        fine_q = PchipInterpolator(mirrored, both, axis=1)(_fine_axis(maps.i_q))
    return np.ascontiguousarray(fine_d), np.ascontiguousarray(fine_q)


@numba.njit(cache=True, error_model="numpy")
def _current_limits(
    i_d: Array, i_q: Array, torque: Array, psi_squared: Array, current: float
) -> tuple[Array, Array]:
    hd, hq = i_d[1] - i_d[0], i_q[1] - i_q[0]
    # Angles to look at: as far round as the map goes.
    lowest = -0.5 * np.pi if i_d[-1] >= current * (1.0 - 1e-9) else 0.0
    highest = 0.5 * np.pi if i_d[0] <= -current * (1.0 - 1e-9) else 0.0
    mtpa = np.zeros((3, N_LEVELS + 1))
    best = 0.5 * (lowest + highest)
    for level in range(N_LEVELS, 0, -1):
        amplitude = current * level / N_LEVELS
        # The first level is searched widely, the others start from their neighbour.
        half = 0.5 * (highest - lowest) if level == N_LEVELS else 0.1
        points = 13 if level == N_LEVELS else 5
        for _ in range(3):
            top, top_torque = best, -np.inf
            step = 2.0 * half / (points - 1)
            for j in range(points):
                angle = min(max(best - half + j * step, lowest), highest)
                value = at(
                    torque,
                    (-amplitude * np.sin(angle) - i_d[0]) / hd,
                    amplitude * np.cos(angle) / hq,
                )
                if value > top_torque:
                    top, top_torque = angle, value
            best = top
            half = step
            points = 5
        # parabola through the best angle and its neighbours
        left, right = max(best - half, lowest), min(best + half, highest)
        if left < best < right:
            low = at(
                torque, (-amplitude * np.sin(left) - i_d[0]) / hd, amplitude * np.cos(left) / hq
            )
            mid = at(
                torque, (-amplitude * np.sin(best) - i_d[0]) / hd, amplitude * np.cos(best) / hq
            )
            high = at(
                torque, (-amplitude * np.sin(right) - i_d[0]) / hd, amplitude * np.cos(right) / hq
            )
            bend = low - 2.0 * mid + high
            if bend < 0.0:
                best += 0.5 * half * (low - high) / bend
        i_d_best = -amplitude * np.sin(best)
        i_q_best = amplitude * np.cos(best)
        mtpa[0, level] = at(torque, (i_d_best - i_d[0]) / hd, i_q_best / hq)
        mtpa[1, level] = i_d_best
        mtpa[2, level] = i_q_best
    circle = np.empty((4, N_CIRCLE))
    start = np.arctan2(-mtpa[1, N_LEVELS], mtpa[2, N_LEVELS])
    for j in range(N_CIRCLE):
        angle = start + (highest - start) * j / (N_CIRCLE - 1)
        # the cosine of the float nearest to pi/2 is not zero
        x, y = -current * np.sin(angle), max(0.0, current * np.cos(angle))
        circle[0, j] = at(torque, (x - i_d[0]) / hd, y / hq)
        circle[1, j] = x
        circle[2, j] = y
        circle[3, j] = at(psi_squared, (x - i_d[0]) / hd, y / hq)
    return mtpa, circle
