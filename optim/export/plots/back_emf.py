"""Back-EMF against speed with its limit, and the short circuit."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from models.performance.summary import Performance
from optim.export import palette
from optim.export.context import PackContext
from optim.export.drive_tables import fault_table
from optim.export.plots.figure import new_figure, strokes, style, top_legend

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class BackEmf:
    """Line voltages [V peak], short-circuit current [A rms] and torque [N*m] over speed [rpm].

    Attributes
    ----------
    speed, cold, rated, short_current, short_torque : ndarray, shape (n,)
        Cold magnets, rated magnets, and the steady short circuit.
    limit : float or None
        Bound the study sets on the cold voltage at top speed [V].
    dc_voltage : float
        Nominal DC voltage [V].
    cold_temperature, rated_temperature : float
        Magnet temperatures [degC].
    """

    speed: Array
    cold: Array
    rated: Array
    short_current: Array
    short_torque: Array
    limit: float | None
    dc_voltage: float
    cold_temperature: float
    rated_temperature: float


def back_emf_data(performance: Performance, context: PackContext) -> BackEmf:
    """Return open-circuit and short-circuit values over speed."""
    table = fault_table(performance)
    bounds = [limit.bound for limit in context.limits if limit.metric == "back_emf_line_peak"]
    duty = performance.duty
    return BackEmf(
        speed=table["speed"],
        cold=table["emf_line_peak_cold"],
        rated=table["emf_line_peak"],
        short_current=table["short_circuit_current"],
        short_torque=-table["short_circuit_torque"],
        limit=min(bounds) if bounds else None,
        dc_voltage=duty.supply.dc_voltage,
        cold_temperature=duty.temperatures.magnet_cold,
        rated_temperature=duty.temperatures.magnet_rated,
    )


def draw_back_emf(
    data: BackEmf, *, footer: str, width: float = 120.0, height: float = 125.0
) -> Figure:
    """Draw back-EMF above, short-circuit current and braking torque below."""
    figure = new_figure(width, height, footer=footer)
    upper, middle, lower = figure.subplots(3, 1, sharex=True, height_ratios=(2.0, 1.0, 1.0))
    x = data.speed / 1e3
    strokes(
        upper, x,
        (
            (data.cold, f"magnets {data.cold_temperature:g} °C", palette.MAGNET, "-"),
            (data.rated, f"magnets {data.rated_temperature:g} °C", palette.MAGNET_LIGHT, "-"),
        ),
    )  # fmt: skip
    upper.axhline(data.dc_voltage, color=palette.SOFT_INK, linestyle=":", linewidth=1.2,
                  label=f"DC link {data.dc_voltage:g} V")  # fmt: skip
    if data.limit is not None:
        upper.axhline(data.limit, color=palette.WARNING, linestyle="--", linewidth=1.4,
                      label=f"limit {data.limit:g} V")  # fmt: skip
    middle.plot(x, data.short_current, color=palette.CONDUCTOR, linewidth=1.5)
    lower.plot(x, data.short_torque, color=palette.INK, linewidth=1.5)
    style(upper, x="", y="Line back-EMF [V peak]")
    style(middle, x="", y="Short-circuit\ncurrent [A rms]")
    style(lower, x="Speed [1000 r/min]", y="Short-circuit\nbraking [N·m]")
    for axes in (upper, middle, lower):
        axes.set_ylim(bottom=0.0)
    upper.set_xlim(0.0, x[-1])
    top_legend(figure, upper)
    return figure
