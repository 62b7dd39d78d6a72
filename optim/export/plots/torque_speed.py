"""Torque and power against speed: peak at nominal and lowest voltage, and continuous."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from models.performance.summary import Performance
from optim.export import palette
from optim.export.drive_tables import RPM, shaft_envelope
from optim.export.plots.continuous import continuous_torque
from optim.export.plots.figure import new_figure, strokes, style, top_legend

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class TorqueSpeed:
    """Shaft torque [N*m] over speed [rad/s], arrays of shape (n,); voltages in V."""

    speed: Array
    nominal: Array
    lowest: Array
    continuous: Array
    dc_voltage: float
    dc_voltage_min: float


def torque_speed_data(performance: Performance, *, points: int = 53) -> TorqueSpeed:
    """Return shaft torque over speed at `points` speeds from standstill to top speed."""
    supply = performance.duty.supply
    speed = np.linspace(0.0, performance.duty.top_speed, points)
    return TorqueSpeed(
        speed=speed,
        nominal=shaft_envelope(performance.drive, speed, supply.dc_voltage).torque,
        lowest=shaft_envelope(performance.drive, speed, supply.dc_voltage_min).torque,
        continuous=continuous_torque(performance, speed),
        dc_voltage=supply.dc_voltage,
        dc_voltage_min=supply.dc_voltage_min,
    )


def draw_torque_speed(
    data: TorqueSpeed, *, footer: str, width: float = 120.0, height: float = 110.0
) -> Figure:
    """Draw torque over power in two panels with one speed axis."""
    figure = new_figure(width, height, footer=footer)
    upper, lower = figure.subplots(2, 1, sharex=True)
    rpm = data.speed * RPM / 1e3
    for axes, factor in ((upper, np.ones_like(data.speed)), (lower, data.speed / 1e3)):
        strokes(
            axes, rpm,
            (
                (data.nominal * factor, f"peak {data.dc_voltage:g} V", palette.INK, "-"),
                (data.lowest * factor, f"peak {data.dc_voltage_min:g} V",
                 palette.CONDUCTOR, "--"),
                (data.continuous * factor, f"continuous {data.dc_voltage:g} V",
                 palette.MOSS, "-."),
            ),
        )  # fmt: skip
        axes.set_ylim(bottom=0.0)
        axes.set_xlim(0.0, rpm[-1])
    style(upper, x="", y="Torque [N·m]")
    style(lower, x="Speed [1000 r/min]; torque and power at the shaft", y="Power [kW]")
    top_legend(figure, upper)
    return figure
