"""Faces of the teeth in the network, and slot openings.

Where there are several slots to a pole, one node on a tooth's centre line and those in front of
the openings beside it follow the field. A tooth that is wide against a pole, as in tooth-coil
windings, sees the field change along its face: it has nodes every few degrees and two on its
edges. The openings' lengthening of the gap then acts in front of them alone.
"""

from dataclasses import dataclass
from math import asin, atan2, ceil, degrees, log, pi, radians, tan

import numpy as np

from models.circuit.network import Array, NetworkBuilder
from models.geometry.sector import Sector
from models.geometry.stator import tooth_width
from models.machine import Machine, Stator

WIDE_PITCH = 45.0
"""Slot pitch from which on a tooth counts as wide [electrical degrees]."""
FACE_STEP = 20.0
"""Largest step between nodes on a wide face [electrical degrees]."""


OVERHANG_STEPS = 3
"""Fewest pieces of a wide tooth's tip beyond its root: flux gathers along it and saturates it."""
LEAST_OVERHANG = 0.97
"""Root over face of a tooth above which the tip does not count as hanging over the slot."""
CONSTRICTION_TERMS = 200


@dataclass(frozen=True, eq=False)
class Faces:
    """Nodes on the faces of all teeth of a sector.

    Attributes
    ----------
    nodes : tuple of int
        Tooth after tooth (tooth k follows slot k), each in order of angle.
    angles : ndarray
        Their angles at rotor angle zero [rad].
    places : tuple of float
        Of a tooth's nodes along its face, from its centre line [m]: one on it, or from edge to
        edge.
    opening_half_angle : float
        Half the angle of an opening [rad] where edges have nodes, else 0.
    roots : tuple of tuple of 3 int
        Nodes at the root of each narrow tooth with shoulders: on its centre line, and half way to
        either side.
    """

    nodes: tuple[int, ...]
    angles: Array
    places: tuple[float, ...]
    opening_half_angle: float
    roots: tuple[tuple[int, ...], ...] = ()

    def of_tooth(self, number: int) -> tuple[int, ...]:
        """Return the nodes of a tooth."""
        count = len(self.places)
        return self.nodes[number * count : (number + 1) * count]


def lay_faces(
    builder: NetworkBuilder, machine: Machine, sector: Sector, *, has_shoulders: bool = False
) -> Faces:
    """Add the nodes on the faces of the teeth.

    With `has_shoulders` narrow teeth, too, have nodes where their tips begin to reach over slots.
    """
    stator, m = machine.stator, sector.slots
    pitch = stator.slot_pitch
    axes = (np.arange(m) + 1.0 - 0.5 * m) * pitch
    # whole slots per pole and phase keep the few nodes their network was tried with
    if sector.poles == 1 or degrees(sector.pole_pairs * pitch) < WIDE_PITCH:
        edge, root = half_widths(stator)
        is_cut = has_shoulders and root < edge
        at = (-root, -0.5 * root, 0.0, 0.5 * root, root) if is_cut else (0.0,)
        by_place = [[builder.node(f"tooth {k} face {n}") for k in range(m)] for n in range(len(at))]
        below = [
            [builder.node(f"tooth {k} root {n}") for k in range(m)]
            for n in range(3 if is_cut else 0)
        ]
        return Faces(
            nodes=tuple(node for tooth in zip(*by_place) for node in tooth),
            angles=(axes[:, None] + np.array(at) / stator.bore_radius).ravel(),
            places=at,
            opening_half_angle=0.0,
            roots=tuple(zip(*below)),
        )
    half_opening = asin(0.5 * stator.slot_opening / stator.bore_radius)
    edge, root = half_widths(stator)
    step = radians(FACE_STEP) / sector.pole_pairs * stator.bore_radius
    shank = np.linspace(-root, root, max(2, ceil(2.0 * root / step)) + 1).tolist()
    over = np.linspace(root, edge, max(OVERHANG_STEPS, ceil((edge - root) / step)) + 1).tolist()[1:]
    over = over if edge > root else []
    places = (*(-x for x in reversed(over)), *shank, *over)
    nodes = tuple(builder.node(f"tooth {k} face {n}") for k in range(m) for n in range(len(places)))
    angles: Array = axes[:, None] + np.array(places) * (0.5 * pitch - half_opening) / edge
    return Faces(nodes, angles.ravel(), places, half_opening)


def half_widths(stator: Stator) -> tuple[float, float]:
    """Return half of the widths [m] of a tooth's face and of its root, which is not wider."""
    edge = 0.5 * (stator.bore_radius * stator.slot_pitch - stator.slot_opening)
    root = 0.5 * tooth_width(stator, stator.body_inner_radius)
    return edge, root if root < LEAST_OVERHANG * edge else edge


def shank_depth(stator: Stator) -> float:
    """Return how deep behind its root a wide tooth's field is not yet even [m].

    Half its width there, as far as what differs over the width reaches, and at most half the slot.
    """
    return min(half_widths(stator)[1], 0.5 * stator.body_height)


def opening_row(faces: Faces, opening: int, number: int, sector: Sector) -> list[tuple[int, float]]:
    """Return the mean potential over the opening of a slot as (node, weight) pairs.

    Where the edges of the teeth have nodes, the potential is linear from them to the slot's axis
    and the slot's current crosses the opening evenly; taken through the axis alone it would leak
    half as much again in front of a narrow opening.
    """
    if faces.opening_half_angle == 0.0:
        return [(opening, 1.0)]
    # tooth k follows slot k: the tooth before the first slot is the last, seen past the end
    sign = 1.0 if number > 0 else sector.sign
    low, high = faces.of_tooth((number - 1) % sector.slots)[-1], faces.of_tooth(number)[0]
    return [(low, 0.25 * sign), (opening, 0.5), (high, 0.25)]


def opening_permeance(stator: Stator, *, is_wide: bool = True) -> float:
    """Return the specific permeance between a slot's body and its opening at the bore.

    Straight part and wedge by straight lines across, and under wide teeth `constriction`.
    """
    body, opening = stator.slot_width_inner, stator.slot_opening
    across = stator.tip_height / opening
    across += stator.wedge_height / (body - opening) * log(body / opening)
    return across + constriction(stator) if is_wide else across


def constriction(stator: Stator) -> float:
    """Return what the narrowing from slot body to opening adds to the slot's permeance.

    Notes
    -----
    Below flat shoulders the leakage flux bends towards the opening. In a rectangle of width b and
    height h with uniform current, iron round it and an even field in the opening b_o, the
    potential is the parabola over the height and cosines over the width, which sum to
    sum_n sinc^2(n b_o / b) / (pi n tanh(2 pi n h / b)), sinc(x) = sin(pi x) / (pi x); the mean over
    the slot is not changed. Shoulders that rise by an angle a leave a part of it,
    pi (1 / (pi - 2 a) - tan(a) / 2): arcs between both shoulders over straight lines, which the
    term of the wedge counts already. Wide slots only: beside a slot that is narrow against the
    gap's field the network was found right without it.
    """
    width, opening = stator.slot_width_inner, stator.slot_opening
    rise = atan2(stator.wedge_height, 0.5 * (width - opening))
    part = pi * (1.0 / (pi - 2.0 * rise) - 0.5 * tan(rise))
    return constriction_of(width, opening, stator.body_height) * max(part, 0.0)


def constriction_of(width: float, opening: float, height: float) -> float:
    """Return `constriction` of a body of a width and height [m] below flat shoulders."""
    n = np.arange(1, CONSTRICTION_TERMS + 1)
    terms = np.sinc(n * opening / width) ** 2 / (pi * n * np.tanh(2.0 * pi * n * height / width))
    return float(np.sum(terms))
