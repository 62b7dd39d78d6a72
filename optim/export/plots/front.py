"""The front as pairs of objectives, with everything that was evaluated around it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import ceil, isfinite
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from models.nomenclature import metric
from optim.export import palette
from optim.export.notation import axis_text
from optim.export.plots.figure import new_figure, style, top_legend

Array = NDArray[np.float64]
Outcome = Literal["front", "feasible", "infeasible", "failed"]


@dataclass(frozen=True)
class FrontPoint:
    """One evaluated candidate.

    Attributes
    ----------
    number : int
        Number in its run.
    outcome : {"front", "feasible", "infeasible", "failed"}
        On the front, feasible but dominated, infeasible (a limit missed or no such machine), or
        failed.
    metrics : mapping of str to float
        SI values; empty where there are none.
    family : str
        Rotor family in a study of several, else empty.
    """

    number: int
    outcome: Outcome
    metrics: Mapping[str, float]
    family: str = ""


@dataclass(frozen=True, eq=False)
class Marks:
    """Candidates of one outcome.

    Attributes
    ----------
    outcome : str
        Their outcome.
    numbers : ndarray of int, shape (n,)
        Candidates with coordinates.
    values : ndarray, shape (n, n_objectives)
        Objectives in shown units.
    placeless : ndarray of int, shape (m,)
        Candidates that have no coordinates (no such machine, failed).
    families : tuple of str
        Family of each candidate with coordinates; empty in a study of one.
    """

    outcome: Outcome
    numbers: NDArray[np.int64]
    values: Array
    placeless: NDArray[np.int64]
    families: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class FrontPicture:
    """Objectives and the marks of each outcome; `picked` may be None."""

    objectives: tuple[str, ...]
    marks: tuple[Marks, ...]
    picked: int | None

    @property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """Pairs of objectives, a panel each."""
        return tuple(combinations(range(len(self.objectives)), 2))


_DRAWN: tuple[Outcome, ...] = ("infeasible", "feasible", "failed", "front")


def front_data(
    points: Sequence[FrontPoint], objectives: Sequence[str], *, picked: int | None = None
) -> FrontPicture:
    """Sort evaluated candidates into marks.

    Parameters
    ----------
    points : sequence of FrontPoint
        Everything evaluated, or the front alone.
    objectives : sequence of str
        At least two metrics.
    picked : int, optional
        Candidate to ring.

    Raises
    ------
    ValueError
        For fewer than two objectives, or a picked candidate that is not among the points.
    """
    if len(objectives) < 2:
        raise ValueError(
            f"front plot: {len(objectives)} objective given; a trade-off needs at least two"
        )
    if picked is not None and all(p.number != picked for p in points):
        raise ValueError(f"front plot: picked candidate {picked} is not among the points given")
    factors = [metric(name).shown_factor for name in objectives]
    marks = []
    for outcome in _DRAWN:
        placed: list[tuple[int, list[float]]] = []
        families = []
        placeless = []
        for p in points:
            if p.outcome != outcome:
                continue
            row = [p.metrics.get(name, float("nan")) * f for name, f in zip(objectives, factors)]
            if all(isfinite(v) for v in row):
                placed.append((p.number, row))
                families += [p.family] if p.family else []
            else:
                placeless.append(p.number)
        marks.append(
            Marks(
                outcome,
                np.array([n for n, _ in placed], dtype=np.int64),
                np.array([r for _, r in placed], dtype=float).reshape(-1, len(objectives)),
                np.array(placeless, dtype=np.int64),
                tuple(families),
            )
        )
    return FrontPicture(tuple(objectives), tuple(marks), picked)


_LOOK: Mapping[str, Mapping[str, Any]] = {
    "infeasible": {"marker": "x", "s": 11.0, "color": palette.MAGNET_LIGHT, "linewidth": 0.7},
    "feasible": {"marker": "s", "s": 9.0, "facecolor": "none", "edgecolor": palette.IRON,
                 "linewidth": 0.7},
    "failed": {"marker": "v", "s": 16.0, "color": palette.WARNING, "linewidth": 0.0},
    "front": {"marker": "o", "s": 18.0, "color": palette.MOSS, "linewidth": 0.4,
              "edgecolor": palette.PAPER},
}  # fmt: skip
FAMILY_LOOKS: Mapping[str, tuple[str, str]] = {
    "interior": ("o", palette.MOSS),
    "surface": ("D", palette.MAGNET),
    "cage": ("^", palette.CONDUCTOR),
    "reluctance": ("P", palette.INK),
}
"""Marker and colour of each family on a front of several: the same in every study."""
_WORDS: Mapping[str, str] = {
    "infeasible": "infeasible", "feasible": "feasible, dominated", "failed": "failed",
    "front": "front",
}  # fmt: skip


def draw_front(
    data: FrontPicture, *, footer: str, width: float = 180.0, panel: float = 62.0
) -> Figure:
    """Draw a panel a pair; candidates without coordinates stand in a strip by their number."""
    columns = min(3, len(data.pairs))
    rows = ceil(len(data.pairs) / columns)
    has_strip = any(m.placeless.size for m in data.marks)
    height = rows * panel + 16.0 + (24.0 if has_strip else 0.0)
    figure = new_figure(width, height, footer=footer)
    ratios = [panel] * rows + ([11.0] if has_strip else [])
    grid = figure.add_gridspec(len(ratios), columns, height_ratios=ratios)
    for k, (i, j) in enumerate(data.pairs):
        _panel(figure.add_subplot(grid[k // columns, k % columns]), data, i, j)
    if has_strip:
        _strip(figure.add_subplot(grid[rows, :]), data)
    top_legend(figure, figure.axes[0])
    return figure


def _panel(axes: Axes, data: FrontPicture, i: int, j: int) -> None:
    for order, marks in enumerate(data.marks):
        count = marks.numbers.size + marks.placeless.size
        if marks.outcome == "front" and marks.families:
            _families(axes, marks, i, j, order=2 + order)
            _ring(axes, data, marks, marks.numbers == data.picked, i, j)
            continue
        axes.scatter(
            marks.values[:, i], marks.values[:, j], zorder=2 + order,
            label=f"{_WORDS[marks.outcome]} ({count})", **_LOOK[marks.outcome],
        )  # fmt: skip
        at = marks.numbers == data.picked
        _ring(axes, data, marks, at, i, j)
    style(axes, x=axis_text(data.objectives[i]), y=axis_text(data.objectives[j]))
    _focus(axes, data, i, j)


def _ring(
    axes: Axes, data: FrontPicture, marks: Marks, at: NDArray[np.bool_], i: int, j: int
) -> None:
    if data.picked is not None and at.any():
        axes.scatter(
            marks.values[at, i], marks.values[at, j], s=95.0, marker="o", facecolor="none",
            edgecolor=palette.INK, linewidth=1.3, zorder=9,
            label=f"candidate {data.picked}",
        )  # fmt: skip


def _families(axes: Axes, marks: Marks, i: int, j: int, *, order: int) -> None:
    """Draw the front with a shape and a colour for each family that owns a part of it."""
    own = np.array(marks.families)
    for family, (shape, colour) in FAMILY_LOOKS.items():
        at = own == family
        if not at.any():
            continue
        axes.scatter(
            marks.values[at, i], marks.values[at, j], zorder=order, marker=shape, s=18.0,
            color=colour, linewidth=0.4, edgecolor=palette.PAPER,
            label=f"front, {family} ({int(at.sum())})",
        )  # fmt: skip


def _focus(axes: Axes, data: FrontPicture, i: int, j: int) -> None:
    """Show the feasible designs with room around; far infeasible ones fall outside the panel."""
    kept = [m.values for m in data.marks if m.outcome in ("front", "feasible") and m.numbers.size]
    if not kept:
        return
    values = np.vstack(kept)
    for column, limit in ((i, axes.set_xlim), (j, axes.set_ylim)):
        low, high = float(values[:, column].min()), float(values[:, column].max())
        room = 0.15 * (high - low) or 0.05 * abs(high) or 1.0
        limit(low - room, high + room)


def _strip(axes: Axes, data: FrontPicture) -> None:
    for marks in data.marks:
        if marks.placeless.size:
            axes.scatter(marks.placeless, np.zeros(marks.placeless.size),
                         **_LOOK[marks.outcome])  # fmt: skip
    style(axes, x="No machine, so without coordinates: by candidate number [-]", y="")
    axes.set_yticks([])
    axes.grid(visible=False)
    axes.spines["left"].set_visible(False)
