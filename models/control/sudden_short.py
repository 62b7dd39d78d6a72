"""Sudden three-phase short circuit: the transient currents and torque on the saturated maps."""

from dataclasses import dataclass
from math import pi

import numba
import numpy as np

from models.control.faults import open_circuit_flux
from models.control.surface import Array
from models.control.table import TorqueTable
from models.errors import InvalidInputError, SolverError

STEPS = 180
"""Steps per electrical period."""
_CROSS = 0.95
"""Largest product of the cross slopes of the linkages over that of their own slopes [-].

Magnetic energy is convex, so it is below 1 in any machine; between the currents of the map it may
come out larger in single cells where iron saturates within one step, and is held at this there.
"""
PERIODS = 1.0
"""Periods followed: the linkage turns once round, and losses make every later swing smaller."""


@dataclass(frozen=True, eq=False)
class SuddenShort:
    """A three-phase short circuit from an operating point at constant speed.

    Attributes
    ----------
    time : ndarray, shape (n,)
        From the short circuit [s].
    i_d, i_q : ndarray, shape (n,)
        Currents [A].
    torque : ndarray, shape (n,)
        Air-gap torque [N*m].
    """

    time: Array
    i_d: Array
    i_q: Array
    torque: Array

    @property
    def lowest_i_d(self) -> float:
        """Most negative d-axis current [A]: what the magnets must bear."""
        return float(self.i_d.min())

    @property
    def largest_current(self) -> float:
        """Largest current amplitude [A]."""
        return float(np.hypot(self.i_d, self.i_q).max())

    @property
    def largest_braking_torque(self) -> float:
        """Magnitude of the largest torque against positive rotation [N*m]."""
        return float(max(0.0, -self.torque.min()))


def sudden_short(table: TorqueTable, *, speed: float, i_d: float, i_q: float) -> SuddenShort:
    """Return currents and torque after a sudden three-phase short circuit.

    Parameters
    ----------
    table : TorqueTable
        Machine and condition; its resistance damps the transient.
    speed : float
        Mechanical speed [rad/s], > 0, held.
    i_d, i_q : float
        Currents before the short circuit [A].

    Returns
    -------
    SuddenShort
        One electrical period.

    Raises
    ------
    InvalidInputError
        For a speed that is not positive.
    SolverError
        If a linkage does not rise with its own current somewhere on the way.

    Notes
    -----
    d psi_d / dt = -R i_d + w psi_q,  d psi_q / dt = -R i_q - w psi_d. Currents are the unknowns,
    with the slopes of the map as inductances; classical fourth-order Runge-Kutta. The map is
    extended with its last slopes. Without resistance the linkage keeps its size and turns once
    round, so the most negative i_d is where psi_d = -|psi_0|. Iron and magnet eddy currents, which
    damp, and skin effect, which raises the resistance, are left out: on the safe side.

    References
    ----------
    Any text on synchronous machines in dq axes.
    """
    if not 0.0 < speed < np.inf:
        raise InvalidInputError(f"sudden short circuit: speed {speed} rad/s must be above zero")
    electrical = speed * table.pole_pairs
    steps = round(STEPS * PERIODS)
    psi_d, psi_q = table.psi_d, table.psi_q
    if open_circuit_flux(table) == 0.0:
        # Without magnets both directions of d are alike, and the flux swings through both.
        psi_d = np.concatenate([psi_d, -psi_d[-2::-1]])
        psi_q = np.concatenate([psi_q, psi_q[-2::-1]])
    d, q, torque, is_sound = _march(
        psi_d, psi_q, float(table.i_d[0]), table.step_d, table.step_q,
        float(table.resistance), electrical, i_d, i_q, 2.0 * pi / electrical / STEPS, steps,
        1.5 * table.pole_pairs,
    )  # fmt: skip
    if not is_sound:
        raise SolverError(
            f"sudden short circuit from ({i_d:.0f} A, {i_q:.0f} A): the flux map does not rise "
            f"with current on the way; check the B-H table and the currents of the map"
        )
    time = np.linspace(0.0, 2.0 * pi / electrical * PERIODS, steps + 1, dtype=np.float64)
    return SuddenShort(time=time, i_d=d, i_q=q, torque=torque)


@numba.njit(cache=True, error_model="numpy")
def _map_at(
    psi_d: Array, psi_q: Array, start_d: float, step_d: float, step_q: float, a: float, b: float
) -> tuple[float, float, float, float, float, float]:
    """Return both linkages and their slopes (d by d, d by q, q by d, q by q) at any currents."""
    sign = -1.0 if b < 0.0 else 1.0
    x, y = (a - start_d) / step_d, abs(b) / step_q
    # Beyond the map the slopes of its edge hold: continued as they change there, they may cross
    # zero far out.
    inside_x = min(max(x, 0.0), psi_d.shape[0] - 1.0)
    inside_y = min(y, psi_d.shape[1] - 1.0)
    out_d, out_q = (x - inside_x) * step_d, (y - inside_y) * step_q
    i = min(int(inside_x), psi_d.shape[0] - 2)
    j = min(int(inside_y), psi_d.shape[1] - 2)
    s, t = inside_x - i, inside_y - j
    d00, d01, d10, d11 = psi_d[i, j], psi_d[i, j + 1], psi_d[i + 1, j], psi_d[i + 1, j + 1]
    q00, q01, q10, q11 = psi_q[i, j], psi_q[i, j + 1], psi_q[i + 1, j], psi_q[i + 1, j + 1]
    dd = ((1 - t) * (d10 - d00) + t * (d11 - d01)) / step_d
    dq = ((1 - s) * (d01 - d00) + s * (d11 - d10)) / step_q
    qd = ((1 - t) * (q10 - q00) + t * (q11 - q01)) / step_d
    qq = ((1 - s) * (q01 - q00) + s * (q11 - q10)) / step_q
    f_d = (1 - s) * ((1 - t) * d00 + t * d01) + s * ((1 - t) * d10 + t * d11)
    f_q = (1 - s) * ((1 - t) * q00 + t * q01) + s * ((1 - t) * q10 + t * q11)
    f_d += dd * out_d + dq * out_q
    f_q += qd * out_d + qq * out_q
    return f_d, sign * f_q, dd, sign * dq, sign * qd, qq


@numba.njit(cache=True, error_model="numpy")
def _slopes(
    psi_d: Array, psi_q: Array, start_d: float, step_d: float, step_q: float,
    r: float, w: float, a: float, b: float,
) -> tuple[float, float, bool]:  # fmt: skip
    f_d, f_q, dd, dq, qd, qq = _map_at(psi_d, psi_q, start_d, step_d, step_q, a, b)
    u, v = -r * a + w * f_q, -r * b - w * f_d
    is_sound = dd > 0.0 and qq > 0.0
    if dq * qd > _CROSS * dd * qq:
        share = np.sqrt(_CROSS * dd * qq / (dq * qd))
        dq, qd = share * dq, share * qd
    det = dd * qq - dq * qd
    return (qq * u - dq * v) / det, (dd * v - qd * u) / det, is_sound


@numba.njit(cache=True, error_model="numpy")
def _march(
    psi_d: Array, psi_q: Array, start_d: float, step_d: float, step_q: float,
    r: float, w: float, a: float, b: float, h: float, steps: int, factor: float,
) -> tuple[Array, Array, Array, bool]:  # fmt: skip
    out_d, out_q, torque = np.empty(steps + 1), np.empty(steps + 1), np.empty(steps + 1)
    for k in range(steps + 1):
        f_d, f_q, _, _, _, _ = _map_at(psi_d, psi_q, start_d, step_d, step_q, a, b)
        out_d[k], out_q[k], torque[k] = a, b, factor * (f_d * b - f_q * a)
        if k == steps:
            break
        k1, l1, is_one = _slopes(psi_d, psi_q, start_d, step_d, step_q, r, w, a, b)
        k2, l2, is_two = _slopes(
            psi_d, psi_q, start_d, step_d, step_q, r, w, a + 0.5 * h * k1, b + 0.5 * h * l1
        )
        k3, l3, is_three = _slopes(
            psi_d, psi_q, start_d, step_d, step_q, r, w, a + 0.5 * h * k2, b + 0.5 * h * l2
        )
        k4, l4, is_four = _slopes(
            psi_d, psi_q, start_d, step_d, step_q, r, w, a + h * k3, b + h * l3
        )
        if not (is_one and is_two and is_three and is_four):
            return out_d, out_q, torque, False
        a += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
        b += h / 6.0 * (l1 + 2.0 * l2 + 2.0 * l3 + l4)
    return out_d, out_q, torque, True
