"""The section of one sector as a Matplotlib figure, for slides and reports."""

from math import hypot, pi

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from models.geometry.section import Outline
from optim.export import palette
from optim.export.plots.figure import new_figure, style
from optim.export.section_view import MM, SectionView


def draw_section(
    view: SectionView, *, footer: str, width: float = 120.0, height: float = 120.0
) -> Figure:
    """Draw the view of `optim.export.section_view.section_view` on axes in mm."""
    figure = new_figure(width, height, footer=footer)
    axes = figure.subplots()
    for part in view.parts:
        axes.add_patch(
            PathPatch(_path(part.loops), facecolor=palette.PART_COLOURS[part.part],
                      edgecolor=palette.SOFT_INK, linewidth=0.5)
        )  # fmt: skip
    bars = view.conductors or next(p for p in view.parts if p.part == "slot_conductors").loops
    axes.add_patch(
        PathPatch(_path(bars), facecolor=palette.CONDUCTOR, edgecolor=palette.PAPER, linewidth=0.4)
    )
    for (x0, y0), (x1, y1) in view.arrows:
        axes.arrow(
            x0, y0, x1 - x0, y1 - y0, length_includes_head=True, color=palette.MAGNET,
            width=0.05 * hypot(x1 - x0, y1 - y0), head_width=0.4 * hypot(x1 - x0, y1 - y0),
        )  # fmt: skip
    scale = width / (view.bounds[1] - view.bounds[0])
    for letter in view.phases:
        axes.text(
            letter.x, letter.y, letter.text.replace(" ", "\n"), ha="center", va="center",
            fontsize=min(9.0, 1.8 * scale * view.letter_size), color=palette.INK, linespacing=0.95,
        )  # fmt: skip
    style(axes, x=f"x [mm], {view.upward} upwards", y="y [mm]")
    axes.set_aspect("equal")
    axes.set_xlim(view.bounds[0] - 2.0, view.bounds[1] + 2.0)
    axes.set_ylim(view.bounds[2] - 2.0, view.bounds[3] + 2.0)
    return figure


def _path(loops: tuple[Outline, ...]) -> Path:
    # Loops keep their direction: holes run clockwise and stay open under the winding rule.
    vertices, codes = [], []
    for loop in loops:
        points = loop.polygon(step=pi / 360.0) * MM
        ring = np.column_stack([-points[:, 1], points[:, 0]])
        vertices.append(np.vstack([ring, ring[:1]]))
        codes += [Path.MOVETO] + [Path.LINETO] * (len(ring) - 1) + [Path.CLOSEPOLY]
    return Path(np.vstack(vertices), codes)
