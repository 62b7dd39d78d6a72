"""Compiled look-ups on a uniform grid, by four-point cubic Lagrange interpolation.

Positions are in units of grid steps. Four-point pieces are exact for cubics, continuous in value,
and err by h^4 / 40 of the fourth derivative.
"""

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@numba.njit(cache=True, error_model="numpy")
def window(x: float, n: int) -> tuple[int, float]:
    """Return first node of the four-point window round `x`, and `x` counted from there."""
    k = int(x) - 1
    if k > n - 4:
        k = n - 4
    if k < 0:
        k = 0
    return k, x - k


@numba.njit(cache=True, error_model="numpy")
def weights(t: float) -> tuple[float, float, float, float]:
    """Return the Lagrange weights of nodes 0, 1, 2, 3 at `t`."""
    a, b, c = t - 1.0, t - 2.0, t - 3.0
    return -a * b * c / 6.0, t * b * c / 2.0, -t * a * c / 2.0, t * a * b / 6.0


@numba.njit(cache=True, error_model="numpy")
def along_row(f: Array, c: int, y: float) -> float:
    """Return the value on grid line `c` at position `y` along it."""
    r, t = window(y, f.shape[1])
    w0, w1, w2, w3 = weights(t)
    return float(w0 * f[c, r] + w1 * f[c, r + 1] + w2 * f[c, r + 2] + w3 * f[c, r + 3])


@numba.njit(cache=True, error_model="numpy")
def at(f: Array, x: float, y: float) -> float:
    """Return the value at position (x, y)."""
    c, s = window(x, f.shape[0])
    r, t = window(y, f.shape[1])
    u0, u1, u2, u3 = weights(s)
    w0, w1, w2, w3 = weights(t)
    total = 0.0
    for j in range(4):
        u = u0 if j == 0 else (u1 if j == 1 else (u2 if j == 2 else u3))
        total += u * (
            w0 * f[c + j, r] + w1 * f[c + j, r + 1] + w2 * f[c + j, r + 2] + w3 * f[c + j, r + 3]
        )
    return total


@numba.njit(cache=True, error_model="numpy")
def _differences(g0: float, g1: float, g2: float, g3: float) -> tuple[float, float, float]:
    """Return Newton's divided differences of four nodes: of first, second and third order."""
    return g1 - g0, 0.5 * (g2 - 2.0 * g1 + g0), (g3 - 3.0 * g2 + 3.0 * g1 - g0) / 6.0


@numba.njit(cache=True, error_model="numpy")
def cubic_root(g0: float, g1: float, g2: float, g3: float, target: float, t: float) -> float:
    """Return the root of the cubic through four nodes near `t`, by three Newton steps."""
    d0 = g0 - target
    a1, a2, a3 = _differences(g0, g1, g2, g3)
    for _ in range(3):
        value = d0 + t * (a1 + (t - 1.0) * (a2 + (t - 2.0) * a3))
        slope = a1 + (2.0 * t - 1.0) * a2 + (3.0 * t * t - 6.0 * t + 2.0) * a3
        if slope == 0.0:
            break
        t -= value / slope
    return t


@numba.njit(cache=True, error_model="numpy")
def cubic_root_between(
    g0: float, g1: float, g2: float, g3: float, target: float, low: float, high: float
) -> float:
    """Return the root of the cubic through four nodes between two of them that enclose it.

    Newton steps, halving the bracket where one would leave it: also where the cubic only just
    reaches the target, at an end where its slope is zero.
    """
    a1, a2, a3 = _differences(g0, g1, g2, g3)
    at_low = g0 - target + low * (a1 + (low - 1.0) * (a2 + (low - 2.0) * a3))
    t = 0.5 * (low + high)
    for _ in range(50):
        value = g0 - target + t * (a1 + (t - 1.0) * (a2 + (t - 2.0) * a3))
        if (value > 0.0) == (at_low > 0.0):
            low = t
        else:
            high = t
        slope = a1 + (2.0 * t - 1.0) * a2 + (3.0 * t * t - 6.0 * t + 2.0) * a3
        step = -value / slope if slope != 0.0 else np.inf
        if not low <= t + step <= high:
            step = 0.5 * (low + high) - t
        t += step
        if abs(step) < 1e-12:
            break
    return t


@numba.njit(cache=True, error_model="numpy")
def solve_row(f: Array, c: int, target: float, y: float) -> float:
    """Return the position along grid line `c` at which a rising function reaches `target`.

    Starts looking at `y`; returns -1 when the line ends below the target.
    """
    n = f.shape[1]
    if f[c, n - 1] < target:
        return -1.0
    if target <= f[c, 0]:
        return 0.0  # where a function starts like a parabola, the cubic's root would wander
    r = min(max(int(y), 0), n - 2)
    while r > 0 and f[c, r] > target:
        r -= 1
    while r < n - 2 and f[c, r + 1] < target:
        r += 1
    rise = f[c, r + 1] - f[c, r]
    start = (target - f[c, r]) / rise if rise > 0.0 else 0.5
    if r == 0:
        start = np.sqrt(start)  # torque of a machine without magnets grows with squared current
    k = min(max(r - 1, 0), n - 4)
    t = cubic_root(f[c, k], f[c, k + 1], f[c, k + 2], f[c, k + 3], target, start + (r - k))
    return float(min(max(k + t, 0.0), n - 1.0))


@numba.njit(cache=True, error_model="numpy")
def solve_at(f: Array, x: float, target: float, y: float) -> float:
    """Return the position along the line at `x` at which a rising function reaches `target`.

    Starts at `y`, which must be near; the result is held inside the grid.
    """
    n = f.shape[1]
    c, s = window(x, f.shape[0])
    u0, u1, u2, u3 = weights(s)
    for _ in range(3):
        r, t = window(y, n)
        g0 = u0 * f[c, r] + u1 * f[c + 1, r] + u2 * f[c + 2, r] + u3 * f[c + 3, r]
        r += 1
        g1 = u0 * f[c, r] + u1 * f[c + 1, r] + u2 * f[c + 2, r] + u3 * f[c + 3, r]
        r += 1
        g2 = u0 * f[c, r] + u1 * f[c + 1, r] + u2 * f[c + 2, r] + u3 * f[c + 3, r]
        r += 1
        g3 = u0 * f[c, r] + u1 * f[c + 1, r] + u2 * f[c + 2, r] + u3 * f[c + 3, r]
        t = cubic_root(g0, g1, g2, g3, target, t)
        y = min(max(r - 3.0 + t, 0.0), n - 1.0)
        if -0.01 <= t <= 3.01:
            break
    return y


@numba.njit(cache=True, error_model="numpy")
def sample(f: Array, x: Array, y: Array) -> Array:
    """Return values at positions (x, y), all of shape (n,)."""
    out = np.empty_like(x)
    for i in range(x.shape[0]):
        out[i] = at(f, x[i], y[i])
    return out


@numba.njit(cache=True, error_model="numpy")
def sample_all(stack: Array, x: Array, y: Array) -> Array:
    """Return values of m surfaces, shape (m, n_x, n_y), at positions (x, y) of shape (n,).

    Returns
    -------
    ndarray, shape (m, n)
    """
    m, n_x, n_y = stack.shape
    out = np.empty((m, x.shape[0]))
    for i in range(x.shape[0]):
        c, s = window(x[i], n_x)
        r, t = window(y[i], n_y)
        u, v = weights(s), weights(t)
        for k in range(m):
            total = 0.0
            for a in range(4):
                f = stack[k, c + a]
                total += u[a] * (v[0] * f[r] + v[1] * f[r + 1] + v[2] * f[r + 2] + v[3] * f[r + 3])
            out[k, i] = total
    return out
