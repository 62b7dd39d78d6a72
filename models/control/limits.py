"""Compiled search for the largest torque at one speed.

Squared voltage amplitude in steady state, with v_d = R i_d - w psi_q, v_q = R i_q + w psi_d:
|v|^2 = R^2 I^2 + w^2 psi^2 + 2 R w T / (1.5 p). Generating mirrors i_q, which changes nothing but
the sign of T; so one table with i_q >= 0 serves both, with `sign` +1 or -1.

Along a line of constant i_d, torque rises with i_q and (up to resistance) so does the voltage:
lines of constant i_d therefore carry the search, and every quantity is interpolated on them.
"""

from typing import NamedTuple

import numba
import numpy as np

from models.control.surface import (
    Array,
    along_row,
    at,
    cubic_root,
    cubic_root_between,
    weights,
    window,
)

Point = tuple[float, float, float, bool]
"""Torque [N*m], i_d, i_q [A], whether it is within the limits."""


class Plane(NamedTuple):
    """The parts of a `TorqueTable` as the compiled code reads them."""

    start_d: float
    step_d: float
    step_q: float
    torque: Array
    psi_squared: Array
    mtpa: Array
    circle: Array
    current: float
    resistance: float
    torque_factor: float


@numba.njit(cache=True, error_model="numpy")
def at_resistance(plane: Plane, resistance: float) -> Plane:
    """Return the plane with another phase resistance [ohm]: that of one speed."""
    return Plane(
        plane.start_d,
        plane.step_d,
        plane.step_q,
        plane.torque,
        plane.psi_squared,
        plane.mtpa,
        plane.circle,
        plane.current,
        resistance,
        plane.torque_factor,
    )


@numba.njit(cache=True, error_model="numpy")
def voltage_squared(
    plane: Plane, speed: float, sign: float, psi2: float, i2: float, torque: float
) -> float:
    """Return the squared voltage amplitude [V^2] at electrical speed [rad/s]."""
    r = plane.resistance
    return r * r * i2 + speed * speed * psi2 + 2.0 * sign * r * speed * torque / plane.torque_factor


@numba.njit(cache=True, error_model="numpy")
def node_voltage(plane: Plane, speed: float, sign: float, c: int, row: int) -> float:
    """Return the squared voltage at a node of the fine grid."""
    i_d = plane.start_d + c * plane.step_d
    i_q = row * plane.step_q
    return voltage_squared(
        plane,
        speed,
        sign,
        plane.psi_squared[c, row],
        i_d * i_d + i_q * i_q,
        plane.torque[c, row],
    )


@numba.njit(cache=True, error_model="numpy")
def _window_root(g0: float, g1: float, g2: float, g3: float, v2: float, is_first: bool) -> float:
    """Return where squared voltages at four nodes of i_q rise to their limit.

    At i_q = 0 they start like a parabola (without slope), which sets the first guess there.
    """
    if g2 <= v2:
        low, start = 2.0, (v2 - g2) / (g3 - g2)
    elif g1 <= v2:
        low, start = 1.0, (v2 - g1) / (g2 - g1)
    else:
        low, start = 0.0, max(0.0, (v2 - g0) / (g1 - g0))
        if is_first:
            start = np.sqrt(start)
    return float(min(max(cubic_root(g0, g1, g2, g3, v2, low + start), low), low + 1.0))


@numba.njit(cache=True, error_model="numpy")
def torque_at_voltage(
    plane: Plane, speed: float, sign: float, v2: float, c: int, y: float
) -> tuple[float, float]:
    """Return the torque where grid line `c` meets the voltage limit, and the position there.

    Starts looking at `y`. A line wholly above the limit returns minus its relative excess, so
    that a climb over lines finds its way to the limit; one wholly below returns its end.
    """
    n = plane.torque.shape[1]
    lowest = node_voltage(plane, speed, sign, c, 0)
    if lowest > v2:
        return 1.0 - lowest / v2, 0.0
    # not from the line's end: a neighbour's being within the limit says nothing of this one
    r = min(max(int(y), 0), n - 2)
    while r < n - 1 and node_voltage(plane, speed, sign, c, r + 1) <= v2:
        r += 1
    if r == n - 1:
        return plane.torque[c, r], float(r)
    while node_voltage(plane, speed, sign, c, r) > v2:
        r -= 1
    k = min(max(r - 1, 0), n - 4)
    y = k + _window_root(
        node_voltage(plane, speed, sign, c, k),
        node_voltage(plane, speed, sign, c, k + 1),
        node_voltage(plane, speed, sign, c, k + 2),
        node_voltage(plane, speed, sign, c, k + 3),
        v2,
        k == 0,
    )
    return along_row(plane.torque, c, y), y


@numba.njit(cache=True, error_model="numpy")
def torque_at_voltage_between(
    plane: Plane, speed: float, sign: float, v2: float, x: float, y: float
) -> tuple[float, float]:
    """Return the same for a position `x` between grid lines, with `y` near the answer."""
    n = plane.torque.shape[1]
    c, s = window(x, plane.torque.shape[0])
    u0, u1, u2, u3 = weights(s)
    r, _ = window(y, n)
    while True:
        g0, g1, g2, g3 = 0.0, 0.0, 0.0, 0.0
        for j in range(4):
            u = u0 if j == 0 else (u1 if j == 1 else (u2 if j == 2 else u3))
            g0 += u * node_voltage(plane, speed, sign, c + j, r)
            g1 += u * node_voltage(plane, speed, sign, c + j, r + 1)
            g2 += u * node_voltage(plane, speed, sign, c + j, r + 2)
            g3 += u * node_voltage(plane, speed, sign, c + j, r + 3)
        if g0 > v2:
            if r == 0:
                return 1.0 - g0 / v2, 0.0
            r = max(r - 3, 0)
        elif g3 <= v2:
            if r == n - 4:
                return at(plane.torque, x, n - 1.0), n - 1.0
            r = min(r + 3, n - 4)
        else:
            break
    y = r + _window_root(g0, g1, g2, g3, v2, r == 0)
    return at(plane.torque, x, y), y


@numba.njit(cache=True, error_model="numpy")
def _finest_torque(
    plane: Plane,
    speed: float,
    sign: float,
    v2: float,
    x: float,
    y: float,
    best: float,
) -> tuple[float, float, float]:
    """Return position and torque of max torque per volt near the best grid line `x`.

    The curve of torque along the voltage limit is as narrow as the voltage ellipse, so the step
    is halved before a parabola is laid through the best point and its neighbours.
    """
    n = plane.torque.shape[0]
    left, y_left = best, y
    right, y_right = best, y
    step = 1.0
    for _ in range(3):
        step *= 0.5
        left, right = -np.inf, -np.inf
        if x - step >= 0.0:
            left, y_left = torque_at_voltage_between(plane, speed, sign, v2, x - step, y)
        if x + step <= n - 1.0:
            right, y_right = torque_at_voltage_between(plane, speed, sign, v2, x + step, y)
        if right > best and right >= left:
            x, y, left, best = x + step, y_right, best, right
            right, y_right = -np.inf, y
            if x + step <= n - 1.0:
                right, y_right = torque_at_voltage_between(plane, speed, sign, v2, x + step, y)
        elif left > best:
            x, y, right, best = x - step, y_left, best, left
            left, y_left = -np.inf, y
            if x - step >= 0.0:
                left, y_left = torque_at_voltage_between(plane, speed, sign, v2, x - step, y)
    bend = left - 2.0 * best + right
    if left >= 0.0 and right >= 0.0 and bend < 0.0:
        x_top = x + step * 0.5 * (left - right) / bend
        top, y_top = torque_at_voltage_between(plane, speed, sign, v2, x_top, y)
        if top > best:
            return x_top, y_top, top
    return x, y, best


@numba.njit(cache=True, error_model="numpy")
def circle_voltage(plane: Plane, speed: float, sign: float, j: int) -> float:
    """Return the squared voltage at a point of the current circle."""
    return voltage_squared(
        plane,
        speed,
        sign,
        plane.circle[3, j],
        plane.current * plane.current,
        plane.circle[0, j],
    )


@numba.njit(cache=True, error_model="numpy")
def corner(plane: Plane, speed: float, sign: float, v2: float) -> float:
    """Return the position on the current circle where the voltage falls to its limit, or -1."""
    n = plane.circle.shape[1]
    low_j, low = 0, np.inf
    for j in range(1, n):
        g = circle_voltage(plane, speed, sign, j)
        if g <= v2:
            k = min(max(j - 2, 0), n - 4)
            t = cubic_root_between(
                circle_voltage(plane, speed, sign, k),
                circle_voltage(plane, speed, sign, k + 1),
                circle_voltage(plane, speed, sign, k + 2),
                circle_voltage(plane, speed, sign, k + 3),
                v2,
                j - 1.0 - k,
                float(j - k),
            )
            return float(k + t)
        if g < low:
            low_j, low = j, g
    if 0 < low_j < n - 1:
        # The limit may be touched between two points.
        left = circle_voltage(plane, speed, sign, low_j - 1)
        right = circle_voltage(plane, speed, sign, low_j + 1)
        bend = left - 2.0 * low + right
        if bend > 0.0:
            vertex = low - 0.125 * (left - right) ** 2 / bend
            if vertex <= v2:
                offset = 0.5 * (left - right) / bend - np.sqrt(2.0 * (v2 - vertex) / bend)
                return float(low_j + max(offset, -1.0))
    return -1.0


@numba.njit(cache=True, error_model="numpy")
def largest_torque(plane: Plane, speed: float, sign: float, v2: float) -> Point:
    """Return the point of the largest torque at an electrical speed within squared voltage.

    Max torque per ampere if the voltage allows; else the better of the corner of both limits and
    of max torque per volt, which is looked for along the voltage limit without regard to the
    current, so that its curve is smooth, and counts where it lies within the current.
    """
    circle = plane.circle
    if circle_voltage(plane, speed, sign, 0) <= v2:
        return circle[0, 0], circle[1, 0], circle[2, 0], True
    n = plane.torque.shape[0]
    u = corner(plane, speed, sign, v2)
    corner_torque = along_row(circle, 0, u) if u >= 0.0 else -1.0
    if u >= 0.0:
        i_d = along_row(circle, 1, u)
        c = min(max(int(np.ceil((i_d - plane.start_d) / plane.step_d)), 0), n - 1)
        y = along_row(circle, 2, u) / plane.step_q
        best, y = torque_at_voltage(plane, speed, sign, v2, c, y)
    else:
        # All of the circle is above the limit: start from the best of all lines. Where the voltage
        # is lowest the torque need not rise: at small currents the bridges of a reluctance rotor
        # are not saturated yet and turn its axes of high and low inductance round.
        c, y, best = 0, 0.0, -np.inf
        near = 0.0
        for j in range(n):
            value, near = torque_at_voltage(plane, speed, sign, v2, j, near)
            if value > best:
                c, y, best = j, near, value
    for _ in range(n):
        left, y_left = -np.inf, y
        right, y_right = -np.inf, y
        if c > 0:
            left, y_left = torque_at_voltage(plane, speed, sign, v2, c - 1, y)
        if c < n - 1:
            right, y_right = torque_at_voltage(plane, speed, sign, v2, c + 1, y)
        if right > best and right >= left:
            c, best, y = c + 1, right, y_right
        elif left > best:
            c, best, y = c - 1, left, y_left
        else:
            break
    x = float(c)
    i_d, i_q = plane.start_d + x * plane.step_d, y * plane.step_q
    reach = plane.current + 2.0 * plane.step_d
    if i_d * i_d + i_q * i_q <= reach * reach:
        x, y, best = _finest_torque(plane, speed, sign, v2, x, y, best)
        i_d, i_q = plane.start_d + x * plane.step_d, y * plane.step_q
    if best > corner_torque and best >= 0.0 and i_d * i_d + i_q * i_q <= plane.current**2:
        return at(plane.torque, x, y), i_d, i_q, True
    if u >= 0.0:
        return max(0.0, corner_torque), along_row(circle, 1, u), along_row(circle, 2, u), True
    # No current within the limits keeps the voltage down: the end of the circle is nearest.
    return 0.0, circle[1, -1], 0.0, False
