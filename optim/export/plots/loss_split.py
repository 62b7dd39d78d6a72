"""Losses by part at launch, at the continuous load and over the cycle."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from matplotlib.figure import Figure

from models.performance.drive import losses, shaft_points
from models.performance.loss_parts import Losses
from models.performance.summary import Performance
from optim.export import palette
from optim.export.drive_tables import RPM
from optim.export.families import carried
from optim.export.notation import number_text
from optim.export.plots.figure import NORMAL, SMALL, new_figure, style, top_legend

PARTS = ("winding_dc", "winding_ac", "iron", "magnet", "mechanical")
_NAMES = ("winding DC", "AC", "iron", "", "friction")


@dataclass(frozen=True)
class LossCase:
    """Losses of one state.

    Attributes
    ----------
    name, condition : str
        What it is, and at which torque and speed.
    parts : tuple of float
        Loss of each of `PARTS` [W]; means over time for a cycle.
    rotor : str
        What bears the part `magnet`: `magnets` or `cage`.
    """

    name: str
    condition: str
    parts: tuple[float, ...]
    rotor: str = "magnets"

    @property
    def total(self) -> float:
        """Sum [W]."""
        return sum(self.parts)


def loss_split_data(performance: Performance) -> tuple[LossCase, ...]:
    """Return the losses at launch torque, at the duty's continuous load and over the cycle."""
    drive, duty, cycle = performance.drive, performance.duty, performance.cycle
    table = drive.table
    torque = performance.heat.launch_torque
    i_d, i_q = (np.array([np.interp(torque, table.mtpa[0], row)]) for row in table.mtpa[1:])
    current = float(np.hypot(i_d, i_q)[0]) / sqrt(2.0)
    points, load = shaft_points(
        drive, np.array([duty.continuous_torque]), np.array([duty.continuous_speed]),
        duty.supply.voltage_peak(duty.supply.dc_voltage),
    )  # fmt: skip
    reached = "" if points.is_reached[0] else ", beyond the envelope"
    time = float(cycle.duration.sum())
    rotor = carried(performance.machine)
    return (
        LossCase(
            "Launch", f"{torque:.0f} N·m, {current:.0f} A rms, standstill",
            _parts(losses(drive, i_d, i_q, np.zeros(1)), np.ones(1)), rotor,
        ),
        LossCase(
            "Continuous load",
            f"{duty.continuous_torque:.0f} N·m, {duty.continuous_speed * RPM:.0f} r/min{reached}",
            _parts(load, np.ones(1)), rotor,
        ),
        LossCase(
            "Cycle, mean", f"{duty.cycle.name}, {cycle.loss_energy / cycle.distance / 3.6:.2f} "
            f"Wh/km", _parts(cycle.losses, cycle.duration / time), rotor,
        ),
    )  # fmt: skip


def _parts(loss: Losses, weight: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, ...]:
    eddy = loss.magnet + loss.sleeve + loss.cage + loss.stray
    values = (
        loss.winding_dc,
        loss.winding_ac + loss.switching_winding,
        loss.iron + loss.rotor_iron + loss.switching_iron,
        eddy,
        loss.mechanical.total,
    )
    return tuple(float(weight @ value) for value in values)


def draw_loss_split(
    cases: tuple[LossCase, ...], *, footer: str, width: float = 130.0, height: float = 70.0
) -> Figure:
    """Draw one bar a case in parts of its total, with the total in watts."""
    figure = new_figure(width, height, footer=footer)
    axes = figure.subplots()
    rows = np.arange(len(cases))[::-1]
    left = np.zeros(len(cases))
    for k, (part, name) in enumerate(zip(PARTS, _NAMES)):
        share = np.array([100.0 * c.parts[k] / c.total if c.total else 0.0 for c in cases])
        axes.barh(rows, share, left=left, height=0.5, color=palette.LOSS_COLOURS[part],
                  edgecolor=palette.PAPER, linewidth=0.6, label=name or cases[0].rotor)  # fmt: skip
        for row, start, width_share in zip(rows, left, share):
            if width_share >= 7.0:
                dark = part in ("winding_ac",)
                axes.text(start + 0.5 * width_share, row, f"{width_share:.0f} %", ha="center",
                          va="center", fontsize=SMALL,
                          color=palette.INK if dark else palette.PAPER)  # fmt: skip
        left += share
    for row, case in zip(rows, cases):
        axes.text(0.0, row + 0.32, f"{case.name}: {number_text(case.total)} W", fontsize=NORMAL,
                  color=palette.INK, va="bottom", weight="bold")  # fmt: skip
        axes.text(100.0, row + 0.32, case.condition, fontsize=SMALL, color=palette.SOFT_INK,
                  va="bottom", ha="right")  # fmt: skip
    style(axes, x="Share of the loss [%]", y="")
    axes.set_xlim(0.0, 100.0)
    axes.set_ylim(-0.45, len(cases) - 0.2)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    top_legend(figure, axes)
    return figure
