"""Torque against current angle, split into what magnets and what reluctance give."""

from dataclasses import dataclass
from math import pi

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from models.axes import is_turned
from models.control.table import torque_at_angle
from models.performance.summary import Performance
from models.skew import magnet_torque
from optim.export import palette
from optim.export.plots.figure import SMALL, new_figure, strokes, style, top_legend

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class TorqueAngle:
    """Air-gap torque [N*m] over current angle [rad] at one current amplitude.

    Attributes
    ----------
    angle, total, magnet, reluctance : ndarray, shape (n,)
        Angle from the q axis towards negative d; the parts sum to the total.
    phase_current : float
        [A rms].
    best_angle, best_torque : float
        Where the total is largest.
    first_axis : str
        The published axis at angle zero: `q`, or `d` of a reluctance machine.
    """

    angle: Array
    total: Array
    magnet: Array
    reluctance: Array
    phase_current: float
    best_angle: float
    best_torque: float
    first_axis: str = "q"


def torque_angle_data(performance: Performance, *, points: int = 31) -> TorqueAngle:
    """Return the split at the inverter's current and rated magnet temperature.

    Magnet torque is that of the magnets alone in iron frozen at its loaded permeability.
    """
    duty, table = performance.duty, performance.drive.table
    current = table.current_peak
    angle = np.linspace(0.0, 0.5 * pi, points)
    if table.cage_loss is not None:
        return _cage_torque_angle(performance, angle)
    total = torque_at_angle(table, current, angle)
    magnet = np.array(
        [
            magnet_torque(
                performance.machine,
                performance.model,
                i_d=-current * float(np.sin(a)),
                i_q=current * float(np.cos(a)),
                magnet_temperature=duty.temperatures.magnet_rated,
            )
            for a in angle
        ]
    )
    i_d, i_q = float(table.mtpa[1, -1]), float(table.mtpa[2, -1])
    return TorqueAngle(
        angle=angle,
        total=total,
        magnet=magnet,
        reluctance=total - magnet,
        phase_current=duty.supply.phase_current,
        best_angle=float(np.arctan2(-i_d, i_q)),
        best_torque=table.peak_torque,
        first_axis="d" if is_turned(performance.machine.family) else "q",
    )


def _cage_torque_angle(performance: Performance, angle: Array) -> TorqueAngle:
    """Return torque of a cage machine from the q axis towards its rotor flux; there is no split."""
    table = performance.drive.table
    total = torque_at_angle(table, table.current_peak, -angle)
    i_d, i_q = float(table.mtpa[1, -1]), float(table.mtpa[2, -1])
    zero = np.zeros_like(total)
    return TorqueAngle(
        angle=angle,
        total=total,
        magnet=zero,
        reluctance=zero,
        phase_current=performance.duty.supply.phase_current,
        best_angle=float(np.arctan2(i_d, i_q)),
        best_torque=table.peak_torque,
        first_axis="q",
    )


def draw_torque_angle(
    data: TorqueAngle, *, footer: str, width: float = 120.0, height: float = 85.0
) -> Figure:
    """Draw total, magnet and reluctance torque over current angle."""
    figure = new_figure(width, height, footer=footer)
    axes = figure.subplots()
    degrees = np.degrees(data.angle)
    parts = (
        (data.total, "total", palette.INK, "-"),
        (data.magnet, "magnets", palette.MAGNET, "--"),
        (data.reluctance, "reluctance", palette.IRON, "-."),
    )
    is_split = bool(np.any(data.magnet) or np.any(data.reluctance))
    strokes(axes, degrees, parts if is_split else parts[:1])
    best = np.degrees(data.best_angle)
    axes.plot([best], [data.best_torque], "o", color=palette.INK, markersize=4.5)
    axes.annotate(
        f"{data.best_torque:.1f} N·m at {best:.1f}°, {data.phase_current:g} A rms",
        (best, data.best_torque),
        xytext=(0.0, 6.0), textcoords="offset points", ha="center", fontsize=SMALL,
        color=palette.INK,
    )  # fmt: skip
    axes.axhline(0.0, color=palette.SOFT_INK, linewidth=0.6)
    low = min(0.0, float(data.reluctance.min()), float(data.magnet.min()))
    axes.set_ylim(1.1 * low, 1.16 * data.best_torque)
    axes.set_xlim(0.0, 90.0)
    axes.set_xticks(range(0, 91, 15))
    style(axes, x=f"Current angle from the {data.first_axis} axis [°], air gap", y="Torque [N·m]")
    top_legend(figure, axes)
    return figure
