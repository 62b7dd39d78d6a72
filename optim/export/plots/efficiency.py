"""Efficiency over speed and torque with contours, and the points of the drive cycle on it."""

from dataclasses import dataclass

import matplotlib
import numpy as np
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from numpy.typing import NDArray

from models.performance.efficiency import read
from models.performance.summary import Performance
from optim.export import palette
from optim.export.drive_tables import RPM
from optim.export.plots.figure import SMALL, new_figure, style, top_legend

Array = NDArray[np.float64]

LEVELS = (0.60, 0.70, 0.80, 0.85, 0.88, 0.90, 0.92, 0.93, 0.94, 0.95, 0.96, 0.97, 0.98, 0.99)
LABELLED = (0.80, 0.90, 0.94, 0.96, 0.97, 0.98)


@dataclass(frozen=True, eq=False)
class EfficiencyPicture:
    """Efficiency on a fine grid, and the cycle's points.

    Attributes
    ----------
    speed, torque, efficiency : ndarray, shape (n_s, n_k)
        [rad/s], shaft torque [N*m], output over input; 0 where nothing useful comes out.
    cycle_speed, cycle_torque, cycle_energy : ndarray, shape (m,)
        Points that are reached [rad/s], [N*m], and the energy through the shaft at each [J].
    dc_voltage : float
        [V].
    cycle_name : str
        Name of the cycle.
    """

    speed: Array
    torque: Array
    efficiency: Array
    cycle_speed: Array
    cycle_torque: Array
    cycle_energy: Array
    dc_voltage: float
    cycle_name: str


def efficiency_data(performance: Performance, *, points: int = 121) -> EfficiencyPicture:
    """Return efficiency from losses and torque interpolated on a finer grid.

    Losses and torque are smooth where efficiency is not (towards zero torque and speed), so they
    are what is interpolated.
    """
    grid, cycle = performance.grid, performance.cycle
    speed, share = np.meshgrid(
        np.linspace(0.0, float(grid.speed[-1]), points), np.linspace(-1.0, 1.0, points),
        indexing="ij",
    )  # fmt: skip
    flat = speed.ravel(), share.ravel()
    loss = read(grid, grid.losses.total, *flat).reshape(speed.shape)
    torque = read(grid, grid.shaft_torque, *flat).reshape(speed.shape)
    power = torque * speed
    efficiency = np.zeros_like(power)
    np.divide(power, power + loss, out=efficiency, where=power > 0.0)
    is_useful = (power < 0.0) & (power + loss < 0.0)
    np.divide(power + loss, power, out=efficiency, where=is_useful)
    is_driven = cycle.speed > 0.0
    return EfficiencyPicture(
        speed=speed,
        torque=torque,
        efficiency=efficiency,
        cycle_speed=cycle.speed[is_driven],
        cycle_torque=cycle.torque[is_driven],
        cycle_energy=np.abs(cycle.torque * cycle.speed * cycle.duration)[is_driven],
        dc_voltage=grid.dc_voltage,
        cycle_name=performance.duty.cycle.name,
    )


def draw_efficiency(
    data: EfficiencyPicture, *, footer: str, width: float = 130.0, height: float = 105.0
) -> Figure:
    """Draw filled contours with labels, envelope, and the cycle as dots sized by energy."""
    figure = new_figure(width, height, footer=footer)
    axes = figure.subplots()
    x = data.speed * RPM / 1e3
    colours = matplotlib.colormaps[palette.EFFICIENCY_MAP]
    # Equal steps of colour for unequal steps of efficiency: the last percents matter most.
    norm = BoundaryNorm(LEVELS, colours.N, extend="min")
    filled = axes.contourf(x, data.torque, data.efficiency, levels=LEVELS,
                           cmap=colours, norm=norm, extend="min")  # fmt: skip
    # Thousands of small shapes: as an image they take a tenth of the space in vector files.
    filled.set_rasterized(True)
    lines = axes.contour(x, data.torque, data.efficiency, levels=LABELLED,
                         colors=palette.PAPER, linewidths=0.6)  # fmt: skip
    for edge in (0, -1):
        axes.plot(x[:, edge], data.torque[:, edge], color=palette.INK, linewidth=1.2)
    axes.axhline(0.0, color=palette.INK, linewidth=0.5)
    largest = float(data.cycle_energy.max()) if data.cycle_energy.size else 1.0
    axes.scatter(
        data.cycle_speed * RPM / 1e3, data.cycle_torque,
        s=(width / 130.0) ** 2 * (0.6 + 10.0 * data.cycle_energy / largest),
        color=palette.CONDUCTOR,
        linewidth=0.0, alpha=0.8, rasterized=True,
        label=f"{data.cycle_name} by the second, size: energy",
    )  # fmt: skip
    axes.clabel(lines, fmt=lambda v: f"{100.0 * v:.0f}", fontsize=6.5)
    bar = figure.colorbar(filled, ax=axes, ticks=LEVELS, pad=0.02)
    bar.ax.set_yticklabels([f"{100.0 * level:.0f}" for level in LEVELS])
    bar.set_label(f"Efficiency at {data.dc_voltage:g} V DC [%]", fontsize=SMALL + 1.0,
                  color=palette.INK)  # fmt: skip
    bar.ax.tick_params(labelsize=SMALL, colors=palette.INK, length=2.0)
    bar.outline.set_linewidth(0.4)
    style(axes, x="Speed [1000 r/min]", y="Shaft torque [N·m]")
    axes.grid(visible=False)
    axes.set_xlim(0.0, float(x.max()))
    top_legend(figure, axes, marker_scale=2.0)
    return figure
