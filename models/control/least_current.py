"""Compiled search for the least current that gives a torque at one speed.

Below the voltage limit this is max torque per ampere. Above it the point moves along its line of
constant torque, i_q a function of i_d, towards negative i_d until the voltage has fallen to its
limit: smooth everywhere, also at no torque (i_q = 0) and at the vertex of the line.
"""

import numba
import numpy as np

from models.control.limits import Plane, Point, largest_torque, voltage_squared
from models.control.surface import along_row, at, cubic_root, solve_at, solve_row, weights

STRIDE = 3
"""Grid lines per step of the walk along a line of constant torque: the voltage is close to a
parabola along it, so that steps of several lines cannot miss the limit."""


@numba.njit(cache=True, error_model="numpy")
def locus_voltage(
    plane: Plane, speed: float, sign: float, target: float, x: float, y: float
) -> float:
    """Return the squared voltage at position (x, y), where the torque is `target`."""
    i_d = plane.start_d + x * plane.step_d
    i_q = y * plane.step_q
    psi2 = at(plane.psi_squared, x, y)
    return voltage_squared(plane, speed, sign, psi2, i_d * i_d + i_q * i_q, target)


@numba.njit(cache=True, error_model="numpy")
def least_current(plane: Plane, target: float, speed: float, sign: float, v2: float) -> Point:
    """Return the point of least current that gives a torque `target` >= 0 within the limits.

    Max torque per ampere if the voltage allows; else along the line of constant torque towards
    negative i_d until the voltage falls to its limit. Beyond the limits: the largest torque.
    """
    mtpa = plane.mtpa
    m = mtpa.shape[1] - 1
    if target > mtpa[0, m]:
        torque, i_d, i_q, _ = largest_torque(plane, speed, sign, v2)
        return torque, i_d, i_q, False
    level = solve_row(mtpa, 0, target, m * target / mtpa[0, m])
    x = (along_row(mtpa, 1, level) - plane.start_d) / plane.step_d
    y = solve_at(plane.torque, x, target, along_row(mtpa, 2, level) / plane.step_q)
    f = locus_voltage(plane, speed, sign, target, x, y) - v2
    if f > 0.0:
        x_limit, y_limit, is_found = _to_voltage_limit(plane, target, speed, sign, v2, x, y, f)
        if not is_found:
            torque, i_d, i_q, is_within = largest_torque(plane, speed, sign, v2)
            if not is_within or torque <= target:
                # The two searches agree to interpolation error only.
                return torque, i_d, i_q, is_within and torque >= target * (1.0 - 1e-4)
            # The limits leave less room than one stride. Where the largest torque is, the wanted
            # one needs less i_q and so less voltage: a bracket for the limit.
            x_limit = (i_d - plane.start_d) / plane.step_d
            y_limit = solve_at(plane.torque, x_limit, target, i_q / plane.step_q)
            f_limit = locus_voltage(plane, speed, sign, target, x_limit, y_limit) - v2
            if f_limit > 1e-4 * v2:
                # A generator whose resistance takes much of the voltage: less i_q leaves more.
                x_limit, y_limit, f_limit = _line_within(plane, target, speed, sign, v2, x, y)
                if x_limit < 0.0:
                    return torque, i_d, i_q, False
            if f_limit < 0.0:
                x_limit, y_limit = _false_position(
                    plane, target, speed, sign, v2, x_limit, f_limit, x, f, y_limit
                )
        x, y = x_limit, y_limit
    return target, plane.start_d + x * plane.step_d, y * plane.step_q, True


@numba.njit(cache=True, error_model="numpy")
def _line_within(
    plane: Plane, target: float, speed: float, sign: float, v2: float, x: float, y: float
) -> tuple[float, float, float]:
    """Return the first grid line from x towards negative i_d on which the torque is within limits.

    Position of the line and on it, and how far its squared voltage is below the limit; a position
    of -1 if there is none.
    """
    for c in range(int(x), -1, -1):
        y_c = solve_row(plane.torque, c, target, y)
        if y_c < 0.0:
            break
        y = y_c
        i_d, i_q = plane.start_d + c * plane.step_d, y * plane.step_q
        if i_d * i_d + i_q * i_q > plane.current**2 * (1.0 + 1e-6):
            break
        f = locus_voltage(plane, speed, sign, target, float(c), y) - v2
        if f <= 0.0:
            return float(c), y, f
    return -1.0, y, 0.0


@numba.njit(cache=True, error_model="numpy")
def _to_voltage_limit(
    plane: Plane,
    target: float,
    speed: float,
    sign: float,
    v2: float,
    x: float,
    y: float,
    f: float,
) -> tuple[float, float, bool]:
    """Walk along the line of constant torque from (x, y), above the limit by f, to the limit."""
    limit = plane.current**2 * (1.0 + 1e-6)
    x_far, f_far = x, f
    x_near, y_near, f_near = x, y, f
    is_bracketed = False
    c = max(int(np.floor(x - 1e-3)) + 1 - STRIDE, 0) if x > 1e-3 else -1
    while c >= 0:
        y_c = solve_row(plane.torque, c, target, y_near)
        if y_c < 0.0:
            break
        i_d = plane.start_d + c * plane.step_d
        i_q = y_c * plane.step_q
        i2 = i_d * i_d + i_q * i_q
        psi2 = along_row(plane.psi_squared, c, y_c)
        f_c = voltage_squared(plane, speed, sign, psi2, i2, target) - v2
        if f_c <= 0.0:
            x_far, f_far = x_near, f_near
            x_near, y_near, f_near = float(c), y_c, f_c
            is_bracketed = True
            break
        if f_c > f_near or i2 > limit:
            break
        x_far, f_far = x_near, f_near
        x_near, y_near, f_near = float(c), y_c, f_c
        # the last stride may be shorter, so that the map's edge is looked at too
        c = max(c - STRIDE, 0) if c > 0 else -1
    if not is_bracketed:
        return x, y, False
    x, y, is_solved = _root_between_lines(plane, target, speed, sign, v2, x_near, x_far, y_near)
    if not is_solved:
        x, y = _false_position(plane, target, speed, sign, v2, x_near, f_near, x_far, f_far, y_near)
    i_d = plane.start_d + x * plane.step_d
    i_q = y * plane.step_q
    return x, y, i_d * i_d + i_q * i_q <= limit


@numba.njit(cache=True, error_model="numpy")
def _root_between_lines(
    plane: Plane,
    target: float,
    speed: float,
    sign: float,
    v2: float,
    x_near: float,
    x_far: float,
    y: float,
) -> tuple[float, float, bool]:
    """Return where the voltage meets its limit, from a cubic through four grid lines.

    False if the four lines round the bracket do not all carry the torque or do not fit it.
    """
    c = int(x_near)
    if c != x_near or x_far > c + 3:
        return 0.0, 0.0, False
    k = min(c, plane.torque.shape[0] - 4)
    f0 = f1 = f2 = f3 = 0.0
    y0 = y1 = y2 = y3 = 0.0
    for j in range(4):
        y = solve_row(plane.torque, k + j, target, y)
        if y < 0.0:
            return 0.0, 0.0, False
        i_d = plane.start_d + (k + j) * plane.step_d
        i_q = y * plane.step_q
        psi2 = along_row(plane.psi_squared, k + j, y)
        f = voltage_squared(plane, speed, sign, psi2, i_d * i_d + i_q * i_q, target)
        if j == 0:
            f0, y0 = f, y
        elif j == 1:
            f1, y1 = f, y
        elif j == 2:
            f2, y2 = f, y
        else:
            f3, y3 = f, y
    # A secant of the two lines round the limit starts the cubic.
    if c > k or f1 >= v2:
        t = float(c - k) if c > k else (v2 - f0) / (f1 - f0)
    elif f2 >= v2:
        t = 1.0 + (v2 - f1) / (f2 - f1)
    else:
        t = 2.0 + (v2 - f2) / (f3 - f2)
    t = cubic_root(f0, f1, f2, f3, v2, t)
    x = k + t
    if not x_near - 1e-9 <= x <= x_far + 1e-9:
        return 0.0, 0.0, False
    w0, w1, w2, w3 = weights(t)
    y = solve_at(plane.torque, x, target, w0 * y0 + w1 * y1 + w2 * y2 + w3 * y3)
    # A voltage ellipse smaller than a few grid steps is no cubic: look before believing.
    f = locus_voltage(plane, speed, sign, target, x, y) - v2
    return x, y, abs(f) < 1e-4 * v2


@numba.njit(cache=True, error_model="numpy")
def _false_position(
    plane: Plane,
    target: float,
    speed: float,
    sign: float,
    v2: float,
    x_near: float,
    f_near: float,
    x_far: float,
    f_far: float,
    y: float,
) -> tuple[float, float]:
    """Return where the voltage meets its limit between x_far (above) and x_near (within).

    False position in the Illinois form, for brackets that do not lie on four grid lines. Ends
    within the limit if it does not settle.
    """
    y_near = y
    side = 0
    for _ in range(20):
        x = x_near - f_near * (x_near - x_far) / (f_near - f_far)
        y = solve_at(plane.torque, x, target, y)
        f = locus_voltage(plane, speed, sign, target, x, y) - v2
        if abs(f) < 1e-6 * v2:
            return x, y
        if f > 0.0:
            x_far, f_far = x, f
            if side == 1:
                f_near *= 0.5
            side = 1
        else:
            x_near, y_near, f_near = x, y, f
            if side == -1:
                f_far *= 0.5
            side = -1
    return x_near, y_near
