"""The look all plots share, and figures as SVG or PNG without any global plotting state."""

import re
from collections.abc import Sequence
from io import BytesIO, StringIO
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from optim.export import palette

_MM = 1.0 / 25.4
SMALL = 7.5
"""Font size of ticks, legends and notes [pt]."""
NORMAL = 8.5
"""Font size of axis labels [pt]."""


def new_figure(width: float, height: float, *, footer: str = "") -> Figure:
    """Return an empty figure of a width and height [mm] with a line at its foot."""
    figure = Figure(figsize=(width * _MM, height * _MM), layout="constrained")
    figure.set_facecolor(palette.PAPER)
    if footer:
        figure.supxlabel(footer, fontsize=6.5, color=palette.SOFT_INK, x=0.012, ha="left")
    return figure


def style(axes: Axes, *, x: str, y: str) -> None:
    """Give axes their labels (with units) and the common look."""
    axes.set_facecolor(palette.PAPER)
    axes.set_xlabel(x, fontsize=NORMAL, color=palette.INK)
    axes.set_ylabel(y, fontsize=NORMAL, color=palette.INK)
    axes.tick_params(labelsize=SMALL, colors=palette.INK, length=3.0, width=0.6)
    axes.grid(visible=True, color=palette.GRID, linewidth=0.5)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(palette.SOFT_INK)
        axes.spines[side].set_linewidth(0.6)


def top_legend(figure: Figure, axes: Axes, *, columns: int = 5, marker_scale: float = 1.0) -> None:
    """Put the legend of axes above the figure, clear of everything drawn."""
    handles, words = axes.get_legend_handles_labels()
    figure.legend(
        handles, words, loc="outside upper left", ncols=columns, fontsize=SMALL, frameon=False,
        labelcolor=palette.INK, markerscale=marker_scale, columnspacing=1.0,
        handlelength=1.5, handletextpad=0.5,
        borderaxespad=0.2,
    )  # fmt: skip


def svg_text(figure: Figure, *, name: str, is_page_part: bool = False) -> str:
    """Return a figure as SVG text.

    Parameters
    ----------
    figure : Figure
        The figure.
    name : str
        Makes the ids inside unlike those of other figures on the same page.
    is_page_part : bool
        For inlining in a page: no XML head, no background, colours follow the page.
    """
    stream = StringIO()
    FigureCanvasSVG(figure)
    # The settings are read while the figure is written and put back afterwards.
    with matplotlib.rc_context({"svg.hashsalt": name, "svg.fonttype": "path"}):
        figure.savefig(
            stream, format="svg", dpi=200, transparent=is_page_part,
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
        )  # fmt: skip
    text = stream.getvalue()
    if not is_page_part:
        return text
    text = text[text.index("<svg") :]
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'href="#', f'href="#{name}-', text)
    text = text.replace("url(#", f"url(#{name}-")
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    return palette.with_page_colours(text)


def png_bytes(figure: Figure, *, dots_per_inch: float = 200.0) -> bytes:
    """Return a figure as PNG."""
    stream = BytesIO()
    FigureCanvasAgg(figure)
    figure.savefig(stream, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return stream.getvalue()


def strokes(axes: Axes, x: Any, rows: Sequence[tuple[Any, str, str, str]]) -> None:
    """Draw lines given as (y, label, colour, dash) over one x."""
    for y, label, colour, dash in rows:
        axes.plot(x, y, color=colour, linestyle=dash, linewidth=1.5, label=label)
