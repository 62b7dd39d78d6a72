"""Strength of a sheet with layers of barriers by plane-stress finite elements on its section.

Checks the closed form of `models.mechanical.layer_stress`, which the search uses.
"""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from models.field.elements import element_geometry
from models.geometry.section import Region
from models.machine import Barrier, LayeredRotor, Machine, rotor_as
from models.mechanical.elasticity import (
    Deformed,
    Sheet,
    centrifugal_load,
    deform,
    edge_load,
    equivalent_stress,
)
from models.mechanical.fillets import half_pole_outline, rounded_barrier
from models.mechanical.inertia import polygon_moments
from models.mechanical.plane_stress import StressMesh, magnet_wall, mirrors
from models.mechanical.rotor_stress import FILLET_RADIUS, yield_strength
from models.mechanical.sheet_mesh import mesh_sheet

Array = NDArray[np.float64]
_PLACES, _WEIGHTS = (np.asarray(x) for x in np.polynomial.legendre.leggauss(8))


@dataclass(frozen=True)
class LayerField:
    """Stress of the rotor sheet; all grow with the square of speed.

    Attributes
    ----------
    peak : float
        Greatest equivalent stress of the sheet [Pa].
    bridge_means, rib_means : tuple of float
        Mean tension over the middle section of each barrier's bridge and rib, from the gap
        inwards [Pa].
    growth : float
        Greatest radial displacement of the surface [m].
    """

    peak: float
    bridge_means: tuple[float, ...]
    rib_means: tuple[float, ...]
    growth: float


def layered_plane_stress(
    machine: Machine,
    speed: float,
    *,
    fillet_radius: float = FILLET_RADIUS,
    mesh: StressMesh | None = None,
) -> LayerField:
    """Return stress and growth of a layered rotor's sheet at a speed.

    Parameters
    ----------
    machine : Machine
        A machine with a layered rotor.
    speed : float
        [rad/s].
    fillet_radius : float
        Fillet of the barriers' corners [m], > 0; smaller where there is no room.
    mesh : StressMesh, optional
        Resolution.

    Raises
    ------
    SolverError
        The rounded section cannot be meshed.

    Notes
    -----
    As `models.mechanical.plane_stress.plane_stress`, with one pocket for each barrier and each
    magnet's centrifugal force spread over the gap-side wall it lies against.
    """
    mesh = mesh or StressMesh()
    r, lamination = rotor_as(machine, LayeredRotor), machine.lamination
    half = 0.5 * pi / machine.pole_pairs
    pockets = tuple(
        rounded_barrier(b, r.outer_radius - b.bridge_thickness, fillet_radius) for b in r.barriers
    )
    region = Region(
        "rotor_core", "rotor_core", lamination.name, half_pole_outline(r, half), holes=pockets
    )
    meshed = mesh_sheet(
        region, half_angle=half, largest=mesh.largest * r.outer_radius, growth=mesh.growth,
        share=mesh.share, fillet_radius=fillet_radius, fillet_share=mesh.fillet_share,
    )  # fmt: skip
    sheet = Sheet(
        meshed.nodes, meshed.elements, lamination.youngs_modulus, lamination.poisson_ratio,
        lamination.density,
    )  # fmt: skip
    geometry = element_geometry(sheet.nodes, sheet.elements)
    load = centrifugal_load(sheet, geometry, speed)
    for barrier in r.magnet_barriers:
        wall = magnet_wall(barrier.magnet_corners, meshed, near=1e-6 * r.outer_radius)
        length = float(np.sum(np.hypot(*(sheet.nodes[wall[:, 1]] - sheet.nodes[wall[:, 0]]).T)))
        load += edge_load(sheet, wall, _magnet_force(machine, barrier, speed) / length)
    solved = deform(sheet, load, rollers=mirrors(sheet.nodes, half), geometry=geometry)
    nodes = solved.sheet.nodes
    radius = np.hypot(*nodes.T)
    outward = np.einsum("nc,nc->n", solved.displacement, nodes) / radius
    return LayerField(
        peak=float(equivalent_stress(solved.nodal_stress()).max()),
        bridge_means=tuple(_bridge_mean(solved, r, b) for b in r.barriers),
        rib_means=tuple(_rib_mean(solved, b) for b in r.barriers),
        growth=float(outward[radius > (1.0 - 1e-7) * r.outer_radius].max()),
    )


def layered_plane_stress_safety_factor(machine: Machine, speed: float, temperature: float) -> float:
    """Return yield strength over the greatest equivalent stress of the rotor sheet.

    Parameters
    ----------
    machine : Machine
        A machine with a layered rotor.
    speed : float
        [rad/s], > 0; overspeed as a rule.
    temperature : float
        Rotor sheet temperature [degC].
    """
    return yield_strength(machine, temperature) / layered_plane_stress(machine, speed).peak


def _magnet_force(machine: Machine, barrier: Barrier, speed: float) -> Array:
    """Return the centrifugal force of a barrier's upper magnet, per metre of sheet [N/m]."""
    area, centroid, _ = polygon_moments(np.asarray(barrier.magnet_corners))
    mass = machine.magnet.density * abs(area) / machine.stacking_factor
    return mass * speed**2 * np.asarray(centroid)


def _bridge_mean(solved: Deformed, r: LayeredRotor, barrier: Barrier) -> float:
    t = 0.5 * (barrier.near_angle + barrier.far_angle)
    radius = r.outer_radius - 0.5 * barrier.bridge_thickness * (1.0 - _PLACES)
    x, y, shear = solved.stress_at(radius[:, None] * np.array([cos(t), sin(t)])).T
    hoop = x * sin(t) ** 2 + y * cos(t) ** 2 - 2.0 * shear * sin(t) * cos(t)
    return float(0.5 * _WEIGHTS @ hoop)


def _rib_mean(solved: Deformed, barrier: Barrier) -> float:
    x = 0.5 * (barrier.gap_face[0][0] + barrier.shaft_face[0][0])
    y = 0.25 * barrier.rib_width * (1.0 + _PLACES)
    points = np.column_stack((np.full_like(y, x), y))
    return float(0.5 * _WEIGHTS @ solved.stress_at(points)[:, 0])
