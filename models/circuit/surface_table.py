"""Rotor part of the network for magnets on the surface: iron core and the inset part of magnets.

Magnets above the core radius and the gap are solved by harmonics, see `models.circuit.annulus`.
"""

from itertools import pairwise
from math import cos, pi, sin

import numpy as np

from models.circuit.coupling import SurfaceNodes
from models.circuit.network import GROUND, NetworkBuilder, Place, before
from models.constants import MU0
from models.machine import Machine, rotor_as
from models.surface_rotor import SurfaceRotor

MAGNET_PARTS = 8
"""Parts of the core's surface under one magnet."""
BETWEEN_PARTS = 2
"""Parts of the core's surface between two magnets, each side of the pole boundary one half."""
LEAST_RING = 0.02
"""Least height of the ring of magnets above the core in the harmonic solution, over magnet
thickness: a flush inset magnet keeps so much of a ring."""


def ring_radius(rotor: SurfaceRotor) -> float:
    """Return the inner radius of the harmonic solution: the core's surface [m]."""
    return min(rotor.core_radius, rotor.magnet_radius - LEAST_RING * rotor.magnet_thickness)


def add_surface_rotor(builder: NetworkBuilder, machine: Machine) -> SurfaceNodes:
    """Add one rotor pole.

    Notes
    -----
    Nodes lie on the core's surface. Each part of the yoke under two of them is one cell down to
    the shaft, where the potential is zero. Where the core stands between inset magnets, radial
    iron cells carry the flux of that height, and magnet branches that of the magnets beside it;
    leakage across the magnets' sides there is left out.
    """
    r = rotor_as(machine, SurfaceRotor)
    half_pole, edge = pi / (2 * machine.pole_pairs), r.arc_half_angle
    over = np.linspace(-edge, edge, MAGNET_PARTS + 1)
    side = np.linspace(edge, half_pole, BETWEEN_PARTS // 2 + 1)[1:]
    angles = [*(-side[:-1])[::-1].tolist(), *over.tolist(), *side.tolist()]
    nodes = [builder.node(f"core {k}") for k in range(len(angles))]
    last = nodes[-1]
    # the low pole boundary is the high one of the pole before
    chain = [(last, -half_pole, -1.0), *((n, a, 1.0) for n, a in zip(nodes, angles))]

    def at(node: int, radius: float, angle: float, sign: float = 1.0) -> Place:
        return Place(node, radius * cos(angle), radius * sin(angle), sign)

    height = ring_radius(r) - r.base_radius
    for (i, low, sign), (j, high, _) in pairwise(chain):
        builder.iron_quad(
            "core",
            [
                at(i, r.base_radius, low, sign),
                at(j, r.base_radius, high),
                at(GROUND, r.shaft_radius, high),
                at(GROUND, r.shaft_radius, low),
            ],
        )
        if height <= 0.0:
            continue
        width = (high - low) * (r.base_radius + 0.5 * height)
        middle = 0.5 * (low + high)
        row = [(before(i) if sign < 0.0 else i, -sign), (j, 1.0)]
        if abs(middle) < edge:
            builder.magnet(
                row,
                thickness=height,
                width=width,
                air_width=0.0,
                reluctivity=1.0 / MU0,
                recoil=machine.magnet.recoil_permeability,
                strength=1.0 if r.is_radial else cos(middle),
            )
        else:
            builder.iron("between", width * height, [(n, w / width) for n, w in row])
    return SurfaceNodes.of_pole(nodes, angles, ring_radius(r))
