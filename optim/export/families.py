"""What drawings and bills say of each family's rotor: the one table the exports read."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import cos, degrees, sin

from models.cage_rotor import CageRotor
from models.duty import Duty
from models.machine import InteriorRotor, LayeredRotor, Machine, rotor_as
from models.performance.families import rotor_temperatures
from models.surface_rotor import SurfaceRotor

MM = 1e3
Point = tuple[float, float]


@dataclass(frozen=True)
class Mark:
    """A dimension of the rotor.

    Attributes
    ----------
    letter, name, text : str
        Letter that marks its place (empty: listed only), what it is, its value.
    place : (x, y) or None
        Where it is [mm], d axis along x.
    shift : (x, y)
        From there to the letter in parts of the usual distance, d axis upwards.
    """

    letter: str
    name: str
    text: str
    place: Point | None = None
    shift: Point = (0.0, 0.0)


@dataclass(frozen=True)
class RotorNotes:
    """Words about a family's rotor.

    Attributes
    ----------
    marks : callable
        Dimensions to mark in the drawing; letters from H on are the rotor's.
    block : callable
        Size of one magnet piece, or an empty text without magnets.
    """

    marks: Callable[[Machine], tuple[Mark, ...]]
    block: Callable[[Machine], str]


def _mm(value: float) -> str:
    return f"{MM * value:.2f} mm"


def interior_marks(machine: Machine) -> tuple[Mark, ...]:
    """Return the dimensions of a rotor with buried magnets."""
    if isinstance(machine.rotor, LayeredRotor):
        inner = machine.rotor.barriers[-1]
        return (
            *layered_marks(machine),
            Mark("", "angle of the inner V", f"{degrees(2.0 * inner.leg_angle):.1f}°"),
        )
    rotor = rotor_as(machine, InteriorRotor)
    # a quarter of the way out from the inner end, clear of the arrow
    weights = (0.4, 0.1, 0.1, 0.4)
    x, y = (sum(w * c[i] for w, c in zip(weights, rotor.magnet_corners)) for i in (0, 1))
    bridge = -0.5 * (rotor.barrier_near_angle + rotor.barrier_far_angle)
    radius = rotor.outer_radius - 0.5 * rotor.bridge_thickness
    rib_x = 0.5 * (rotor.pocket_inner[0][0] + rotor.pocket_inner[1][0])
    radius *= MM
    return (
        Mark("H", "magnet thickness", _mm(rotor.magnet_thickness), (MM * x, MM * y), (-0.3, -1.6)),
        Mark("", "magnet width", _mm(rotor.magnet_width)),
        Mark("I", "bridge", _mm(rotor.bridge_thickness),
             (radius * cos(bridge), radius * sin(bridge)), (0.0, -2.0)),
        Mark("K", "rib", _mm(rotor.rib_width), (MM * rib_x, 0.0), (0.0, -1.3)),
        Mark("", "angle of the V", f"{degrees(2.0 * rotor.leg_angle):.1f}°"),
    )  # fmt: skip


def interior_block(machine: Machine) -> str:
    """Return width x thickness x length of one buried magnet piece."""
    if isinstance(machine.rotor, LayeredRotor):
        return layered_blocks(machine)
    rotor = rotor_as(machine, InteriorRotor)
    return (
        f"{1e3 * rotor.magnet_width / rotor.magnet_width_segments:.2f} x "
        f"{1e3 * rotor.magnet_thickness:.2f} x "
        f"{1e3 * machine.stack_length / rotor.magnet_axial_segments:.2f} mm"
    )


def surface_marks(machine: Machine) -> tuple[Mark, ...]:
    """Return the dimensions of a rotor with magnets on its surface."""
    rotor = rotor_as(machine, SurfaceRotor)
    middle = 0.5 * (rotor.base_radius + rotor.magnet_radius)
    tilt, edge = 0.5 * rotor.arc_half_angle, rotor.arc_half_angle
    marks = [
        Mark("H", "magnet thickness", _mm(rotor.magnet_thickness),
             (MM * middle * cos(tilt), MM * middle * sin(tilt)), (-0.3, -1.6)),
        Mark("I", "magnet arc", f"{degrees(2.0 * edge):.2f}°",
             (MM * middle * cos(edge), MM * middle * sin(edge)), (0.0, -2.0)),
        Mark("", "magnetisation", "radial" if rotor.is_radial else "parallel to the pole axis"),
        Mark("", "magnet pieces around the arc", str(rotor.magnet_width_segments)),
        Mark("", "iron between magnets above their base",
             _mm(rotor.core_radius - rotor.base_radius)),
    ]  # fmt: skip
    if rotor.sleeve_thickness > 0.0:
        radius = MM * (rotor.magnet_radius + 0.5 * rotor.sleeve_thickness)
        text = f"{rotor.sleeve_material} sleeve"
        marks.append(
            Mark("K", text, _mm(rotor.sleeve_thickness),
                 (radius * cos(tilt), -radius * sin(tilt)), (0.0, -2.4))
        )  # fmt: skip
    return tuple(marks)


def surface_block(machine: Machine) -> str:
    """Return arc length x thickness x length of one surface magnet piece."""
    rotor = rotor_as(machine, SurfaceRotor)
    return (
        f"{1e3 * rotor.arc_length / rotor.magnet_width_segments:.2f} (arc) x "
        f"{1e3 * rotor.magnet_thickness:.2f} x "
        f"{1e3 * machine.stack_length / rotor.magnet_axial_segments:.2f} mm"
    )


def layered_marks(machine: Machine) -> tuple[Mark, ...]:
    """Return the dimensions of a rotor with layers of barriers; number 1 is next to the gap."""
    rotor = rotor_as(machine, LayeredRotor)
    deepest = rotor.barriers[-1]
    middle = -0.5 * (deepest.near_angle + deepest.far_angle)
    radius = MM * (rotor.outer_radius - 0.5 * deepest.bridge_thickness)
    out = [
        Mark("I", "bridge", _mm(deepest.bridge_thickness),
             (radius * cos(middle), radius * sin(middle)), (0.0, -2.0)),
    ]  # fmt: skip
    for number, (letter, b) in enumerate(zip("KLMN", rotor.barriers), 1):
        x = 0.5 * MM * (b.gap_face[0][0] + b.shaft_face[0][0])
        out.append(Mark(letter, f"rib of barrier {number}", _mm(b.rib_width), (x, 0.0), (0.9, 0.0)))
        out.append(Mark("", f"thickness of barrier {number}", _mm(b.thickness)))
        if b.has_magnet:
            text = f"{MM * b.magnet_width:.2f} x {MM * b.magnet_thickness:.2f} mm"
            out.append(Mark("", f"magnet of barrier {number}, half", text))
    return tuple(out)


def layered_blocks(machine: Machine) -> str:
    """Return width x thickness x length of the pieces of every barrier's magnets."""
    rotor = rotor_as(machine, LayeredRotor)
    length = MM * machine.stack_length / rotor.magnet_axial_segments
    sizes = [
        f"{MM * b.magnet_width / rotor.magnet_width_segments:.2f} x "
        f"{MM * b.magnet_thickness:.2f} x {length:.2f} mm"
        for b in rotor.magnet_barriers
    ]
    return " and ".join(sizes)


def cage_marks(machine: Machine) -> tuple[Mark, ...]:
    """Return the dimensions of a rotor with a cage, marked at the bar nearest the d axis."""
    rotor = rotor_as(machine, CageRotor)
    width = 2.0 * rotor.top_radius
    per_pole = rotor.bars / (2 * machine.pole_pairs)
    first = -0.5 * rotor.slot_pitch * per_pole
    angle = first + (int(0.5 * per_pole) + 0.5) * rotor.slot_pitch
    top, middle = MM * rotor.outer_radius, MM * 0.5 * (rotor.bar_top + rotor.bar_bottom)
    slot = "closed" if rotor.opening_width == 0.0 else _mm(rotor.opening_width)
    return (
        Mark("H", f"bar, {rotor.bar_shape}", f"{MM * width:.2f} x {MM * rotor.bar_height:.2f} mm",
             (middle * cos(angle), middle * sin(angle)), (0.0, -1.6)),
        Mark("I", "slot opening", slot, (top * cos(angle), top * sin(angle)), (0.0, 1.6)),
        Mark("", "bridge" if rotor.opening_width == 0.0 else "opening height",
             _mm(rotor.opening_height)),
        Mark("", "bars", f"{rotor.bars} of {rotor.material.name}"),
        Mark("", "end ring", f"{MM * rotor.ring_width:.2f} x {MM * rotor.ring_height:.2f} mm"),
        Mark("", "skew", f"{degrees(rotor.skew):.2f}°"),
    )  # fmt: skip


def no_block(machine: Machine) -> str:
    """Return nothing: there are no magnets."""
    del machine
    return ""


NOTES: Mapping[str, RotorNotes] = {
    "cage": RotorNotes(cage_marks, no_block),
    "interior": RotorNotes(interior_marks, interior_block),
    "reluctance": RotorNotes(layered_marks, layered_blocks),
    "surface": RotorNotes(surface_marks, surface_block),
}


def carried(machine: Machine) -> str:
    """Return what a rotor carries, in words: `magnets` or `cage`."""
    return "cage" if isinstance(machine.rotor, CageRotor) else "magnets"


def carried_temperature(machine: Machine, duty: Duty) -> str:
    """Return what a rotor carries and its rated temperature: `magnets 90`."""
    return f"{carried(machine)} {rotor_temperatures(machine, duty)[0]:g}"
