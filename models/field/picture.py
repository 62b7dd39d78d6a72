"""What a picture of the field shows: flux density and vector potential over one pole."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.field.boundary import turned
from models.field.domain import SideMesh, mesh_section
from models.field.machine_field import field_model, solve_point
from models.field.post import flux_density
from models.field.sizing import OVER_POLES, Resolution
from models.geometry.build import sector_section
from models.machine import Machine

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_PARTS_OF_ELEMENT = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])
"""Four straight triangles in a second-order one."""


@dataclass(frozen=True, eq=False)
class SidePicture:
    """One side of the air gap, in the stator's axes.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Nodes [m].
    potential : ndarray, shape (n,)
        Vector potential there [Wb/m]; flux lines are its contours.
    triangles : ndarray of int, shape (k, 3)
        Straight triangles over `points`.
    shade_points : ndarray, shape (m, 2)
        Nodes again, once for each part they belong to, so that colours stop at borders [m].
    shade_triangles : ndarray of int, shape (k, 3)
        The same triangles over `shade_points`.
    flux_density : ndarray, shape (m,)
        Magnitude of B at `shade_points` [T].
    """

    points: Array
    potential: Array
    triangles: IntArray
    shade_points: Array
    shade_triangles: IntArray
    flux_density: Array


@dataclass(frozen=True, eq=False)
class FieldPicture:
    """The field of one sector at one operating point and rotor position.

    Attributes
    ----------
    rotor, stator : SidePicture
        Rotor poles, turned to their place, and the stator over the poles about the x axis. The
        next sector to either side has the same flux density and, if the poles are odd, the
        opposite potential.
    pole_pitch : float
        [rad].
    poles : int
        Poles of the sector.
    rotor_place : float
        Mechanical angle of the section's rotor from where it is drawn [rad].
    i_d, i_q : float
        Peak dq currents [A].
    rotor_angle : float
        Electrical angle of the d axis from the phase-1 axis [rad].
    magnet_temperature : float
        [degC].
    torque : float
        Air-gap torque at this position [N*m].
    """

    rotor: SidePicture
    stator: SidePicture
    pole_pitch: float
    poles: int
    rotor_place: float
    i_d: float
    i_q: float
    rotor_angle: float
    magnet_temperature: float
    torque: float


def field_picture(
    machine: Machine,
    *,
    i_d: float,
    i_q: float,
    magnet_temperature: float,
    rotor_angle: float = 0.0,
    resolution: Resolution | None = None,
) -> FieldPicture:
    """Solve one operating point and return what a picture of it shows.

    Parameters
    ----------
    machine : Machine
        The design.
    i_d, i_q : float
        Peak dq currents [A].
    magnet_temperature : float
        [degC].
    rotor_angle : float
        Electrical angle of the d axis from the phase-1 axis [rad].
    resolution : Resolution, optional
        Mesh resolution.

    Returns
    -------
    FieldPicture

    Raises
    ------
    InfeasibleDesignError, SolverError
        See `models.field.field_model` and `models.field.solve_point`.

    Notes
    -----
    The middle third of the air gap has no elements, so nothing is shown there.
    """
    # The mesher is deterministic: these are the nodes the equations are built on.
    section = sector_section(machine)
    if resolution is None and section.poles > 1:
        resolution = OVER_POLES
    domain = mesh_section(section, resolution, poles=section.poles)
    model = field_model(machine, magnet_temperature=magnet_temperature, resolution=resolution)
    point = solve_point(model, i_d, i_q, rotor_angle=rotor_angle)
    system, a = model.system, point.solution.potential
    every = a[system.unknown] * system.sign
    density = np.hypot(*np.moveaxis(flux_density(system, a, np.arange(len(system.region))), -1, 0))
    mean = np.sum(density * system.elements.weight, axis=1) / system.elements.area
    count, first = len(domain.rotor.nodes), len(domain.rotor.elements)
    pitch = pi / machine.pole_pairs
    place = model.mechanical_angle(rotor_angle) % (2.0 * section.poles * pitch)
    return FieldPicture(
        rotor=_side(domain.rotor, every[:count], mean[:first], place),
        stator=_side(domain.stator, every[count:], mean[first:], 0.0),
        pole_pitch=pitch,
        poles=section.poles,
        rotor_place=place,
        i_d=i_d,
        i_q=i_q,
        rotor_angle=rotor_angle,
        magnet_temperature=magnet_temperature,
        torque=point.torque,
    )


def _side(mesh: SideMesh, potential: Array, density: Array, angle: float) -> SidePicture:
    points = turned(mesh.nodes, angle)
    # A node of two parts counts twice: colours must not run over a border.
    parts = sorted({r.part for r in mesh.regions})
    part = np.array([parts.index(r.part) for r in mesh.regions])[mesh.region]
    key = mesh.elements + len(mesh.nodes) * part[:, None]
    own, inverse = np.unique(key, return_inverse=True)
    inverse = inverse.reshape(key.shape)
    # Nor may it stop where one sector meets the next: nodes of both radial sides are one.
    twin = np.arange(len(mesh.nodes))
    twin[mesh.high] = mesh.low
    _, joined = np.unique(twin[own % len(mesh.nodes)] + own - own % len(mesh.nodes),
                          return_inverse=True)  # fmt: skip
    at = joined[inverse].ravel()
    total = np.bincount(at, weights=np.repeat(density, 6))
    mean = (total / np.bincount(at))[joined]
    return SidePicture(
        points=points,
        potential=potential,
        triangles=mesh.elements[:, _PARTS_OF_ELEMENT].reshape(-1, 3),
        shade_points=points[own % len(mesh.nodes)],
        shade_triangles=inverse[:, _PARTS_OF_ELEMENT].reshape(-1, 3),
        flux_density=mean,
    )
