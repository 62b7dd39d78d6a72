"""Continuous torque over speed: the thermal rating repeated at each speed."""

import numpy as np
from numpy.typing import NDArray

from models.control.operate import envelope, operate
from models.performance.drive import drag_torque, losses
from models.performance.heat import (
    LEVELS,
    shaft_rating,
    thermal_load,
    torque_per_remanence,
)
from models.performance.summary import Performance
from models.thermal.steady import Load

Array = NDArray[np.float64]


def continuous_torque(performance: Performance, speed: Array) -> Array:
    """Return the continuous shaft torque at each speed and nominal DC voltage [N*m].

    Parameters
    ----------
    performance : Performance
        The design with its thermal network.
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s].

    Returns
    -------
    ndarray, shape (n,)
        By the same steps as the metric `continuous_torque`: losses at torque levels of the
        envelope, steady temperatures, first limit that binds; zero where even no torque is held.
    """
    drive, duty = performance.drive, performance.duty
    network = performance.heat.network
    voltage = duty.supply.voltage_peak(duty.supply.dc_voltage)
    tops = np.maximum(envelope(drive.table, speed, voltage).torque, 1e-3)
    levels = tops[:, None] * np.linspace(0.0, 1.0, LEVELS)
    every = np.repeat(speed, LEVELS)
    points = operate(drive.table, levels.ravel(), every, voltage)
    loss = losses(drive, points.i_d, points.i_q, every)
    load = thermal_load(drive, network, loss, every)
    drag = drag_torque(loss, every)
    per_remanence = torque_per_remanence(drive, points.i_d, points.i_q)
    out = np.empty(speed.size)
    for k in range(speed.size):
        rows = slice(k * LEVELS, (k + 1) * LEVELS)
        out[k], _ = shaft_rating(
            drive,
            network,
            Load(load.speed[rows], load.losses[rows], load.winding_dc[rows],
                 load.reference_temperature),
            levels[k],
            drag=drag[rows],
            per_remanence=per_remanence[rows],
        )  # fmt: skip
    return out
