"""What a cage rotor is: bars in slots, joined by rings. SI units; part of `models.machine`."""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from models.materials.catalogue import Conductor

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CageRotor:
    """Rotor with a cage. Lengths in m; one slot's axis is the x axis of its own frame.

    A bar is bounded by two circles on the slot axis and their common tangents (`round` has one
    circle), or by a rectangle.

    Attributes
    ----------
    outer_radius, shaft_radius : float
        Rotor surface and shaft radii [m].
    bars : int
        Number of bars.
    bar_shape : str
        `round`, `drop`, `rectangular` or `deep` (a rectangle at least four times as high as wide).
    opening_width : float
        Width of the slot opening at the surface [m]; 0 is a closed slot.
    opening_height : float
        Radial height of the opening, or of the iron bridge over a closed slot [m].
    top_centre, top_radius : float
        Gap-side circle: distance of its centre from the shaft axis and radius [m]; for a
        rectangle the place of the flat top and half of the width.
    bottom_centre, bottom_radius : float
        Shaft-side circle; for a rectangle the flat bottom and half of the width.
    ring_width, ring_height : float
        Axial and radial size of each end ring [m].
    skew : float
        Twist of the bars over the stack [rad, mechanical].
    material : Conductor
        Bars and rings.
    """

    outer_radius: float
    shaft_radius: float
    bars: int
    bar_shape: str
    opening_width: float
    opening_height: float
    top_centre: float
    top_radius: float
    bottom_centre: float
    bottom_radius: float
    ring_width: float
    ring_height: float
    skew: float
    material: Conductor

    @property
    def is_rectangle(self) -> bool:
        """Whether the bar has flat ends."""
        return self.bar_shape in ("rectangular", "deep")

    @property
    def slot_pitch(self) -> float:
        """Rotor slot pitch [rad]."""
        return 2.0 * pi / self.bars

    @property
    def bar_top(self) -> float:
        """Radius of the bar's outermost point [m]."""
        return self.top_centre + (0.0 if self.is_rectangle else self.top_radius)

    @property
    def bar_bottom(self) -> float:
        """Radius of the bar's innermost point [m]."""
        return self.bottom_centre - (0.0 if self.is_rectangle else self.bottom_radius)

    @property
    def bar_height(self) -> float:
        """Radial height of the bar [m]."""
        return self.bar_top - self.bar_bottom

    @property
    def yoke_height(self) -> float:
        """Radial height of the rotor yoke under the bars [m]."""
        return self.bar_bottom - self.shaft_radius

    @property
    def ring_area(self) -> float:
        """Section of one ring [m^2]."""
        return self.ring_width * self.ring_height

    @property
    def ring_radius(self) -> float:
        """Mean radius of the rings [m]: their outer edge is level with the bars' tops."""
        return self.bar_top - 0.5 * self.ring_height

    @property
    def taper(self) -> float:
        """Sine of the angle between a side of the bar and the slot axis."""
        span = self.top_centre - self.bottom_centre
        return (self.top_radius - self.bottom_radius) / span if span > 1e-9 else 0.0

    def width(self, radius: Array) -> Array:
        """Return the bar's width at distances from the shaft axis along the slot axis [m].

        Parameters
        ----------
        radius : ndarray, shape (n,)
            Places [m]; outside the bar the width is 0.
        """
        x = np.asarray(radius, dtype=float)
        if self.is_rectangle:
            inside = (x >= self.bar_bottom) & (x <= self.bar_top)
            return np.where(inside, 2.0 * self.top_radius, 0.0)
        s = self.taper
        c = sqrt(1.0 - s * s)
        # the straight side lies at r / cos(a) + (x - centre) tan(a)
        side = self.top_radius / c + (x - self.top_centre) * s / c
        first = self.bottom_centre - self.bottom_radius * s
        last = self.top_centre - self.top_radius * s

        def chord(centre: float, r: float) -> Array:
            return np.sqrt(np.maximum(r * r - (x - centre) ** 2, 0.0))

        top, bottom = (
            chord(self.top_centre, self.top_radius),
            chord(self.bottom_centre, self.bottom_radius),
        )
        return np.asarray(2.0 * np.where(x > last, top, np.where(x < first, bottom, side)))
