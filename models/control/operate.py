"""Operating points and envelopes over arrays of speed and torque."""

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from models.control.least_current import least_current
from models.control.limits import Plane, Point, at_resistance, largest_torque
from models.control.slip import settled_frequency, slip_frequency
from models.control.surface import Array
from models.control.table import TorqueTable
from models.errors import InvalidInputError

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Envelope:
    """Largest air-gap torque over speed within current and voltage.

    Attributes
    ----------
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s].
    torque : ndarray, shape (n,)
        Air-gap torque [N*m], negative when generating.
    i_d, i_q : ndarray, shape (n,)
        Peak currents [A], i_q negative when generating.
    is_within : ndarray of bool, shape (n,)
        False where no current within the limit keeps the voltage within its limit; torque is
        then zero.
    """

    speed: Array
    torque: Array
    i_d: Array
    i_q: Array
    is_within: Flags

    @property
    def power(self) -> Array:
        """Air-gap power [W]."""
        return np.asarray(self.torque * self.speed)


@dataclass(frozen=True, eq=False)
class OperatingPoints:
    """Currents for wanted torques and speeds.

    Attributes
    ----------
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s].
    torque : ndarray, shape (n,)
        Air-gap torque reached [N*m]; that of the envelope where the wanted one is beyond it.
    i_d, i_q : ndarray, shape (n,)
        Peak currents [A].
    is_reached : ndarray of bool, shape (n,)
        Whether the wanted torque is within current and voltage.
    """

    speed: Array
    torque: Array
    i_d: Array
    i_q: Array
    is_reached: Flags


def plane_of(table: TorqueTable) -> Plane:
    """Return the parts of a table that the compiled code reads."""
    return Plane(
        start_d=float(table.i_d[0]),
        step_d=table.step_d,
        step_q=table.step_q,
        torque=table.torque,
        psi_squared=table.psi_squared,
        mtpa=table.mtpa,
        circle=table.circle,
        current=float(table.current_peak),
        resistance=float(table.resistance),
        torque_factor=1.5 * table.pole_pairs,
    )


def envelope(
    table: TorqueTable, speed: Array, voltage: float, *, is_generating: bool = False
) -> Envelope:
    """Return the largest torque at each speed.

    Parameters
    ----------
    table : TorqueTable
        Machine, condition and current limit.
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s], >= 0.
    voltage : float
        Largest phase-voltage amplitude [V], > 0.
    is_generating : bool
        Largest braking torque instead.

    Returns
    -------
    Envelope
        Continuous over constant torque, field weakening and max torque per volt.

    Raises
    ------
    InvalidInputError
        For negative speed or a voltage that is not positive.
    """
    speeds = _checked(speed, voltage)
    sign = -1.0 if is_generating else 1.0
    plane, frequency = plane_of(table), speeds * table.pole_pairs
    if table.cage_loss is not None:

        def search(w: Array) -> tuple[Array, Array, Array]:
            resistance = table.resistance_at(w)
            found, d, q, _ = _envelope(plane, w, resistance, sign, voltage * voltage)
            return sign * found, d, q

        frequency = settled_frequency(table, frequency, search)
    resistance = table.resistance_at(frequency)
    torque, i_d, i_q, is_within = _envelope(plane, frequency, resistance, sign, voltage * voltage)
    return Envelope(speeds, sign * torque, i_d, sign * i_q, is_within)


def operate(table: TorqueTable, torque: Array, speed: Array, voltage: float) -> OperatingPoints:
    """Return the points of least current for given torques and speeds.

    Parameters
    ----------
    table : TorqueTable
        Machine, condition and current limit.
    torque : ndarray, shape (n,)
        Wanted air-gap torque [N*m], negative when generating.
    speed : ndarray, shape (n,) or broadcastable
        Mechanical speed [rad/s], >= 0.
    voltage : float
        Largest phase-voltage amplitude [V], > 0.

    Returns
    -------
    OperatingPoints

    Raises
    ------
    InvalidInputError
        For negative speed, a voltage that is not positive, or values that are not finite.
    """
    wanted = np.atleast_1d(np.asarray(torque, dtype=float))
    speeds = np.ascontiguousarray(np.broadcast_to(_checked(speed, voltage), wanted.shape))
    if not np.all(np.isfinite(wanted)):
        raise InvalidInputError("wanted torque: a value is not a finite number")
    plane, frequency = plane_of(table), speeds * table.pole_pairs
    wanted = np.ascontiguousarray(wanted)
    if table.cage_loss is not None:

        def search(w: Array) -> tuple[Array, Array, Array]:
            return _operate(plane, wanted, w, table.resistance_at(w), voltage * voltage)[:3]

        frequency = settled_frequency(table, frequency, search)
    reached, i_d, i_q, is_reached = _operate(
        plane, wanted, frequency, table.resistance_at(frequency), voltage * voltage
    )
    return OperatingPoints(speeds, reached, i_d, i_q, is_reached)


def base_speed(table: TorqueTable, voltage: float, *, is_generating: bool = False) -> float:
    """Return the highest mechanical speed [rad/s] that reaches peak torque at a voltage [V].

    The positive root of w^2 psi^2 + 2 R w T / (1.5 p) + R^2 I^2 = V^2 at the peak-torque point,
    with the resistance of that speed; zero when the voltage cannot drive that current at all.
    """
    torque, i_d, i_q, psi2 = table.circle[:, 0]
    signed = -torque if is_generating else torque
    electrical, r = 0.0, table.resistance
    for _ in range(1 if table.rise is None else 4):
        b = r * signed / (1.5 * table.pole_pairs)
        c = (r * table.current_peak) ** 2 - voltage**2
        if c >= 0.0 and not is_generating:
            return 0.0
        root = b * b - psi2 * c
        if root < 0.0:
            return 0.0
        electrical = float((-b + np.sqrt(root)) / psi2)
        r = float(table.resistance_at(np.array(electrical)))
    slip = float(slip_frequency(table, np.array([signed]), np.array([i_d]), np.array([i_q]))[0])
    return max(0.0, (electrical - slip) / table.pole_pairs)


def _checked(speed: Array, voltage: float) -> Array:
    speeds = np.ascontiguousarray(np.atleast_1d(np.asarray(speed, dtype=float)))
    if not voltage > 0.0 or not np.isfinite(voltage):
        raise InvalidInputError(f"voltage {voltage} V: must be a positive number")
    if not np.all((speeds >= 0.0) & np.isfinite(speeds)):
        raise InvalidInputError("speed: every value must be a finite number of at least zero")
    return speeds


@numba.njit(cache=True, error_model="numpy")
def _envelope(
    plane: Plane, speed: Array, resistance: Array, sign: float, v2: float
) -> tuple[Array, Array, Array, Flags]:
    n = speed.shape[0]
    torque, i_d, i_q = np.empty(n), np.empty(n), np.empty(n)
    is_within = np.empty(n, dtype=np.bool_)
    for k in range(n):
        here = at_resistance(plane, resistance[k])
        torque[k], i_d[k], i_q[k], is_within[k] = largest_torque(here, speed[k], sign, v2)
    return torque, i_d, i_q, is_within


@numba.njit(cache=True, error_model="numpy")
def _operate(
    plane: Plane, wanted: Array, speed: Array, resistance: Array, v2: float
) -> tuple[Array, Array, Array, Flags]:
    n = speed.shape[0]
    torque, i_d, i_q = np.empty(n), np.empty(n), np.empty(n)
    is_reached = np.empty(n, dtype=np.bool_)
    for k in range(n):
        sign = -1.0 if wanted[k] < 0.0 else 1.0
        here = at_resistance(plane, resistance[k])
        point: Point = least_current(here, abs(wanted[k]), speed[k], sign, v2)
        torque[k] = sign * point[0]
        i_d[k] = point[1]
        i_q[k] = sign * point[2]
        is_reached[k] = point[3]
    return torque, i_d, i_q, is_reached
