"""Open circuit and steady short circuit, read from the flux maps."""

from dataclasses import dataclass

import numba
import numpy as np

from models.control.surface import Array, at
from models.control.table import TorqueTable
from models.errors import InvalidInputError, SolverError

_ROUNDING = 1e-9
"""Open-circuit over largest linkage below which there is no magnet."""
_SPEEDS = 81
"""Speeds at which the largest short-circuit torque is looked for, over three decades."""


@dataclass(frozen=True, eq=False)
class ShortCircuit:
    """Steady three-phase short circuit over speed.

    Attributes
    ----------
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s].
    i_d, i_q : ndarray, shape (n,)
        Peak currents [A], i_q <= 0.
    torque : ndarray, shape (n,)
        Air-gap torque [N*m], <= 0 (braking).
    """

    speed: Array
    i_d: Array
    i_q: Array
    torque: Array


def open_circuit_flux(table: TorqueTable) -> float:
    """Return the open-circuit flux linkage amplitude of one phase [Wb].

    Exactly zero for a machine without magnets, whose map leaves rounding only.
    """
    psi = float(at(table.psi_d, -float(table.i_d[0]) / table.step_d, 0.0))
    return psi if psi > _ROUNDING * float(np.sqrt(table.psi_squared.max())) else 0.0


def back_emf_line_peak(table: TorqueTable, speed: float) -> float:
    """Return the peak line-to-line voltage [V] without current at a mechanical speed [rad/s].

    sqrt(3) w psi_m: the fundamental only.
    """
    return float(np.sqrt(3.0) * speed * table.pole_pairs * open_circuit_flux(table))


def characteristic_current(table: TorqueTable) -> float:
    """Return the current amplitude [A, peak] along negative d that cancels the d-axis linkage.

    This is the steady short-circuit current at high speed. Beyond the map the linkage is extended
    with its last slope.
    """
    psi = table.psi_d[:, 0]
    above = np.nonzero(psi > 0.0)[0]
    if above.size == 0 or open_circuit_flux(table) <= 0.0:
        return 0.0
    k = max(int(above[0]) - 1, 0)
    slope = (psi[k + 1] - psi[k]) / table.step_d
    if slope <= 0.0:
        raise SolverError(
            f"d-axis flux linkage does not fall towards negative i_d at {table.i_d[k]:.1f} A: the "
            f"flux map is not plausible there"
        )
    return max(0.0, -float(table.i_d[k] - psi[k] / slope))


def short_circuit(table: TorqueTable, speed: Array) -> ShortCircuit:
    """Return currents and torque of a steady three-phase short circuit.

    Parameters
    ----------
    table : TorqueTable
        Machine and condition.
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s], >= 0.

    Returns
    -------
    ShortCircuit
        Solution of R i_d = w psi_q, R i_q = -w psi_d; T = -1.5 p R I^2 / w. Beyond the map
        each linkage goes on with its own current alone, at the slope of the map's outer corner.

    Raises
    ------
    InvalidInputError
        For negative speed.
    SolverError
        If Newton's method does not settle.
    """
    speeds = np.atleast_1d(np.asarray(speed, dtype=float))
    if not np.all((speeds >= 0.0) & np.isfinite(speeds)):
        raise InvalidInputError("speed: every value must be a finite number of at least zero")
    order = np.argsort(-speeds, kind="stable")
    electrical = speeds * table.pole_pairs
    i_d, i_q = currents_into_resistance(table, electrical[order], float(table.resistance))
    back = np.empty_like(order)
    back[order] = np.arange(order.size)
    i_d, i_q = i_d[back], i_q[back]
    loss = 1.5 * table.resistance * (i_d**2 + i_q**2)
    power_speed = np.where(electrical > 0.0, electrical, 1.0)
    torque = np.where(electrical > 0.0, -table.pole_pairs * loss / power_speed, 0.0)
    return ShortCircuit(speeds, i_d, i_q, torque)


def currents_into_resistance(
    table: TorqueTable, electrical_speed: Array, resistance: float
) -> tuple[Array, Array]:
    """Return the steady currents that flow when every phase is closed through a resistance.

    Parameters
    ----------
    table : TorqueTable
        Machine and condition; its own resistance is not added.
    electrical_speed : ndarray, shape (n,)
        Falling [rad/s], >= 0.
    resistance : float
        All resistance in the phase's loop [ohm].

    Returns
    -------
    i_d, i_q : ndarray, shape (n,)
        Peak currents [A].

    Raises
    ------
    SolverError
        If Newton's method does not settle.
    """
    i_d, i_q, is_solved = _short_circuit(
        table.psi_d,
        table.psi_q,
        float(table.i_d[0]),
        table.step_d,
        table.step_q,
        resistance,
        np.ascontiguousarray(electrical_speed),
        -characteristic_current(table),
    )
    if not is_solved:
        raise SolverError(
            "short-circuit currents did not converge on the flux map; check that the map is "
            "smooth and rises with current on both axes"
        )
    return i_d, i_q


def largest_short_circuit_torque(table: TorqueTable, top_speed: float) -> tuple[float, float]:
    """Return the largest braking torque of a short circuit and the speed where it occurs.

    Parameters
    ----------
    table : TorqueTable
        Machine and condition.
    top_speed : float
        Highest mechanical speed [rad/s], > 0.

    Returns
    -------
    torque : float
        Magnitude [N*m].
    speed : float
        Mechanical speed [rad/s].
    """
    speeds = top_speed * np.logspace(-3.0, 0.0, _SPEEDS)
    torque = -short_circuit(table, speeds).torque
    k = int(np.argmax(torque))
    if 0 < k < _SPEEDS - 1:
        left, mid, right = torque[k - 1 : k + 2]
        bend = left - 2.0 * mid + right
        if bend < 0.0:
            offset = 0.5 * (left - right) / bend
            top = mid - 0.125 * (left - right) ** 2 / bend
            return float(top), float(speeds[k] * (speeds[1] / speeds[0]) ** offset)
    return float(torque[k]), float(speeds[k])


@numba.njit(cache=True, error_model="numpy")
def _short_circuit(
    psi_d: Array,
    psi_q: Array,
    start_d: float,
    step_d: float,
    step_q: float,
    r: float,
    speed: Array,
    first: float,
) -> tuple[Array, Array, bool]:
    """Newton's method at falling electrical speeds, each from the last; i_q = -b."""
    n = speed.shape[0]
    out_d, out_q = np.zeros(n), np.zeros(n)
    a, b = first, 0.0
    nd, nq = psi_d.shape
    slope_d = (psi_d[1, 0] - psi_d[0, 0]) / step_d
    slope_q = (psi_q[0, nq - 1] - psi_q[0, nq - 2]) / step_q
    for k in range(n):
        w = speed[k]
        if w == 0.0 or first == 0.0:
            continue
        is_settled = False
        for _ in range(60):
            # bilinear inside the map
            x, y = (a - start_d) / step_d, b / step_q
            inside_x, inside_y = min(max(x, 0.0), nd - 1.0), min(y, nq - 1.0)
            i, j = min(int(inside_x), nd - 2), min(int(inside_y), nq - 2)
            s, t = inside_x - i, inside_y - j
            d00, d01 = psi_d[i, j], psi_d[i, j + 1]
            d10, d11 = psi_d[i + 1, j], psi_d[i + 1, j + 1]
            q00, q01 = psi_q[i, j], psi_q[i, j + 1]
            q10, q11 = psi_q[i + 1, j], psi_q[i + 1, j + 1]
            fd = (1 - s) * ((1 - t) * d00 + t * d01) + s * ((1 - t) * d10 + t * d11)
            fq = (1 - s) * ((1 - t) * q00 + t * q01) + s * ((1 - t) * q10 + t * q11)
            d_a = ((1 - t) * (d10 - d00) + t * (d11 - d01)) / step_d
            d_b = ((1 - s) * (d01 - d00) + s * (d11 - d10)) / step_q
            q_a = ((1 - t) * (q10 - q00) + t * (q11 - q01)) / step_d
            q_b = ((1 - s) * (q01 - q00) + s * (q11 - q10)) / step_q
            # Slopes that changed along the edge would, far out, bend the linkages back.
            if inside_x != x:
                fd += slope_d * (x - inside_x) * step_d
                d_a, q_a = slope_d, 0.0
            if inside_y != y:
                fq += slope_q * (y - inside_y) * step_q
                d_b, q_b = 0.0, slope_q
            r1 = r * a + w * fq
            r2 = -r * b + w * fd
            j11, j12, j21, j22 = r + w * q_a, w * q_b, w * d_a, -r + w * d_b
            det = j11 * j22 - j12 * j21
            if det == 0.0:
                return out_d, out_q, False
            da = -(r1 * j22 - r2 * j12) / det
            db = -(j11 * r2 - j21 * r1) / det
            a += da
            b = max(b + db, 0.0)
            if abs(da) + abs(db) < 1e-9 * (abs(a) + abs(b)):
                is_settled = True
                break
        if not is_settled:
            return out_d, out_q, False
        out_d[k], out_q[k] = a, -b
    return out_d, out_q, True
