"""Operating points of least loss instead of least current."""

import numba
import numpy as np
from numpy.typing import NDArray

from models.control.least_current import least_current, locus_voltage
from models.control.limits import Plane, at_resistance
from models.control.operate import OperatingPoints, plane_of
from models.control.surface import Array, at, solve_at
from models.control.table import TorqueTable
from models.errors import InvalidInputError


def operate_least_loss(
    table: TorqueTable,
    torque: Array,
    speed: Array,
    voltage: float,
    *,
    resistance: Array,
    loss_maps: Array,
    loss_weights: Array,
) -> OperatingPoints:
    """Return the points of least loss for given torques and speeds.

    Parameters
    ----------
    table : TorqueTable
        Machine, condition and current limit.
    torque, speed : ndarray, shape (n,)
        Wanted air-gap torque [N*m] (negative when generating), mechanical speed [rad/s].
    voltage : float
        Largest phase-voltage amplitude [V], > 0.
    resistance : ndarray, shape (n,)
        Phase resistance at each point [ohm], AC loss included; for loss and voltage.
    loss_maps : ndarray, shape (k, N_FINE, N_FINE)
        Quantities on the table's grid (`table.resample`).
    loss_weights : ndarray, shape (n, k)
        Loss of a point is 1.5 R I^2 + sum_k weight_k map_k [W]: iron loss a f + b f^2 + c f^1.5
        has weights f, f^2, f^1.5.

    Returns
    -------
    OperatingPoints

    Raises
    ------
    InvalidInputError
        For arrays that do not fit each other.
    """
    n = torque.shape[0]
    shapes = (speed.shape, resistance.shape, loss_weights.shape, loss_maps.shape[1:])
    if shapes != ((n,), (n,), (n, loss_maps.shape[0]), table.torque.shape):
        raise InvalidInputError(
            f"least loss: speed, resistance, weights, maps of shapes {shapes}; needs {n} speeds, "
            f"{n} resistances, weights of {n} x {loss_maps.shape[0]} and maps on the table's grid"
        )
    reached, i_d, i_q, is_reached = _operate_least_loss(
        plane_of(table),
        np.ascontiguousarray(torque, dtype=float),
        np.ascontiguousarray(speed, dtype=float) * table.pole_pairs,
        voltage * voltage,
        np.ascontiguousarray(resistance, dtype=float),
        np.ascontiguousarray(loss_maps, dtype=float),
        np.ascontiguousarray(loss_weights, dtype=float),
    )
    return OperatingPoints(np.asarray(speed, dtype=float), reached, i_d, i_q, is_reached)


@numba.njit(cache=True, error_model="numpy")
def _loss(plane: Plane, r: float, maps: Array, weights: Array, x: float, y: float) -> float:
    i_d = plane.start_d + x * plane.step_d
    i_q = y * plane.step_q
    total = 1.5 * r * (i_d * i_d + i_q * i_q)
    for k in range(maps.shape[0]):
        total += weights[k] * at(maps[k], x, y)
    return total


@numba.njit(cache=True, error_model="numpy")
def _is_allowed(
    plane: Plane, speed: float, sign: float, v2: float, target: float, x: float, y: float
) -> bool:
    """Whether the point is within the map and both limits, and gives the torque."""
    if x < 0.0 or abs(at(plane.torque, x, y) - target) > 1e-6 * plane.mtpa[0, -1]:
        return False
    i_d = plane.start_d + x * plane.step_d
    i_q = y * plane.step_q
    if i_d * i_d + i_q * i_q > plane.current**2:
        return False
    return locus_voltage(plane, speed, sign, target, x, y) <= v2


@numba.njit(cache=True, error_model="numpy")
def _descend(
    plane: Plane,
    target: float,
    speed: float,
    sign: float,
    v2: float,
    r: float,
    maps: Array,
    weights: Array,
    x: float,
    y: float,
) -> tuple[float, float]:
    """Walk from the point of least current towards negative i_d while the loss falls."""
    best = _loss(plane, r, maps, weights, x, y)
    before = np.inf
    step = 1.0
    while True:
        y_next = solve_at(plane.torque, x - step, target, y)
        if not _is_allowed(plane, speed, sign, v2, target, x - step, y_next):
            return x, y
        after = _loss(plane, r, maps, weights, x - step, y_next)
        if after >= best:
            break
        before, best = best, after
        x, y = x - step, y_next
    right, left = before, after
    if before == np.inf:
        # The least loss lies within the first step: halve it for three points in a row.
        step = 0.5
        right, left = best, after
        x_mid = x - step
        y_mid = solve_at(plane.torque, x_mid, target, y)
        middle = _loss(plane, r, maps, weights, x_mid, y_mid)
    else:
        x_mid, y_mid, middle = x, y, best
    bend = left - 2.0 * middle + right
    if bend <= 0.0:
        return x, y
    x_low = x_mid + step * min(max(0.5 * (left - right) / bend, -1.0), 1.0)
    y_low = solve_at(plane.torque, x_low, target, y_mid)
    if not _is_allowed(plane, speed, sign, v2, target, x_low, y_low):
        return x, y
    if _loss(plane, r, maps, weights, x_low, y_low) < best:
        return x_low, y_low
    return x, y


@numba.njit(cache=True, error_model="numpy")
def _operate_least_loss(
    plane: Plane,
    wanted: Array,
    speed: Array,
    v2: float,
    resistance: Array,
    maps: Array,
    weights: Array,
) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
    n = wanted.shape[0]
    torque, i_d, i_q = np.empty(n), np.empty(n), np.empty(n)
    is_reached = np.empty(n, dtype=np.bool_)
    for k in range(n):
        sign = -1.0 if wanted[k] < 0.0 else 1.0
        target = abs(wanted[k])
        here = at_resistance(plane, resistance[k])
        t, d, q, is_in = least_current(here, target, speed[k], sign, v2)
        if is_in and t == target:
            x, y = _descend(
                here,
                target,
                speed[k],
                sign,
                v2,
                resistance[k],
                maps,
                weights[k],
                (d - plane.start_d) / plane.step_d,
                q / plane.step_q,
            )
            d, q = plane.start_d + x * plane.step_d, y * plane.step_q
        torque[k], i_d[k], i_q[k], is_reached[k] = sign * t, d, sign * q, is_in
    return torque, i_d, i_q, is_reached
