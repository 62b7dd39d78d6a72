"""Outlines of a sector or the whole machine: equal neighbours joined, holes told from islands.

The section comes in pieces (slot pitches, poles) that share straight cuts. A drawing for other
people must not have these cuts: edges that two pieces run through in opposite directions cancel.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import atan, atan2, cos, hypot, pi, sin

from models.cage_rotor import CageRotor
from models.geometry.build import section, sector_section
from models.geometry.cage import bar_pitch_regions
from models.geometry.section import Outline, Point, Region, Section, arc_bulge, arc_centre
from models.geometry.sector import sector_of
from models.geometry.stator import slot_pitch_regions
from models.machine import Machine

GRID = 1e-9
"""Corners nearer than this are one corner [m]: far below any tolerance, far above rounding."""
LARGEST_SWEEP = pi
"""Arcs are joined up to this sweep [rad]: a closed circle keeps two arcs."""


@dataclass(frozen=True)
class Shape:
    """A part of the drawing.

    Attributes
    ----------
    part : str
        Part of `models.geometry.section.Region`.
    loops : tuple of Outline
        Counter-clockwise loops bound material, clockwise ones holes: the signed areas add up to
        the part's area.
    """

    part: str
    loops: tuple[Outline, ...]

    def area(self) -> float:
        """Return the net area [m^2]."""
        return sum(loop.area() for loop in self.loops)


def pole_regions(drawn: Section) -> tuple[Region, ...]:
    """Return the regions of a section, the stator first."""
    return (*drawn.stator, *drawn.rotor)


def drawn_section(machine: Machine) -> Section:
    """Return the section to draw: one pole, or the poles that the winding repeats over.

    A cage's bars need not repeat with them: one pole.
    """
    return section(machine) if isinstance(machine.rotor, CageRotor) else sector_section(machine)


def drawn_poles(machine: Machine) -> str:
    """Return how many poles are drawn: `one pole`, `5 poles`."""
    poles = 1 if isinstance(machine.rotor, CageRotor) else sector_of(machine).poles
    return "one pole" if poles == 1 else f"{poles} poles"


def machine_regions(machine: Machine, one_pole: Section) -> tuple[Region, ...]:
    """Return the regions of the whole machine; every second pole is magnetised inwards."""
    stator = machine.stator
    half_pole = pi / (2 * machine.pole_pairs)
    out = [
        region
        for k in range(stator.slots)
        for region in slot_pitch_regions(
            stator,
            angle=-half_pole + (k + 0.5) * stator.slot_pitch,
            index=k,
            grade=machine.lamination.name,
        )
    ]
    rotor = machine.rotor
    if isinstance(rotor, CageRotor):
        # bars per pole need not be whole: each bar pitch is drawn in its own place
        for k in range(rotor.bars):
            angle = -half_pole + (k + 0.5) * rotor.slot_pitch
            out += bar_pitch_regions(rotor, angle=angle, index=k, grade=machine.lamination.name)
        out += [_turned(r, k, pi / 2.0) for k in range(4) for r in _quarter_shaft(rotor)]
        return tuple(out)
    for pole in range(2 * machine.pole_pairs):
        out += [_turned(region, pole, 2.0 * half_pole) for region in one_pole.rotor]
    return tuple(out)


def _quarter_shaft(rotor: CageRotor) -> tuple[Region]:
    r = rotor.shaft_radius
    outline = Outline(((0.0, 0.0), (r, 0.0), (0.0, r)), (0.0, arc_bulge(0.5 * pi), 0.0))
    return (Region("shaft", "shaft", "shaft", outline),)


def _turned(region: Region, pole: int, pitch: float) -> Region:
    angle, sign = pole * pitch, -1.0 if pole % 2 else 1.0
    arrow = region.magnetisation
    if arrow is not None:
        # a direction that turns with the polar angle has turned by itself
        own = (1.0 - region.magnetisation_order) * angle
        c, s = cos(own), sin(own)
        x, y = sign * arrow[0], sign * arrow[1]
        arrow = (c * x - s * y, s * x + c * y)
    return replace(
        region,
        name=f"{region.name}_{pole}",
        outline=region.outline.transformed(angle),
        holes=tuple(hole.transformed(angle) for hole in region.holes),
        magnetisation=arrow,
    )


def shapes(regions: Iterable[Region]) -> tuple[Shape, ...]:
    """Return the parts with the pieces of each sheet part and of the shaft joined.

    Slots, magnets and barriers stay single loops: each is one piece to buy or to wind.
    """
    by_part: dict[str, list[Outline]] = defaultdict(list)
    for region in regions:
        by_part[region.part].append(region.outline)
        by_part[region.part] += [reverse(hole) for hole in region.holes]
    return tuple(
        Shape(part, joined(loops) if part in _JOINED else tuple(loops))
        for part, loops in by_part.items()
    )


_JOINED = ("stator_core", "rotor_core", "shaft", "sleeve")


def reverse(outline: Outline) -> Outline:
    """Return the loop run through the other way."""
    points, bulges, n = outline.points, outline.bulges, len(outline.points)
    return Outline(tuple(reversed(points)), tuple(-bulges[(n - 2 - k) % n] for k in range(n)))


_Key = tuple[int, int]
_Edge = tuple[Point, Point, float]


def joined(loops: Iterable[Outline]) -> tuple[Outline, ...]:
    """Return loops without the edges that two of them share in opposite directions.

    Parameters
    ----------
    loops : iterable of Outline
        Loops that touch along whole edges or not at all; counter-clockwise, holes clockwise.

    Returns
    -------
    tuple of Outline
        The signed areas add up to those of the given loops. Straight edges in line and arcs of
        one circle are merged, arcs up to half a turn.
    """
    edges: dict[tuple[_Key, _Key, int], _Edge] = {}
    for loop in loops:
        n = len(loop.points)
        for k, start in enumerate(loop.points):
            end, bulge = loop.points[(k + 1) % n], loop.bulges[k]
            turn = round(bulge / GRID)
            back = (_key(end), _key(start), -turn)
            if back in edges:
                del edges[back]
            else:
                edges[(_key(start), _key(end), turn)] = (start, end, bulge)
    leaving: dict[_Key, list[_Edge]] = defaultdict(list)
    for edge in edges.values():
        leaving[_key(edge[0])].append(edge)
    out = []
    while leaving:
        first = next(iter(leaving))
        chain: list[_Edge] = []
        at = first
        while not chain or at != first:
            # Where loops touch in a point, the sharpest left turn keeps them apart.
            options = leaving[at]
            edge = min(options, key=lambda e: _right_turn(chain[-1], e)) if chain else options[0]
            options.remove(edge)
            if not options:
                del leaving[at]
            chain.append(edge)
            at = _key(edge[1])
        out.append(_outline(_merged(chain)))
    return tuple(out)


def _key(point: Point) -> _Key:
    return round(point[0] / GRID), round(point[1] / GRID)


def _direction(edge: _Edge, *, at_end: bool) -> float:
    (x0, y0), (x1, y1), bulge = edge
    half_sweep = 2.0 * atan(bulge)
    return atan2(y1 - y0, x1 - x0) + (half_sweep if at_end else -half_sweep)


def _right_turn(before: _Edge, after: _Edge) -> float:
    turn = _direction(after, at_end=False) - _direction(before, at_end=True)
    return -((turn + pi) % (2.0 * pi) - pi)


def _merged(chain: list[_Edge]) -> list[_Edge]:
    """Join consecutive edges that are one line or one arc."""
    out: list[_Edge] = []
    for edge in chain:
        both = _one(out[-1], edge) if out else None
        if both is None:
            out.append(edge)
        else:
            out[-1] = both
    if len(out) > 2:
        both = _one(out[-1], out[0])
        if both is not None:
            out = [both, *out[1:-1]]
    return out


def _one(a: _Edge, b: _Edge) -> _Edge | None:
    (start, middle, bulge_a), (_, end, bulge_b) = a, b
    if (bulge_a == 0.0) != (bulge_b == 0.0) or bulge_a * bulge_b < 0.0:
        return None
    if bulge_a == 0.0:
        (x0, y0), (x1, y1), (x2, y2) = start, middle, end
        first, second = (x1 - x0, y1 - y0), (x2 - x1, y2 - y1)
        cross = first[0] * second[1] - first[1] * second[0]
        along = first[0] * second[0] + first[1] * second[1]
        is_line = along > 0.0 and abs(cross) < GRID * hypot(x2 - x0, y2 - y0)
        return (start, end, 0.0) if is_line else None
    centre_a, centre_b = arc_centre(start, middle, bulge_a), arc_centre(middle, end, bulge_b)
    sweep = 4.0 * (atan(bulge_a) + atan(bulge_b))
    apart = hypot(centre_a[0] - centre_b[0], centre_a[1] - centre_b[1])
    if apart > 100.0 * GRID or abs(sweep) > LARGEST_SWEEP + 1e-9:
        return None
    return start, end, arc_bulge(sweep)


def _outline(chain: list[_Edge]) -> Outline:
    return Outline(tuple(e[0] for e in chain), tuple(e[2] for e in chain))
