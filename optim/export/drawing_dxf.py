"""The section as a DXF drawing in millimetres, one layer a part, arcs as true arcs."""

from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from math import atan2, cos, sin
from threading import Lock

from ezdxf import options, units  # type: ignore[attr-defined]  # public by its manual
from ezdxf.document import Drawing
from ezdxf.filemanagement import new

from models.axes import pole_axis
from models.geometry.section import Outline, Region
from models.performance.summary import Performance
from optim.export.outlines import drawn_section, machine_regions, pole_regions, shapes

MM = 1e3
ARROW = 0.9
"""Length of a magnetisation arrow over the size of its magnet."""

LAYERS = {
    # part -> (layer, colour index of the open DXF reference: 8 grey, 9 light grey, ...)
    "stator_core": ("STATOR_SHEET", 8),
    "rotor_core": ("ROTOR_SHEET", 9),
    "slot_conductors": ("SLOT_CONDUCTORS", 30),
    "slot_air": ("SLOT_OPENING", 254),
    "magnet": ("MAGNETS", 190),
    "barrier": ("FLUX_BARRIERS", 253),
    "shaft": ("SHAFT", 252),
    "sleeve": ("SLEEVE", 92),
    "bar": ("CAGE_BARS", 40),
    "rotor_slot_air": ("ROTOR_SLOT_OPENING", 254),
    "air_gap": ("AIR_GAP", 254),
}
ARROWS = "MAGNETISATION"
NOTES = "NOTES"
_META = Lock()


def section_dxf(performance: Performance, *, lines: tuple[str, ...], is_full: bool = False) -> str:
    """Return the section as DXF text.

    Parameters
    ----------
    performance : Performance
        The design.
    lines : tuple of str
        Notes written beside the drawing (origin, conventions).
    is_full : bool
        The whole machine instead of the sector of `drawn_section`.

    Returns
    -------
    str
        ASCII DXF, release R2010, encoding UTF-8. Closed polylines with bulges; counter-clockwise
        ones bound material, clockwise ones are holes of the same layer.
    """
    regions = (
        machine_regions(performance.machine, performance.section)
        if is_full
        else pole_regions(drawn_section(performance.machine))
    )
    with _fixed_dates():
        document = new("R2010", units=units.MM)
        _draw(document, regions)
        _write_notes(document, performance, lines)
        # Left alone, the library lists them in the order of a set, another one in every process.
        for kind in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(kind)
        stream = StringIO()
        document.write(stream)
    return stream.getvalue()


def _draw(document: Drawing, regions: tuple[Region, ...]) -> None:
    space = document.modelspace()
    for shape in shapes(regions):
        layer, colour = LAYERS[shape.part]
        document.layers.add(layer, color=colour)
        for loop in shape.loops:
            space.add_lwpolyline(
                [(x * MM, y * MM, b) for (x, y), b in zip(loop.points, loop.bulges)],
                format="xyb",
                close=True,
                dxfattribs={"layer": layer},
            )
    document.layers.add(ARROWS, color=190)
    for region in regions:
        if region.magnetisation is not None:
            space.add_lwpolyline(
                _arrow_line(*arrow_of(region)), format="xy", dxfattribs={"layer": ARROWS}
            )


def arrow_of(region: Region) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return start and end of a magnet's magnetisation arrow through its centre [mm]."""
    if region.magnetisation is None:
        raise ValueError(f"region {region.name!r} has no magnetisation; only magnets carry arrows")
    x, y = centre(region.outline)
    turn = region.magnetisation_order * atan2(y, x)
    mx, my = region.magnetisation
    dx, dy = cos(turn) * mx - sin(turn) * my, sin(turn) * mx + cos(turn) * my
    along = [px * dx + py * dy for px, py in region.outline.points]
    half = 0.5 * ARROW * (max(along) - min(along))
    return (
        (MM * (x - half * dx), MM * (y - half * dy)),
        (MM * (x + half * dx), MM * (y + half * dy)),
    )


def centre(outline: Outline) -> tuple[float, float]:
    """Return the mean of a loop's corners [m]."""
    n = len(outline.points)
    return sum(x for x, _ in outline.points) / n, sum(y for _, y in outline.points) / n


def _arrow_line(start: tuple[float, float], end: tuple[float, float]) -> list[tuple[float, float]]:
    """Return an arrow as one line: shaft, then both barbs of the head."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    barbs = [
        (end[0] - 0.35 * dx + side * 0.2 * dy, end[1] - 0.35 * dy - side * 0.2 * dx)
        for side in (1.0, -1.0)
    ]
    return [start, end, barbs[0], end, barbs[1]]


def _write_notes(document: Drawing, performance: Performance, lines: tuple[str, ...]) -> None:
    document.layers.add(NOTES, color=8)
    machine = performance.machine
    notes = (
        "Unit: mm. Not a manufacturing drawing: no tolerances, fillets, fits or fixings.",
        "Counter-clockwise loops bound material, clockwise loops are holes of the same layer.",
        f"Stack length {machine.stack_length * MM:.3f} mm, {2 * machine.pole_pairs} poles, "
        f"{machine.stator.slots} slots; rotor {pole_axis(machine.family)} on the x axis.",
        *lines,
    )
    x = 1.08 * machine.stator.outer_radius * MM
    for k, line in enumerate(notes):
        text = document.modelspace().add_text(line, height=2.5, dxfattribs={"layer": NOTES})
        text.set_placement((x, -4.5 * k))


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Leave dates and random ids out, so that one design always gives one file."""
    with _META:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before
