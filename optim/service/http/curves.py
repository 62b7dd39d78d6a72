"""The pictures of a design as plain numbers, for a page to draw."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from optim.export.drive_tables import RPM
from optim.export.pictures import Pictures
from optim.export.plots.back_emf import BackEmf
from optim.export.plots.efficiency import EfficiencyPicture
from optim.export.plots.loss_split import PARTS, LossCase
from optim.export.plots.torque_angle import TorqueAngle
from optim.export.plots.torque_speed import TorqueSpeed

Array = NDArray[np.float64]

_DIGITS = 6
"""Significant digits: what a screen shows and less to send."""
GRID_STEP = 2
"""Every so many of the efficiency picture's lines are sent."""


def curves(pictures: Pictures) -> dict[str, Any]:
    """Return the pictures' data in the units of their keys."""
    return {
        "torque_angle": _torque_angle(pictures.torque_angle),
        "torque_speed": _torque_speed(pictures.torque_speed),
        "back_emf": _back_emf(pictures.back_emf),
        "efficiency": _efficiency(pictures.efficiency),
        "loss_split": {"parts": list(PARTS), "cases": [_case(c) for c in pictures.loss_split]},
    }


def _torque_angle(data: TorqueAngle) -> dict[str, Any]:
    return {
        "angle_deg": _numbers(np.degrees(data.angle)),
        "total_nm": _numbers(data.total),
        "magnet_nm": _numbers(data.magnet),
        "reluctance_nm": _numbers(data.reluctance),
        "phase_current_a": data.phase_current,
        "best_angle_deg": float(np.degrees(data.best_angle)),
        "best_torque_nm": data.best_torque,
        "first_axis": data.first_axis,
    }


def _torque_speed(data: TorqueSpeed) -> dict[str, Any]:
    out: dict[str, Any] = {"speed_rpm": _numbers(data.speed * RPM)}
    for name in ("nominal", "lowest", "continuous"):
        torque = getattr(data, name)
        out[f"{name}_nm"] = _numbers(torque)
        out[f"{name}_kw"] = _numbers(torque * data.speed / 1e3)
    out |= {"dc_voltage_v": data.dc_voltage, "dc_voltage_min_v": data.dc_voltage_min}
    return out


def _back_emf(data: BackEmf | None) -> dict[str, Any] | None:
    if data is None:
        return None
    return {
        "speed_rpm": _numbers(data.speed),
        "cold_line_peak_v": _numbers(data.cold),
        "rated_line_peak_v": _numbers(data.rated),
        "short_circuit_current_a": _numbers(data.short_current),
        "braking_torque_nm": _numbers(data.short_torque),
        "limit_v": data.limit,
        "dc_voltage_v": data.dc_voltage,
        "cold_temperature_c": data.cold_temperature,
        "rated_temperature_c": data.rated_temperature,
    }


def _efficiency(data: EfficiencyPicture) -> dict[str, Any]:
    k = slice(None, None, GRID_STEP)
    efficiency = 100.0 * data.efficiency[k, k]
    count = efficiency.shape[1]
    return {
        "speed_rpm": _numbers(data.speed[k, 0] * RPM),
        "share": _numbers(np.linspace(-1.0, 1.0, count)),
        "torque_nm": [_numbers(row) for row in data.torque[k, k]],
        "efficiency_percent": [
            [value if value > 0.0 else None for value in _numbers(row)] for row in efficiency
        ],
        "cycle": {
            "name": data.cycle_name,
            "speed_rpm": _numbers(data.cycle_speed * RPM),
            "torque_nm": _numbers(data.cycle_torque),
            "energy_kj": _numbers(data.cycle_energy / 1e3),
        },
        "dc_voltage_v": data.dc_voltage,
    }


def _case(case: LossCase) -> dict[str, Any]:
    return {
        "name": case.name,
        "condition": case.condition,
        "parts_w": _numbers(np.array(case.parts)),
        "total_w": case.total,
    }


def _numbers(values: Array) -> list[float]:
    return [float(f"{value:.{_DIGITS}g}") for value in np.asarray(values, dtype=float)]
