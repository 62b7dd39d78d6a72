"""Strength of the rotor sheet by plane-stress finite elements on its section.

Checks the closed form of `models.mechanical.rotor_stress`, which the search uses.
"""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from models.field.elements import element_geometry
from models.geometry.section import Region
from models.machine import InteriorRotor, Machine, rotor_as
from models.mechanical.elasticity import (
    Deformed,
    Sheet,
    centrifugal_load,
    deform,
    edge_load,
    equivalent_stress,
)
from models.mechanical.fillets import half_pole_outline, rounded_pocket
from models.mechanical.inertia import polygon_moments
from models.mechanical.rotor_stress import FILLET_RADIUS, yield_strength
from models.mechanical.sheet_mesh import SheetMesh, mesh_sheet

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

PERCENTILE = 0.98
"""Share of a region's area whose stress lies below the stated percentile."""


@dataclass(frozen=True)
class StressMesh:
    """Mesh resolution.

    Attributes
    ----------
    largest : float
        Largest element over the rotor radius.
    growth : float
        Growth of element size with distance.
    share : float
        Element size over local thickness.
    fillet_share : float
        Element size on a fillet over its radius.
    """

    largest: float = 0.05
    growth: float = 0.25
    share: float = 0.35
    fillet_share: float = 0.1


@dataclass(frozen=True, eq=False)
class RotorField:
    """Stress and displacement of the rotor sheet; stresses grow with the square of speed.

    Attributes
    ----------
    bridge_peak, rib_peak, elsewhere_peak : float
        Greatest equivalent stress in the region of the bridge, of the rib, and in the rest of
        the sheet (pocket corners, bore) [Pa].
    bridge_percentile, rib_percentile : float
        Equivalent stress that `PERCENTILE` of the region's area stays below [Pa].
    bridge_mean, rib_mean : float
        Mean tension over the middle section of bridge and rib [Pa].
    growth : float
        Greatest radial displacement of the surface [m].
    nodes, displacement : ndarray, shape (n, 2)
        Half a pole from d axis (x) to q axis [m].
    elements : ndarray of int, shape (m, 6)
        Second-order triangles.
    equivalent : ndarray, shape (n,)
        Equivalent stress at the nodes [Pa].
    """

    bridge_peak: float
    rib_peak: float
    elsewhere_peak: float
    bridge_percentile: float
    rib_percentile: float
    bridge_mean: float
    rib_mean: float
    growth: float
    nodes: Array
    displacement: Array
    elements: IntArray
    equivalent: Array

    @property
    def peak(self) -> float:
        """Greatest equivalent stress of the sheet [Pa]."""
        return max(self.bridge_peak, self.rib_peak, self.elsewhere_peak)


def plane_stress(
    machine: Machine,
    speed: float,
    *,
    fillet_radius: float = FILLET_RADIUS,
    mesh: StressMesh | None = None,
) -> RotorField:
    """Return stress and growth of the rotor sheet at a speed.

    Parameters
    ----------
    machine : Machine
        A machine with an interior rotor.
    speed : float
        [rad/s].
    fillet_radius : float
        Fillet of the pocket corners [m], > 0; smaller where there is no room.
    mesh : StressMesh, optional
        Resolution.

    Returns
    -------
    RotorField

    Raises
    ------
    SolverError
        The rounded section cannot be meshed.

    Notes
    -----
    Per unit length of sheet, half a pole between its mirror planes (d and q axis), linear elastic,
    small deformation. Loads: the sheet's own mass, and the whole centrifugal force of the magnet,
    spread evenly over the gap-side wall it lies against. Of that force the part across the wall
    is pressure. The part along it would be held by friction, glue or a nose of the sheet; here it
    goes into the same wall, so that none of the load is lost. The bore is free: a shaft fitted
    with interference adds hoop stress, which is left out, as are the ends of the stack and the
    yielding of fillets.

    Pocket corners are rounded, for at a sharp corner the stress of a finer mesh grows without
    end. With the default mesh (about 4,300 nodes, 0.1 s on one core) peaks are within 1.5 % of
    one with four times the nodes.
    """
    mesh = mesh or StressMesh()
    r, lamination = rotor_as(machine, InteriorRotor), machine.lamination
    half = 0.5 * pi / machine.pole_pairs
    pocket = rounded_pocket(r, fillet_radius)
    region = Region(
        "rotor_core", "rotor_core", lamination.name, half_pole_outline(r, half), holes=(pocket,)
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
    wall = magnet_wall(r.magnet_corners, meshed, near=1e-6 * r.outer_radius)
    length = float(np.sum(np.hypot(*(sheet.nodes[wall[:, 1]] - sheet.nodes[wall[:, 0]]).T)))
    load += edge_load(sheet, wall, _magnet_force(machine, speed) / length)
    solved = deform(sheet, load, rollers=mirrors(sheet.nodes, half), geometry=geometry)
    return _read(solved, r, fillet_radius)


def plane_stress_safety_factor(machine: Machine, speed: float, temperature: float) -> float:
    """Return yield strength over the greatest equivalent stress of the rotor sheet.

    Parameters
    ----------
    machine : Machine
        The machine.
    speed : float
        [rad/s], > 0; overspeed as a rule.
    temperature : float
        Rotor sheet temperature [degC].

    Returns
    -------
    float
        Safety factor; 1.1 to 1.5 at overspeed is common practice, no source.
    """
    return yield_strength(machine, temperature) / plane_stress(machine, speed).peak


def _magnet_force(machine: Machine, speed: float) -> Array:
    """Return the centrifugal force of the upper magnet, per metre of sheet [N/m]."""
    corners = np.asarray(rotor_as(machine, InteriorRotor).magnet_corners)
    area, centroid, _ = polygon_moments(corners)
    mass = machine.magnet.density * abs(area) / machine.stacking_factor
    return mass * speed**2 * np.asarray(centroid)


def magnet_wall(
    corners: tuple[tuple[float, float], ...], meshed: SheetMesh, *, near: float
) -> IntArray:
    """Return the border sides on the gap-side wall that a magnet lies against.

    Parameters
    ----------
    corners : tuple of 4 (x, y)
        The magnet's, the two on the gap side first [m].
    meshed : SheetMesh
        The sheet.
    near : float
        Distance from the wall that counts as on it [m].
    """
    start, end = np.array(corners[0]), np.array(corners[1])
    along = (end - start) / np.hypot(*(end - start))
    d = meshed.nodes[meshed.border[:, 2]] - start
    place, off = d @ along, d @ np.array([-along[1], along[0]])
    width = float((end - start) @ along)
    on_wall = (np.abs(off) < near) & (place > 0.0) & (place < width)
    out: IntArray = meshed.border[on_wall]
    return out


def mirrors(nodes: Array, half: float) -> tuple[tuple[IntArray, float], ...]:
    """Return the nodes on d and q axis, which move along their axis only."""
    near = 1e-7 * float(np.hypot(*nodes.T).max())
    across = nodes[:, 1] * cos(half) - nodes[:, 0] * sin(half)
    return (
        (np.nonzero(np.abs(nodes[:, 1]) < near)[0], 0.0),
        (np.nonzero(np.abs(across) < near)[0], half),
    )


def _read(solved: Deformed, r: InteriorRotor, fillet_radius: float) -> RotorField:
    nodes, elements = solved.sheet.nodes, solved.sheet.elements
    equivalent = equivalent_stress(solved.nodal_stress())
    at_points = equivalent_stress(solved.stress())
    inside = {
        "bridge": [_in_bridge(r, x, fillet_radius) for x in (nodes, solved.geometry.place)],
        "rib": [_in_rib(r, x, fillet_radius) for x in (nodes, solved.geometry.place)],
    }
    is_elsewhere = ~(inside["bridge"][0] | inside["rib"][0])

    def percentile(where: NDArray[np.bool_]) -> float:
        values, area = at_points[where], solved.geometry.weight[where]
        order = np.argsort(values)
        below = np.cumsum(area[order])
        return float(values[order][np.searchsorted(below, PERCENTILE * below[-1])])

    radius = np.hypot(*nodes.T)
    outward = np.einsum("nc,nc->n", solved.displacement, nodes) / radius
    on_surface = radius > (1.0 - 1e-7) * r.outer_radius
    return RotorField(
        bridge_peak=float(equivalent[inside["bridge"][0]].max()),
        rib_peak=float(equivalent[inside["rib"][0]].max()),
        elsewhere_peak=float(equivalent[is_elsewhere].max()),
        bridge_percentile=percentile(inside["bridge"][1]),
        rib_percentile=percentile(inside["rib"][1]),
        bridge_mean=_bridge_mean(solved, r),
        rib_mean=_rib_mean(solved, r),
        growth=float(outward[on_surface].max()),
        nodes=nodes,
        displacement=solved.displacement,
        elements=elements,
        equivalent=equivalent,
    )


def _in_bridge(r: InteriorRotor, points: Array, fillet: float) -> NDArray[np.bool_]:
    """Whether points lie in the bridge, its fillets, or within its thickness beside them."""
    radius = np.hypot(points[..., 0], points[..., 1])
    angle = np.arctan2(points[..., 1], points[..., 0])
    reach = (fillet + r.bridge_thickness) / r.outer_radius
    return np.asarray(
        (radius > r.outer_radius - r.bridge_thickness - 2.0 * fillet)
        & (angle > r.barrier_near_angle - reach)
        & (angle < r.barrier_far_angle + reach)
    )


def _in_rib(r: InteriorRotor, points: Array, fillet: float) -> NDArray[np.bool_]:
    """Whether points lie in the rib, its fillets, or within its half width beside them."""
    (gap, _), (shaft, _) = r.pocket_inner
    reach = fillet + 0.5 * r.rib_width
    return np.asarray(
        (points[..., 0] > shaft - reach)
        & (points[..., 0] < gap + reach)
        & (points[..., 1] < 0.5 * r.rib_width + 2.0 * fillet)
    )


_SECTION = tuple(np.asarray(x) for x in np.polynomial.legendre.leggauss(8))
"""Places (-1 to 1) and weights along a section."""


def _bridge_mean(solved: Deformed, r: InteriorRotor) -> float:
    t = 0.5 * (r.barrier_near_angle + r.barrier_far_angle)
    radius = r.outer_radius - 0.5 * r.bridge_thickness * (1.0 - _SECTION[0])
    x, y, shear = solved.stress_at(radius[:, None] * np.array([cos(t), sin(t)])).T
    hoop = x * sin(t) ** 2 + y * cos(t) ** 2 - 2.0 * shear * sin(t) * cos(t)
    return float(0.5 * _SECTION[1] @ hoop)


def _rib_mean(solved: Deformed, r: InteriorRotor) -> float:
    x = 0.5 * (r.pocket_inner[0][0] + r.pocket_inner[1][0])
    y = 0.25 * r.rib_width * (1.0 + _SECTION[0])
    points = np.column_stack((np.full_like(y, x), y))
    return float(0.5 * _SECTION[1] @ solved.stress_at(points)[:, 0])
