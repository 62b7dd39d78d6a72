"""Moments of inertia of rotors from their outlines."""

from collections.abc import Mapping
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.geometry.families import SHAPES
from models.geometry.interior import pocket_outline
from models.machine import InteriorRotor, Machine, rotor_as
from models.materials.sleeve import sleeve
from models.surface_rotor import SurfaceRotor

Array = NDArray[np.float64]

STEEL_DENSITY = 7850.0
"""Shaft steel [kg/m^3] (common practice, no source)."""


def interior_inertia(machine: Machine) -> float:
    """Return the inertia of rotor sheets, magnets and shaft inside the stack [kg m^2].

    Ring and shaft in closed form, pockets and magnets as polygons (exact but for the arc of the
    outer barrier, cut at one degree).
    """
    r, length = rotor_as(machine, InteriorRotor), machine.stack_length
    iron = machine.lamination.density * machine.stacking_factor
    legs = 4 * machine.pole_pairs
    pocket = polygon_moments(pocket_outline(r).polygon())[2]
    magnet = abs(polygon_moments(np.asarray(r.magnet_corners))[2])
    ring = 0.5 * pi * (r.outer_radius**4 - r.shaft_radius**4)
    shaft = 0.5 * pi * r.shaft_radius**4 * solid_share(machine, 4)
    return length * (
        iron * (ring - legs * pocket)
        + machine.magnet.density * legs * magnet
        + STEEL_DENSITY * shaft
    )


def surface_inertia(machine: Machine) -> float:
    """Return the inertia of a surface-magnet rotor with its sleeve, in closed form [kg m^2]."""
    r = rotor_as(machine, SurfaceRotor)
    share = 2.0 * machine.pole_pairs * r.arc_half_angle / pi

    def ring(inner: float, outer: float) -> float:
        return 0.5 * pi * (outer**4 - inner**4)

    sheet = machine.lamination.density * machine.stacking_factor
    core = ring(r.shaft_radius, r.base_radius)
    core += (1.0 - share) * ring(r.base_radius, r.core_radius)
    return machine.stack_length * (
        sheet * core
        + machine.magnet.density * share * ring(r.base_radius, r.magnet_radius)
        + sleeve(r.sleeve_material).density * ring(r.magnet_radius, r.outer_radius)
        + STEEL_DENSITY * ring(0.0, r.shaft_radius) * solid_share(machine, 4)
    )


def section_inertia(machine: Machine, densities: Mapping[str, float] | None = None) -> float:
    """Return the inertia of a rotor from the regions of one pole [kg m^2], for any family.

    Parameters
    ----------
    machine : Machine
        The machine.
    densities : mapping of str to float, optional
        Density by part name [kg/m^3] of parts other than sheet, magnet and shaft, which are
        known; parts without one weigh nothing.

    Notes
    -----
    Arcs are cut at one degree: below 0.02 % for a whole ring.
    """
    known = {
        "rotor_core": machine.lamination.density * machine.stacking_factor,
        "magnet": machine.magnet.density,
        "shaft": STEEL_DENSITY * solid_share(machine, 4),
        **(densities or {}),
    }
    total = 0.0
    for region in SHAPES[machine.family].regions(machine):
        density = known.get(region.part, 0.0)
        if density:
            outer = polygon_moments(region.outline.polygon())[2]
            holes = sum(polygon_moments(h.polygon())[2] for h in region.holes)
            total += density * (outer - holes)
    return 2 * machine.pole_pairs * machine.stack_length * total


def solid_share(machine: Machine, power: int) -> float:
    """Return what a shaft's bore leaves of its area (power 2) or second moment (power 4)."""
    return 1.0 - float(machine.parameters["shaft_bore_ratio"]) ** power


def polygon_moments(points: Array) -> tuple[float, tuple[float, float], float]:
    """Return area, centroid and polar second moment about the origin of a polygon.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Corners in order [m]; clockwise loops give negative area and moment.

    Returns
    -------
    tuple
        Area [m^2], centroid (x, y) [m], integral of r^2 dA [m^4]. Green's theorem, exact.
    """
    # A plain loop: polygons here have 4 to 40 corners, where array calls cost ten times as much.
    area = first_x = first_y = polar = 0.0
    corners = points.tolist()
    x0, y0 = corners[-1]
    for x1, y1 in corners:
        cross = x0 * y1 - x1 * y0
        area += cross
        first_x += (x0 + x1) * cross
        first_y += (y0 + y1) * cross
        polar += (x0 * x0 + x0 * x1 + x1 * x1 + y0 * y0 + y0 * y1 + y1 * y1) * cross
        x0, y0 = x1, y1
    return 0.5 * area, (first_x / (3.0 * area), first_y / (3.0 * area)), polar / 12.0
