"""Flux density and flux lines over a pole pair at one operating point."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, degrees, hypot, pi
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Wedge
from matplotlib.path import Path
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from models.axes import published
from models.field.boundary import turned
from models.field.picture import FieldPicture, SidePicture, field_picture
from models.geometry.build import sector_section
from models.geometry.section import Region, Section, arc_points
from models.performance.summary import Performance
from optim.export import palette
from optim.export.plots.even_map import even_map
from optim.export.plots.figure import NORMAL, SMALL, new_figure, style

Array = NDArray[np.float64]

MM = 1e3
LINES = 26
"""Flux lines between lowest and highest potential, half a step from both and from zero: there the
field vanishes over whole areas, where a line would wander."""
_UP = 0.5 * pi
FLUX_COLOURS = even_map(
    (palette.PAPER, palette.CONDUCTOR_LIGHT, palette.CONDUCTOR, palette.MAGNET, "#1e1230")
)


@dataclass(frozen=True, eq=False)
class FluxPicture:
    """A field and the section it is of."""

    field: FieldPicture
    section: Section
    family: str


def flux_picture_data(performance: Performance) -> FluxPicture:
    """Return the field at peak current and most torque per ampere, magnets at rated temperature."""
    _, i_d, i_q = performance.drive.table.mtpa[:, -1]
    return FluxPicture(
        field_picture(
            performance.machine, i_d=float(i_d), i_q=float(i_q),
            magnet_temperature=performance.duty.temperatures.magnet_rated,
        ),
        sector_section(performance.machine),
        performance.machine.family,
    )  # fmt: skip


def draw_flux_picture(
    data: FluxPicture, *, footer: str, width: float = 150.0, height: float = 108.0
) -> Figure:
    """Draw a pole pair, or a sector of more poles: magnitude of B as colour, flux lines, parts."""
    field, section = data.field, data.section
    figure = new_figure(width, height, footer=footer)
    axes = figure.subplots()
    outer = MM * float(np.hypot(*field.stator.points.T).max())
    inner = MM * float(np.hypot(*field.rotor.points.T).min())
    view = _view(field)
    half_view = 0.5 * (view[1] - view[0]) * field.poles * field.pole_pitch
    window = Wedge((0.0, 0.0), outer, 90.0 - degrees(half_view), 90.0 + degrees(half_view),
                   width=outer - inner, transform=axes.transData)  # fmt: skip
    top = _top(field)
    levels = _levels(field)
    shade = None
    for side, place in ((field.rotor, field.rotor_place), (field.stator, 0.0)):
        for k in _copies_in_view(place, field):
            shade = _draw_side(axes, side, k, field, levels=levels, top=top, window=window)
    for regions, place in ((section.rotor, field.rotor_place), (section.stator, 0.0)):
        borders = _borders([r for r in regions if r.part != "shaft"])
        for k in _copies_in_view(place, field):
            angle = _angle(k, field) + place
            patch = PathPatch(_path(borders, angle), facecolor="none", edgecolor=palette.INK,
                              linewidth=0.5)  # fmt: skip
            axes.add_patch(patch)
            patch.set_clip_path(window)
    style(axes, x="x [mm]", y="y [mm]")
    axes.grid(visible=False)
    axes.set_aspect("equal")
    reach = outer * np.sin(min(half_view, _UP))
    lowest = (inner if half_view < _UP else outer) * np.cos(min(half_view, pi))
    axes.set_xlim(-reach - 2.0, reach + 2.0)
    axes.set_ylim(lowest - 2.0, outer + 2.0)
    if shade is not None:
        bar = figure.colorbar(
            shade,
            ax=axes,
            pad=0.02,
            extend="max",
            shrink=0.9,
            ticks=np.arange(0.0, top + 0.01, 0.4),
        )
        bar.set_label("Flux density, magnitude [T]", fontsize=SMALL + 1.0, color=palette.INK)
        bar.ax.tick_params(labelsize=SMALL, colors=palette.INK, length=2.0)
        bar.outline.set_linewidth(0.4)
    axes.set_title(_caption(data, levels), fontsize=NORMAL - 0.5, color=palette.INK, loc="left")
    return figure


def _caption(data: FluxPicture, levels: Array) -> str:
    field = data.field
    between = 1e3 * (levels[1] - levels[0])
    # Adding zero turns a rounded minus zero into zero.
    currents = published(data.family, field.i_d, field.i_q)
    i_d, i_q, torque = (round(x) + 0 for x in (*currents, field.torque))
    return (
        f"$i_d$ = {i_d} A, $i_q$ = {i_q} A, magnets at {field.magnet_temperature:g} °C, "
        f"{torque} N·m at this position\n"
        f"{between:.2g} mWb per metre of length between flux lines"
    )


def _top(field: FieldPicture) -> float:
    """Return the end of the colour scale [T]: 0.2 T above nearly all of the area."""
    values = np.concatenate((field.rotor.flux_density, field.stator.flux_density))
    return 0.2 * ceil(float(np.quantile(values, 0.99)) / 0.2)


def _levels(field: FieldPicture) -> Array:
    """Return the potentials of the flux lines [Wb/m], rising."""
    highest = max(float(np.abs(s.potential).max()) for s in (field.rotor, field.stator))
    step = 2.0 * highest / LINES
    return np.asarray(step * (np.arange(LINES) - 0.5 * (LINES - 1)), dtype=float)


def _view(field: FieldPicture) -> tuple[float, float]:
    """Return what is seen, in sectors: two of one pole, or one of several."""
    return (-0.5, 1.5) if field.poles == 1 else (-0.5, 0.5)


def _angle(k: int, field: FieldPicture) -> float:
    """Return by how much copy k of the sector is turned, the middle of the view upright [rad]."""
    low, high = _view(field)
    return _UP + (k - 0.5 * (low + high)) * field.poles * field.pole_pitch


def _copies_in_view(place: float, field: FieldPicture) -> range:
    """Return which neighbours of a sector reach into the view."""
    # Copy k covers place + (k - 1/2 .. k + 1/2) sectors.
    low, high = _view(field)
    turned_by = place / (field.poles * field.pole_pitch)
    first = ceil(low - 0.5 - turned_by + 1e-9)
    return range(first, int(np.floor(high + 0.5 - turned_by - 1e-9)) + 1)


def _draw_side(
    axes: Axes, side: SidePicture, k: int, field: FieldPicture, *, levels: Array, top: float,
    window: Wedge,
) -> Any:  # fmt: skip
    angle = _angle(k, field)
    sign = -1.0 if k * field.poles % 2 else 1.0
    x, y = MM * turned(side.shade_points, angle).T
    shade = axes.tripcolor(
        Triangulation(x, y, side.shade_triangles), side.flux_density, shading="gouraud",
        cmap=FLUX_COLOURS, vmin=0.0, vmax=top,
    )  # fmt: skip
    # Thousands of triangles: as an image they take a tenth of the space in vector files.
    shade.set_rasterized(True)
    shade.set_clip_path(window)
    x, y = MM * turned(side.points, angle).T
    lines = axes.tricontour(
        Triangulation(x, y, side.triangles), sign * side.potential, levels=levels,
        colors=palette.INK, linewidths=0.35, linestyles="solid",
    )  # fmt: skip
    lines.set_clip_path(window)
    return shade


def _borders(regions: Sequence[Region]) -> list[Array]:
    """Return the borders of parts as lines [mm], without the radial cuts between equal pieces."""
    lines = []
    for region in regions:
        for outline in (region.outline, *region.holes):
            n = len(outline.points)
            for k, (start, bulge) in enumerate(zip(outline.points, outline.bulges)):
                end = outline.points[(k + 1) % n]
                across = start[0] * end[1] - start[1] * end[0]
                is_cut = abs(across) < 1e-9 * hypot(*start) * hypot(*end)
                if is_cut and bulge == 0.0 and region.part in ("stator_core", "rotor_core"):
                    continue
                between = arc_points(start, end, bulge, pi / 360.0) if bulge else []
                lines.append(MM * np.array([start, *between, end]))
    return lines


def _path(lines: Sequence[Array], angle: float) -> Path:
    vertices = np.vstack([turned(line, angle) for line in lines])
    codes = [c for line in lines for c in (Path.MOVETO, *[Path.LINETO] * (len(line) - 1))]
    return Path(vertices, codes)
