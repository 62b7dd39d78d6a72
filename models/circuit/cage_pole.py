"""The bars of one pole as the network of a cage machine takes them."""

from dataclasses import dataclass
from functools import cached_property
from math import pi, sqrt

import numpy as np

from models.cage_rotor import CageRotor
from models.circuit.network import Array, IntArray
from models.circuit.slot_body import SlotBody, body_of_profile
from models.circuit.tooth_faces import constriction_of
from models.machine import Machine, rotor_as

CHORD = 0.6
"""Half of the chord at which a round top counts as cut off, over its radius: the cap above, a fifth
of the radius high, belongs to the tips beside it."""
LEAST_OVERHANG = 0.05
"""Length of a tip's part over the bar, over the bar's half width, below which it is left out."""
LAYERS = 48
"""Layers in which a bar's profile is summed."""


@dataclass(frozen=True, eq=False)
class CagePole:
    """The bars of one pole as the network takes them. Lengths in m, tangential ones scaled.

    Where bars per pole are not whole, `count` is the nearest whole number, the larger of two, and
    `scale` what all tangential widths are multiplied by, so that iron and slot keep their shares
    and the slots their leakage.

    Attributes
    ----------
    rotor : CageRotor
    pole_pairs : int
    count : int
        Bars of a pole.
    scale : float
        True number over `count`.
    opening : float
        Width of the slot opening; 0 is a closed slot.
    half_chord : float
        Half the width of the bar where its body ends and the tips begin.
    body_top : float
        Radius there.
    body : SlotBody
        The bar below.
    cap : float
        Specific permeance from the body's top to the surface through an open slot.
    half_gap : float
        Half of the gap: its tangential field is that of the saturated tips beside it.
    """

    rotor: CageRotor
    pole_pairs: int
    count: int
    scale: float
    opening: float
    half_chord: float
    body_top: float
    body: SlotBody
    cap: float
    half_gap: float

    @property
    def pitch(self) -> float:
        """Slot pitch [rad]."""
        return pi / (self.pole_pairs * self.count)

    @property
    def has_shoulders(self) -> bool:
        """Whether tips reach over the bar."""
        return self.half_chord - 0.5 * self.opening > LEAST_OVERHANG * self.half_chord

    @property
    def tooth_depth(self) -> float:
        """How deep below its root a tooth's field is not yet even [m], see `shank_depth`."""
        root = 0.5 * self.pitch * self.body_top - self.half_chord
        return min(root, 0.5 * (self.body_top - self.rotor.bar_bottom))

    @cached_property
    def angles(self) -> Array:
        """Electrical angle of each bar from the pole's d axis [rad]."""
        return np.asarray(pi * ((np.arange(self.count) + 0.5) / self.count - 0.5))

    @property
    def bottom(self) -> IntArray:
        """Nodes of the bars' bottoms in the pole's table, on either side, shape (2, count)."""
        return np.arange(2 * self.count, dtype=np.int64).reshape(2, -1)

    @property
    def top(self) -> IntArray:
        """Nodes where the bars' bodies end, in the same way."""
        return 2 * self.count + self.bottom

    def width(self, radius: Array) -> Array:
        """Return the bar's width at radii [m]."""
        return self.scale * self.rotor.width(radius)


def cage_pole(machine: Machine) -> CagePole:
    """Return the bars of one pole of a machine with a cage."""
    r = rotor_as(machine, CageRotor)
    bars = r.bars / (2 * machine.pole_pairs)
    count = int(bars + 0.5)
    scale, half_gap = bars / count, 0.5 * machine.air_gap
    opening = scale * r.opening_width
    half_chord, body_top, cap = scale * r.top_radius, r.bar_top, 0.0
    if not r.is_rectangle:
        half_chord = max(CHORD * r.top_radius, 0.5 * r.opening_width)
        body_top = r.top_centre + sqrt(r.top_radius**2 - half_chord**2)
        half_chord *= scale
    if opening > 0.0:
        cap = r.opening_height / opening
        if r.is_rectangle:
            cap += constriction_of(2.0 * half_chord, opening, r.bar_height)
        else:
            radii, step = _layers(body_top, r.outer_radius - r.opening_height)
            cap += float(np.sum(step / np.maximum(scale * r.width(radii), opening)))
    radii, step = _layers(r.bar_bottom, body_top)
    return CagePole(
        rotor=r,
        pole_pairs=machine.pole_pairs,
        count=count,
        scale=scale,
        opening=opening,
        half_chord=half_chord,
        body_top=body_top,
        body=body_of_profile(scale * r.width(radii), step),
        cap=cap,
        half_gap=half_gap,
    )


def _layers(low: float, high: float) -> tuple[Array, float]:
    """Return the middles of equal layers between two radii, and their height [m]."""
    step = (high - low) / LAYERS
    return np.asarray(low + step * (np.arange(LAYERS) + 0.5)), step
