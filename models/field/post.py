"""What is read off a solved field: flux density, waveforms, magnet field, torque."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.field.assemble import System
from models.field.machine_field import FieldModel

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


def elements_of(system: System, part: str) -> IntArray:
    """Return the elements whose region has this part name."""
    members = [k for k, r in enumerate(system.regions) if r.part == part]
    return np.nonzero(np.isin(system.region, members))[0]


def flux_density(system: System, potential: Array, elements: IntArray) -> Array:
    """Return B at the integration points, shape (..., m, 3, 2) [T].

    Parameters
    ----------
    system : System
        Equations.
    potential : ndarray, shape (..., size + 1)
        Vector potential [Wb/m].
    elements : ndarray of int, shape (m,)
        Elements.

    Notes
    -----
    In the axes of the side the element belongs to: the rotor's turn with the rotor.
    B = (dA/dy, -dA/dx).
    """
    nodes = system.element_nodes[elements]
    local = potential[..., system.unknown[nodes]] * system.sign[nodes]
    slope = np.einsum("...mi,mqci->...mqc", local, system.elements.gradient[elements])
    return np.stack((slope[..., 1], -slope[..., 0]), axis=-1)


def mean_flux_density(system: System, potential: Array, elements: IntArray) -> Array:
    """Return the area mean of B over each element, shape (..., m, 2) [T]."""
    weight = system.elements.weight[elements] / system.elements.area[elements][:, None]
    gradient = np.einsum("mq,mqci->mci", weight, system.elements.gradient[elements])
    nodes = system.element_nodes[elements]
    local = potential[..., system.unknown[nodes]] * system.sign[nodes]
    slope = np.einsum("...mi,mci->...mc", local, gradient)
    return np.stack((slope[..., 1], -slope[..., 0]), axis=-1)


def magnet_field(system: System, potential: Array) -> tuple[Array, Array]:
    """Return B along the magnetisation in the magnets and the area it stands for.

    Parameters
    ----------
    system : System
        Equations.
    potential : ndarray, shape (..., size + 1)
        Vector potential [Wb/m].

    Returns
    -------
    field : ndarray, shape (..., 3 m)
        At the integration points of all magnet elements [T].
    area : ndarray, shape (3 m,)
        [m^2].
    """
    elements = elements_of(system, "magnet")
    direction = magnetisation_at(system, elements, system.elements.place[elements])
    b = flux_density(system, potential, elements)
    along = np.einsum("...mqc,mqc->...mq", b, direction)
    return along.reshape(*along.shape[:-2], -1), system.elements.weight[elements].ravel()


def magnet_poles(system: System, *, poles: int, pole_pitch: float) -> IntArray:
    """Return the pole of the sector that each value of `magnet_field` belongs to, shape (3 m,).

    Parameters
    ----------
    system : System
        Equations.
    poles : int
        Poles of the sector, which lie evenly about the x axis.
    pole_pitch : float
        [rad].
    """
    place = system.elements.place[elements_of(system, "magnet")].reshape(-1, 2)
    turned = np.arctan2(place[:, 1], place[:, 0]) + 0.5 * poles * pole_pitch
    return np.clip(np.floor(turned / pole_pitch), 0, poles - 1).astype(np.int64)


def magnetisation_at(system: System, elements: IntArray, place: Array) -> Array:
    """Return the direction of magnetisation at places in magnet elements.

    Parameters
    ----------
    system : System
        Equations.
    elements : ndarray of int, shape (m,)
        Elements.
    place : ndarray, shape (m, q, 2)
        Places in them [m].

    Returns
    -------
    ndarray, shape (m, q, 2)
        Unit vectors, zero outside magnets.
    """
    regions = [system.regions[k] for k in system.region[elements]]
    first = np.array([r.magnetisation or (0.0, 0.0) for r in regions])
    order = np.array([r.magnetisation_order for r in regions])
    if not order.any():
        return np.broadcast_to(first[:, None, :], place.shape)
    turn = order[:, None] * np.arctan2(place[..., 1], place[..., 0])
    c, s = np.cos(turn), np.sin(turn)
    x, y = first[:, 0, None], first[:, 1, None]
    return np.stack((c * x - s * y, s * x + c * y), axis=-1)


def area_percentile(values: Array, area: Array, share: float) -> Array:
    """Return the value below which lies this share of the area.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Values.
    area : ndarray, shape (n,)
        Their areas.
    share : float
        0 to 1.

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    The lowest single value in a magnet is at a corner and falls without limit as the mesh is
    refined; a small share of the area converges.
    """
    order = np.argsort(values, axis=-1, kind="stable")
    sorted_values = np.take_along_axis(values, order, axis=-1)
    below = np.cumsum(area[order], axis=-1)
    place = np.argmax(below >= share * below[..., -1:], axis=-1)
    out: Array = np.take_along_axis(sorted_values, place[..., None], axis=-1)[..., 0]
    return out


@dataclass(frozen=True, eq=False)
class StatorWaveforms:
    """Flux density of the stator sheets over one electrical period.

    Attributes
    ----------
    radial, tangential : ndarray, shape (..., m, samples)
        Mean over each element of one slot pitch of each kind, uniform in time [T]: in the stack,
        not yet divided by the stacking factor.
    area : ndarray, shape (m,)
        [m^2].
    radius : ndarray, shape (m,)
        Distance of the elements from the shaft axis [m].
    """

    radial: Array
    tangential: Array
    area: Array
    radius: Array


def stator_waveforms(model: FieldModel, potential: Array) -> StatorWaveforms:
    """Read waveforms off positions that divide one phase belt (60 electrical degrees) evenly.

    Parameters
    ----------
    model : FieldModel
        Equations.
    potential : ndarray, shape (n, ..., size + 1)
        Vector potential at the n positions k pi / (3 n) [Wb/m].

    Notes
    -----
    The slot pitches are copies of one mesh, and slots of one kind see the same field at other
    times (`Sector.sixths`), so n positions give 3 n samples of half a period exactly.
    """
    system, sector = model.system, model.sector
    elements = elements_of(system, "stator_core")
    b = mean_flux_density(system, potential, elements)
    centre = system.elements.place[elements].mean(axis=1)
    angle = np.arctan2(centre[:, 1], centre[:, 0])
    c, s = np.cos(angle), np.sin(angle)
    polar = np.stack((b[..., 0] * c + b[..., 1] * s, b[..., 1] * c - b[..., 0] * s))
    per_pitch = len(elements) // sector.slots
    slots, signs = sector.sixths
    # (component, position, ..., sixth, kind of slot, element of the pitch)
    seen = polar.reshape(*polar.shape[:-1], sector.slots, per_pitch)[..., slots, :]
    seen = np.moveaxis(seen * signs[..., None], 1, -1)
    # (component, ..., kind, element, sixth, position): sixth by sixth half a period
    half = np.moveaxis(seen, -4, -2)
    half = half.reshape(*half.shape[:-4], half.shape[-4] * per_pitch, -1)
    full = np.concatenate((half, -half), axis=-1)
    own = (sector.unlike_slots[:, None] * per_pitch + np.arange(per_pitch)).ravel()
    return StatorWaveforms(
        full[0],
        full[1],
        system.elements.area[elements[own]],
        np.hypot(centre[own, 0], centre[own, 1]),
    )
