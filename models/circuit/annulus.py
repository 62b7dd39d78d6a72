"""Ring of magnets and air gap of a surface-magnet rotor, solved exactly by harmonics.

Between the core's surface and the bore nothing is iron, so the field there follows from the
potentials on both circles and from the magnets. Each circle's potential is piecewise linear between
its nodes; its harmonics, the ring's stiffness for each of them and the magnets' source make one
linear block that couples all nodes of rotor and stator, at any rotor angle.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from models.circuit.coupling import Coupling, SurfaceNodes
from models.circuit.network import Array, Network
from models.circuit.stator_table import SlotNodes
from models.constants import MU0
from models.geometry.air_gap import carter_factor
from models.machine import Machine, rotor_as
from models.surface_rotor import SurfaceRotor

LOW_SHARE = 0.02
"""Area share of the lowest magnet field, as in the field model."""
HARMONICS = 40
"""Odd multiples of the pole pairs that are counted."""
FIELD_RADII = 4
FIELD_ANGLES = 48
"""Places of equal area in a magnet at which its field is read."""


@dataclass(frozen=True, eq=False)
class RingSolution:
    """The ring's answer to one ampere-free unit of each harmonic, arrays over harmonics.

    Attributes
    ----------
    order : ndarray
        n, odd multiples of p.
    inner, outer, mutual : ndarray
        mu0 r H_theta on the circles per unit of potential: A-inner on inner, outer on outer,
        and the mutual part.
    inner_source, outer_source : ndarray
        The same from magnets of 1 T, sine terms.
    face_inner, face_outer, face_source : ndarray
        Potential on the magnets' face per unit of inner and outer potential and per T.
    """

    order: Array
    inner: Array
    outer: Array
    mutual: Array
    inner_source: Array
    outer_source: Array
    face_inner: Array
    face_outer: Array
    face_source: Array


def magnet_harmonics(rotor: SurfaceRotor, pole_pairs: int, order: Array) -> tuple[Array, Array]:
    """Return radial cosine and tangential sine amplitudes of a magnetisation of 1 T.

    Parameters
    ----------
    rotor : SurfaceRotor
    pole_pairs : int
    order : ndarray, shape (n,)
        Odd multiples of the pole pairs.

    Notes
    -----
    Over the arc -a..a, with alternating poles: radial 4p/(pi n) sin(n a); parallel, whose
    components are cos(theta) and -sin(theta), by products of sines.

    References
    ----------
    Z. Q. Zhu, D. Howe, E. Bolte, B. Ackermann, IEEE Trans. Magn. 29(1) 124, 1993,
    doi:10.1109/20.195557.
    """
    a, p = rotor.arc_half_angle, pole_pairs
    if rotor.is_radial:
        return 4.0 * p / (pi * order) * np.sin(order * a), np.zeros_like(order)
    plus = np.sin((order + 1.0) * a) / (order + 1.0)
    minus = a * np.sinc((order - 1.0) * a / pi)  # a at order 1
    return 2.0 * p / pi * (plus + minus), 2.0 * p / pi * (plus - minus)


def particular(order: Array, radius: float, load: Array) -> tuple[Array, Array]:
    """Return a solution of the ring's equation at a radius and its slope times radius.

    a'' + a'/r - n^2 a / r^2 = -load / r with load = T_n + n R_n: load r / (n^2 - 1), and
    -load r ln(r) / 2 at order 1.
    """
    one = order == 1.0
    value = load * radius / np.where(one, 1.0, order**2 - 1.0)
    log = -0.5 * load * radius * np.log(radius)
    return (
        np.where(one, log, value),
        np.where(one, log - 0.5 * load * radius, value),
    )


def solve_ring(machine: Machine, *, inner_radius: float, recoil: float) -> RingSolution:
    """Solve magnet ring and gap for every harmonic.

    Parameters
    ----------
    machine : Machine
        A machine with a surface rotor.
    inner_radius : float
        Core's surface [m].
    recoil : float
        Relative permeability of the magnets, taken for the air between them as well.

    Notes
    -----
    Ring of relative permeability mu_r from the core to the magnets' face, air from there to the
    bore (a sleeve is air). In each layer a = c r^n + d r^-n (+ particular); potential and
    tangential field are continuous at the face.
    """
    r, p = rotor_as(machine, SurfaceRotor), machine.pole_pairs
    order = np.asarray(p * (2.0 * np.arange(HARMONICS) + 1.0))
    face, bore = r.magnet_radius, machine.stator.bore_radius
    radial, tangential = magnet_harmonics(r, p, order)
    load = tangential + order * radial
    low, low_slope = particular(order, inner_radius, load)
    high, high_slope = particular(order, face, load)

    def layer(first: float, second: float) -> tuple[Array, Array]:
        x = order * np.log(second / first)
        return 1.0 / np.tanh(x), 1.0 / np.sinh(np.minimum(x, 600.0))

    c1, s1 = layer(inner_radius, face)
    c2, s2 = layer(face, bore)
    nu = 1.0 / recoil
    total = nu * c1 + c2
    face_source = nu * (c1 * high - s1 * low - (high_slope + face * tangential) / order) / total
    face_inner, face_outer = nu * s1 / total, s2 / total
    return RingSolution(
        order=order,
        inner=order * nu * (c1 - s1 * face_inner),
        outer=order * (c2 - s2 * face_outer),
        mutual=-order * s2 * face_inner,
        inner_source=-nu * (
            order * ((face_source - high) * s1 + low * c1) + low_slope + inner_radius * tangential
        ),
        outer_source=-order * s2 * face_source,
        face_inner=face_inner,
        face_outer=face_outer,
        face_source=face_source,
    )  # fmt: skip


def harmonics_of_nodes(order: Array, angles: Array, pole_pairs: int) -> tuple[Array, Array]:
    """Return sine and cosine harmonics of the potential per node, each of shape (n, nodes).

    Parameters
    ----------
    order : ndarray, shape (n,)
        Odd multiples of the pole pairs.
    angles : ndarray, shape (nodes,)
        Of the nodes [rad], rising, within one pole; the potential is linear between them and
        changes sign from pole to pole.
    pole_pairs : int
    """
    count = len(angles)
    ends = np.append(angles, angles[0] + pi / pole_pairs)
    width = np.diff(ends)
    # By parts twice: only the slopes' jumps are left; amplitude = (2p/pi) integral over a pole.
    scale = 2.0 * pole_pairs / (pi * order**2)
    sine = scale[:, None] * np.diff(np.sin(np.outer(order, ends)), axis=1) / width
    cosine = scale[:, None] * np.diff(np.cos(np.outer(order, ends)), axis=1) / width
    out = []
    for slope in (sine, cosine):
        rows = -slope
        rows[:, 1:] += slope[:, : count - 1]
        rows[:, 0] -= slope[:, count - 1]  # the node after the last is minus the first
        out.append(rows)
    return out[0], out[1]


def couple_by_harmonics(
    machine: Machine,
    network: Network,
    slots: SlotNodes,
    surface: SurfaceNodes,
    rotor_angles: Array,
) -> Coupling:
    """Couple core and bore through magnets and gap, see `models.circuit.coupling.Coupling`.

    Notes
    -----
    The slotted bore counts as a smooth one behind a further gap (k_C - 1) g', radial flux only,
    with Carter's factor for the gap g' = g + h_m / mu_r.
    """
    r, p = rotor_as(machine, SurfaceRotor), machine.pole_pairs
    stator, recoil = machine.stator, machine.magnet.recoil_permeability
    ring = solve_ring(machine, inner_radius=surface.radius, recoil=recoil)
    bore_order = np.argsort(slots.gap_angles, kind="stable")
    bore_nodes = np.array(slots.gap_nodes, dtype=np.int64)[bore_order]
    bore_angles = slots.gap_angles[bore_order]
    core_s, core_c = harmonics_of_nodes(ring.order, surface.angles, p)
    bore_s, bore_c = harmonics_of_nodes(ring.order, bore_angles, p)

    count, n = len(rotor_angles), network.size
    stiffness = np.repeat(network.linear[None], count, axis=0)
    source = np.zeros((count, n))
    scale = pi / (2 * p * MU0)
    core, bore = surface.nodes, bore_nodes
    own = core_s.T @ (ring.inner[:, None] * core_s) + core_c.T @ (ring.inner[:, None] * core_c)
    stiffness[:, core[:, None], core] += scale * own
    own = bore_s.T @ (ring.outer[:, None] * bore_s) + bore_c.T @ (ring.outer[:, None] * bore_c)
    stiffness[:, bore[:, None], bore] += scale * own
    source[:, core] -= scale * ring.inner_source @ core_s

    extended = (r.magnet_radius - surface.radius) / recoil + stator.bore_radius - r.magnet_radius
    carter = carter_factor(stator.slot_opening, extended, stator.bore_radius * stator.slot_pitch)
    ends = np.append(bore_angles, bore_angles[0] + pi / p)
    further = (carter - 1.0) * extended / (MU0 * stator.bore_radius * np.diff(ends))
    for k, value in enumerate(further):
        i, j = bore[k], bore[(k + 1) % len(bore)]
        sign = 1.0 if k + 1 < len(bore) else -1.0
        stiffness[:, i, i] += value
        stiffness[:, j, j] += value
        stiffness[:, i, j] -= sign * value
        stiffness[:, j, i] -= sign * value

    places = _places(r, ring, surface.radius)
    rows = np.zeros((count, len(places.offset), n))
    for k, angle in enumerate(rotor_angles.tolist()):
        c, s = np.cos(ring.order * angle)[:, None], np.sin(ring.order * angle)[:, None]
        turned_s, turned_c = bore_s * c - bore_c * s, bore_s * s + bore_c * c
        block = core_s.T @ (ring.mutual[:, None] * turned_s)
        block += core_c.T @ (ring.mutual[:, None] * turned_c)
        stiffness[k, core[:, None], bore] += scale * block
        stiffness[k, bore[:, None], core] += scale * block.T
        source[k, bore] -= scale * ring.outer_source @ turned_s
        rows[k][:, core] = places.sine_inner @ core_s + places.cosine_inner @ core_c
        rows[k][:, bore] = places.sine_outer @ turned_s + places.cosine_outer @ turned_c
    return Coupling(
        stiffness=stiffness, magnet_source=source, magnet_rows=rows, magnet_offsets=places.offset
    )


@dataclass(frozen=True, eq=False)
class _Places:
    """Flux density along the magnetisation at places in the magnet.

    Per unit of sine and cosine harmonic of the inner and outer potential, shape (places, n), and
    per T of remanence, shape (places,).
    """

    sine_inner: Array
    cosine_inner: Array
    sine_outer: Array
    cosine_outer: Array
    offset: Array


def _places(rotor: SurfaceRotor, ring: RingSolution, inner: float) -> _Places:
    """Prepare the reading of the field at places of equal area."""
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
    order_load = _load(rotor, ring)
    low, _ = particular(n, inner, order_load)
    high, _ = particular(n, face, order_load)
    at = [particular(n, float(x), order_load) for x in radius[:, 0]]
    value, slope = np.array([a for a, _ in at]), np.array([b for _, b in at])
    # a_n(r) = P(r) + (alpha - P_low) to_core + (a_face - P_high) to_face, and r a_n'(r)
    inner_value = to_core + ring.face_inner * to_face
    inner_slope = n * (-slope_core + ring.face_inner * slope_face)
    outer_value, outer_slope = ring.face_outer * to_face, n * ring.face_outer * slope_face
    own_value = value - low * to_core + (ring.face_source - high) * to_face
    own_slope = slope + n * (low * slope_core + (ring.face_source - high) * slope_face)
    c, s = np.cos(np.outer(theta, n)), np.sin(np.outer(theta, n))
    radial = np.ones_like(theta) if rotor.is_radial else np.cos(theta)
    across = np.zeros_like(theta) if rotor.is_radial else -np.sin(theta)

    def along(values: Array, slopes: Array, is_sine: bool) -> Array:
        """B_r = (1/r) dA/dtheta, B_theta = -dA/dr, along the magnetisation."""
        by_theta, plain = (c, s) if is_sine else (-s, c)
        b_r = (n * values / radius)[:, None, :] * by_theta
        b_t = -(slopes / radius)[:, None, :] * plain
        out = radial[:, None] * b_r + across[:, None] * b_t
        return np.asarray(out.reshape(-1, len(n)))

    return _Places(
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


def _load(rotor: SurfaceRotor, ring: RingSolution) -> Array:
    radial, tangential = magnet_harmonics(rotor, int(ring.order[0]), ring.order)
    return np.asarray(tangential + ring.order * radial)
