"""The cross-section as data: regions bounded by straight lines and arcs.

Drawing (SVG, DXF), areas and masses, and the field model's mesh all start here.
"""

from dataclasses import dataclass, replace
from math import atan, cos, hypot, pi, sin, tan

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]


@dataclass(frozen=True)
class Outline:
    """A closed, simple loop of straight lines and circular arcs, counter-clockwise.

    Attributes
    ----------
    points : tuple of (x, y)
        Corners [m]; the last joins the first.
    bulges : tuple of float
        One per corner, for the edge that leaves it: 0 is a straight line, otherwise
        tan(swept angle / 4), positive to the left (counter-clockwise arc), as in the open DXF
        polyline definition.
    """

    points: tuple[Point, ...]
    bulges: tuple[float, ...]

    def area(self) -> float:
        """Return the exact enclosed area [m^2], positive for counter-clockwise loops."""
        total = 0.0
        n = len(self.points)
        for k, ((x0, y0), b) in enumerate(zip(self.points, self.bulges)):
            x1, y1 = self.points[(k + 1) % n]
            total += 0.5 * (x0 * y1 - x1 * y0)
            if b:
                sweep = 4.0 * atan(b)
                radius = hypot(x1 - x0, y1 - y0) / (2.0 * sin(abs(sweep) / 2.0))
                segment = 0.5 * radius**2 * (abs(sweep) - sin(abs(sweep)))
                total += segment if b > 0 else -segment
        return total

    def polygon(self, step: float = pi / 180.0) -> Array:
        """Return the loop as a polygon, shape (n, 2) [m], arcs cut into pieces of at most
        `step` [rad]."""
        out: list[Point] = []
        n = len(self.points)
        for k, ((x0, y0), b) in enumerate(zip(self.points, self.bulges)):
            out.append((x0, y0))
            if b:
                x1, y1 = self.points[(k + 1) % n]
                out.extend(arc_points((x0, y0), (x1, y1), b, step))
        return np.array(out)

    def transformed(self, angle: float = 0.0, mirror: bool = False) -> "Outline":
        """Return the loop mirrored at the x axis (if asked), then turned by `angle` [rad]."""
        pts, bulges = self.points, self.bulges
        if mirror:
            # mirrored loops run clockwise: reverse to stay counter-clockwise
            pts = tuple((x, -y) for x, y in reversed(pts))
            n = len(bulges)
            bulges = tuple(bulges[(n - 2 - k) % n] for k in range(n))
        c, s = cos(angle), sin(angle)
        return Outline(tuple((c * x - s * y, s * x + c * y) for x, y in pts), bulges)


def arc_points(start: Point, end: Point, bulge: float, step: float) -> list[Point]:
    """Return the interior points of an arc cut into equal pieces of at most `step` [rad]."""
    sweep = 4.0 * atan(bulge)
    pieces = max(1, int(np.ceil(abs(sweep) / step - 1e-9)))
    cx, cy = arc_centre(start, end, bulge)
    x0, y0 = start[0] - cx, start[1] - cy
    out = []
    for k in range(1, pieces):
        a = sweep * k / pieces
        out.append((cx + cos(a) * x0 - sin(a) * y0, cy + sin(a) * x0 + cos(a) * y0))
    return out


def arc_centre(start: Point, end: Point, bulge: float) -> Point:
    """Return the centre of the arc that leaves `start` for `end` with this bulge."""
    (x0, y0), (x1, y1) = start, end
    h = (1.0 - bulge**2) / (4.0 * bulge)
    return (0.5 * (x0 + x1) - h * (y1 - y0), 0.5 * (y0 + y1) + h * (x1 - x0))


def arc_bulge(sweep: float) -> float:
    """Return the bulge of an arc that sweeps this angle [rad]."""
    return tan(sweep / 4.0)


@dataclass(frozen=True)
class Region:
    """One part of the section.

    Attributes
    ----------
    name : str
        Unique name within the section (`magnet_upper`, `slot_3_conductors`).
    part : str
        `stator_core`, `rotor_core`, `slot_conductors`, `slot_air`, `magnet`, `barrier`,
        `air_gap`, `shaft`, `sleeve`.
    material : str
        Grade name, or `air`, `conductor`, `shaft`.
    outline : Outline
        Outer loop.
    holes : tuple of Outline
        Loops cut out of it (each counter-clockwise itself).
    magnetisation : tuple of 2 float or None
        Unit vector of a magnet's magnetisation in section axes.
    magnetisation_order : float
        The direction turns by this multiple of the polar angle: 0 parallel, 1 radial.
    slot : int or None
        Slot index of a slot region.
    """

    name: str
    part: str
    material: str
    outline: Outline
    holes: tuple[Outline, ...] = ()
    magnetisation: tuple[float, float] | None = None
    slot: int | None = None
    magnetisation_order: float = 0.0

    def turned(self, angle: float, *, is_opposite: bool = False) -> "Region":
        """Return the region turned by `angle` [rad]; with the opposite magnetisation if asked."""
        direction = self.magnetisation
        if direction is not None:
            # the direction at a place follows its polar angle by `magnetisation_order` already
            turn = (1.0 - self.magnetisation_order) * angle + (pi if is_opposite else 0.0)
            x, y = direction
            direction = (cos(turn) * x - sin(turn) * y, sin(turn) * x + cos(turn) * y)
        return replace(
            self,
            outline=self.outline.transformed(angle),
            holes=tuple(hole.transformed(angle) for hole in self.holes),
            magnetisation=direction,
        )

    def area(self) -> float:
        """Return the net area [m^2]."""
        return self.outline.area() - sum(h.area() for h in self.holes)


@dataclass(frozen=True)
class Section:
    """Some poles of the machine, symmetric about the x axis: rotor, and the stator over them.

    One pole spans -pi/(2p)..pi/(2p) with its north d axis on the x axis. The stator covers the
    same angle in whole slot pitches where slots per pole are whole: slot pitch k
    (k = 0 .. slots - 1) is centred on its slot, the first half a slot pitch inside the low end.
    Of several poles, number `poles` // 2 from the low end is a north pole.

    Attributes
    ----------
    rotor, stator : tuple of Region
        Regions of the rotor poles, pole after pole, and of the stator over them.
    pole_pairs : int
        Pole pairs of the machine.
    rotor_radius, bore_radius : float
        Bounds of the air gap [m].
    poles : int
        Poles covered.
    """

    rotor: tuple[Region, ...]
    stator: tuple[Region, ...]
    pole_pairs: int
    rotor_radius: float
    bore_radius: float
    poles: int = 1

    @property
    def half_angle(self) -> float:
        """Half of the angle covered [rad]."""
        return self.poles * pi / (2 * self.pole_pairs)

    @property
    def north_axis(self) -> float:
        """Angle of the d axis of the north pole nearest the x axis [rad]."""
        return 0.0 if self.poles % 2 else pi / (2 * self.pole_pairs)
