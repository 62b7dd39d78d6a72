"""What a picture of the section shows: parts, conductors, arrows, phase letters, dimensions."""

from dataclasses import dataclass
from math import cos, pi, sin

from models.axes import pole_axis
from models.geometry.section import Outline, Point
from models.geometry.stator import tooth_width
from models.performance.summary import Performance
from optim.export.drawing_dxf import arrow_of
from optim.export.families import NOTES
from optim.export.outlines import Shape, drawn_section, pole_regions, shapes

MM = 1e3
PHASES = ("U", "V", "W")
"""Phase letters of IEC 60034-8."""


@dataclass(frozen=True)
class Letter:
    """A text at a place [mm]."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Dimension:
    """A dimension.

    Attributes
    ----------
    letter, name, text : str
        Letter that marks its place (empty for the whole machine), what it is, and its value.
    place : (x, y) or None
        Where it is [mm], d axis upwards.
    away : (x, y)
        From there to the letter [mm].
    """

    letter: str
    name: str
    text: str
    place: Point | None = None
    away: Point = (0.0, 0.0)


@dataclass(frozen=True)
class SectionView:
    """One pole with its d axis upwards, or a sector of poles. Lengths in mm.

    Attributes
    ----------
    parts : tuple of Shape
        Joined parts [m], d axis on the x axis as in the section.
    conductors : tuple of Outline
        Bare rectangular conductors [m]; empty for round strands.
    arrows : tuple of (start, end)
        Magnetisation [mm], d axis upwards.
    phases : tuple of Letter
        Phase and sign of each slot [mm], d axis upwards.
    dimensions : tuple of Dimension
        Marked dimensions [mm], d axis upwards.
    letter_size : float
        Height of the phase letters that fits a slot pitch [mm].
    bounds : tuple of 4 float
        x_min, x_max, y_min, y_max [mm], d axis upwards.
    upward : str
        Name of the pole axis in the family's published axes, or of what is upwards instead.
    """

    parts: tuple[Shape, ...]
    conductors: tuple[Outline, ...]
    arrows: tuple[tuple[Point, Point], ...]
    phases: tuple[Letter, ...]
    dimensions: tuple[Dimension, ...]
    letter_size: float
    bounds: tuple[float, float, float, float]
    upward: str = "d axis"


def upright(x: float, y: float) -> Point:
    """Return a point with the d axis turned from the x axis upwards."""
    return -y, x


def section_view(performance: Performance) -> SectionView:
    """Return what a picture of the section shows."""
    machine, section = performance.machine, drawn_section(performance.machine)
    stator = machine.stator
    regions = pole_regions(section)
    parts = shapes(regions)
    corners = [
        upright(MM * float(x), MM * float(y))
        for part in parts
        for loop in part.loops
        for x, y in loop.polygon(step=pi / 36.0)
    ]
    pitch = 2.0 * pi * stator.slot_bottom_radius / stator.slots
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    return SectionView(
        upward=pole_axis(machine.family) if section.poles % 2 else "pole boundary",
        parts=parts,
        conductors=_conductors(performance),
        arrows=tuple(
            (upright(*start), upright(*end))
            for start, end in (arrow_of(r) for r in regions if r.magnetisation is not None)
        ),
        phases=_phases(performance),
        dimensions=_dimensions(performance),
        letter_size=min(
            max(3.4, 0.023 * (right - left)), 0.36 * pitch * MM, 0.3 * stator.yoke_height * MM
        ),
        bounds=(
            left,
            right,
            min(y for _, y in corners),
            max(y for _, y in corners),
        ),
    )


def _slot_angles(performance: Performance) -> list[float]:
    stator, section = performance.machine.stator, drawn_section(performance.machine)
    count = sum(r.part == "stator_core" for r in section.stator)
    return [-section.half_angle + (k + 0.5) * stator.slot_pitch for k in range(count)]


def _conductors(performance: Performance) -> tuple[Outline, ...]:
    machine = performance.machine
    stator, winding = machine.stator, machine.winding
    if not winding.is_rectangular:
        return ()
    liner = float(machine.parameters["liner_thickness"])
    step = (stator.body_height - 2.0 * liner) / winding.conductors_per_slot
    b, h = 0.5 * winding.conductor_width, 0.5 * winding.conductor_height
    out = []
    for angle in _slot_angles(performance):
        for k in range(winding.conductors_per_slot):
            r = stator.body_inner_radius + liner + (k + 0.5) * step
            bar = Outline(((r - h, -b), (r + h, -b), (r + h, b), (r - h, b)), (0.0,) * 4)
            out.append(bar.transformed(angle))
    return tuple(out)


def _phases(performance: Performance) -> tuple[Letter, ...]:
    machine = performance.machine
    stator = machine.stator
    radius = MM * (stator.slot_bottom_radius + 0.4 * stator.yoke_height)
    out = []
    for k, angle in enumerate(_slot_angles(performance)):
        texts = []
        for name, shares in zip(PHASES, machine.winding.slot_phases):
            share = shares[k % stator.slots]
            if share:
                texts.append(f"{'+' if share > 0.0 else '−'}{name}")
        x, y = upright(radius * cos(angle), radius * sin(angle))
        out.append(Letter(x, y, " ".join(texts)))
    return tuple(out)


def _dimensions(performance: Performance) -> tuple[Dimension, ...]:
    machine = performance.machine
    stator, rotor, section = machine.stator, machine.rotor, drawn_section(performance.machine)
    angles = _slot_angles(performance)

    def at(radius: float, angle: float) -> Point:
        return upright(MM * radius * cos(angle), MM * radius * sin(angle))

    def mm(value: float) -> str:
        return f"{MM * value:.2f} mm"

    # Letters stand clear of small parts by a share of the machine's size.
    unit = 0.06 * MM * stator.outer_radius

    def off(x: float, y: float) -> Point:
        return unit * x, unit * y

    middle_slot = angles[len(angles) // 2]
    tooth_angle = middle_slot + 0.5 * stator.slot_pitch
    # the slot before the last, unless that is the one on the axis, where the gap is marked
    opening = angles[-2] if len(angles) > 3 else angles[-1]
    body = stator.body_inner_radius + 0.5 * stator.body_height
    edge = -0.86 * section.half_angle
    c, s = cos(section.north_axis), sin(section.north_axis)

    def on_north(x: float, y: float) -> Point:
        return upright(c * x - s * y, s * x + c * y)

    rotor_dimensions = [
        Dimension(m.letter, m.name, m.text, m.place and on_north(*m.place), off(*m.shift))
        for m in NOTES[machine.family].marks(machine)
    ]
    return (
        Dimension("A", "stator outer diameter", mm(2.0 * stator.outer_radius),
                  at(stator.outer_radius, edge)),
        Dimension("B", "stator bore", mm(2.0 * stator.bore_radius), at(stator.bore_radius, edge),
                  off(1.2, -0.4)),
        Dimension("C", "air gap", mm(machine.air_gap),
                  at(0.5 * (section.bore_radius + section.rotor_radius), 0.0), off(0.0, -1.0)),
        Dimension("D", "slot depth", mm(stator.slot_depth),
                  at(stator.slot_bottom_radius - 0.12 * stator.body_height, angles[0])),
        Dimension("E", "slot width", mm(stator.slot_width_inner), at(body, angles[1])),
        Dimension("F", "slot opening", mm(stator.slot_opening),
                  at(stator.bore_radius + 0.5 * stator.tip_height, opening), off(0.4, -1.0)),
        Dimension("G", "tooth width", mm(tooth_width(stator, body)), at(body, tooth_angle)),
        *rotor_dimensions,
        Dimension("L", "shaft diameter", mm(2.0 * rotor.shaft_radius),
                  at(rotor.shaft_radius, 0.0)),
        Dimension("", "stack length", mm(machine.stack_length)),
        Dimension("", "slots / poles", f"{stator.slots} / {2 * machine.pole_pairs}"),
        Dimension("", "conductors per slot", f"{machine.winding.conductors_per_slot}"),
    )  # fmt: skip
