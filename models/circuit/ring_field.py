"""The field inside the magnets of a surface rotor, read off the ring's harmonics."""

from dataclasses import dataclass
from math import pi

import numpy as np

from models.circuit.annulus import RingSolution, particular
from models.circuit.network import Array
from models.geometry.sector import Sector
from models.machine import Machine, rotor_as
from models.surface_rotor import SurfaceRotor

LOW_SHARE = 0.02
"""Area share of the lowest magnet field, as in the field model."""
FIELD_RADII = 4
FIELD_ANGLES = 48
"""Places of equal area in a magnet at which its field is read."""


@dataclass(frozen=True, eq=False)
class RingPlaces:
    """Flux density along the magnetisation at places of equal area, magnet after magnet.

    Per unit of sine and cosine harmonic of the inner and outer potential, shape (places, n), and
    per T of remanence, shape (places,).
    """

    sine_inner: Array
    cosine_inner: Array
    sine_outer: Array
    cosine_outer: Array
    offset: Array


def ring_places(
    rotor: SurfaceRotor, ring: RingSolution, inner: float, sector: Sector
) -> RingPlaces:
    """Prepare the reading of the field at places of equal area in every magnet of a sector."""
    face, n = rotor.magnet_radius, ring.order
    share = (np.arange(FIELD_RADII) + 0.5) / FIELD_RADII
    radius = np.sqrt(inner**2 + share * (face**2 - inner**2))[:, None]
    theta = rotor.arc_half_angle * (2.0 * (np.arange(FIELD_ANGLES) + 0.5) / FIELD_ANGLES - 1.0)
    depth = n * np.log(face / inner)
    up, down = n * np.log(radius / inner), n * np.log(face / radius)

    def ratio(x: Array) -> tuple[Array, Array]:
        """sinh(x) / sinh(depth) and its derivative, without overflow."""
        shrink = np.exp(x - depth) / (1.0 - np.exp(-2.0 * depth))
        return shrink * (1.0 - np.exp(-2.0 * x)), shrink * (1.0 + np.exp(-2.0 * x))

    (to_face, slope_face), (to_core, slope_core) = ratio(up), ratio(down)
    low, _ = particular(n, inner, ring.load)
    high, _ = particular(n, face, ring.load)
    at = [particular(n, float(x), ring.load) for x in radius[:, 0]]
    value, slope = np.array([a for a, _ in at]), np.array([b for _, b in at])
    # a_n(r) = P(r) + (alpha - P_low) to_core + (a_face - P_high) to_face, and r a_n'(r)
    inner_value = to_core + ring.face_inner * to_face
    inner_slope = n * (-slope_core + ring.face_inner * slope_face)
    outer_value, outer_slope = ring.face_outer * to_face, n * ring.face_outer * slope_face
    own_value = value - low * to_core + (ring.face_source - high) * to_face
    own_slope = slope + n * (low * slope_core + (ring.face_source - high) * slope_face)
    # axes: magnet, radius, angle, order; magnets of odd poles point inwards
    pole = np.arange(sector.poles)[:, None]
    round_gap = (theta + pole * pi / sector.pole_pairs)[:, None, :, None] * n
    c, s = np.cos(round_gap), np.sin(round_gap)
    north = np.where(pole % 2 == 0, 1.0, -1.0)[:, None, :, None]
    radial = north * (np.ones_like(theta) if rotor.is_radial else np.cos(theta))[:, None]
    across = north * (np.zeros_like(theta) if rotor.is_radial else -np.sin(theta))[:, None]

    def along(values: Array, slopes: Array, is_sine: bool) -> Array:
        """B_r = (1/r) dA/dtheta, B_theta = -dA/dr, along the magnetisation."""
        by_theta, plain = (c, s) if is_sine else (-s, c)
        b_r = (n * values / radius)[:, None, :] * by_theta
        b_t = -(slopes / radius)[:, None, :] * plain
        out = radial * b_r + across * b_t
        return np.asarray(out.reshape(-1, len(n)))

    return RingPlaces(
        sine_inner=along(inner_value, inner_slope, True),
        cosine_inner=along(inner_value, inner_slope, False),
        sine_outer=along(outer_value, outer_slope, True),
        cosine_outer=along(outer_value, outer_slope, False),
        offset=along(own_value, own_slope, True).sum(axis=1),
    )


def lowest_field_in_ring(machine: Machine, field: Array, remanence: float) -> float:
    """Return the flux density along the magnetisation that 2 % of the magnets lie below [T].

    Parameters
    ----------
    machine : Machine
        A machine with a surface rotor.
    field : ndarray, shape (n_positions, ..., places)
        At all magnet segments, the places in the ring last [T].
    remanence : float
        Not needed: the ring's field is local, not a mean.

    Notes
    -----
    The lowest over rotor positions. Of an inset magnet the part beside the iron is left out: the
    field that opposes it is highest at the outer face.
    """
    rotor = rotor_as(machine, SurfaceRotor)
    places = np.sort(field[..., -FIELD_RADII * FIELD_ANGLES :], axis=-1)
    inner = rotor.core_radius if rotor.core_radius < rotor.magnet_radius else rotor.base_radius
    ring = (rotor.magnet_radius**2 - inner**2) / (rotor.magnet_radius**2 - rotor.base_radius**2)
    place = min(LOW_SHARE / ring, 1.0) * places.shape[-1] - 0.5
    lower = int(max(place, 0.0))
    part = min(max(place - lower, 0.0), 1.0)
    upper = min(lower + 1, places.shape[-1] - 1)
    return float(((1.0 - part) * places[..., lower] + part * places[..., upper]).min())
