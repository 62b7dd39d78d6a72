"""Rotor core and bore of a surface-magnet machine coupled through the ring of magnets and gap."""

import numpy as np

from models.circuit.annulus import RingSolution, harmonics_of_nodes, solve_ring
from models.circuit.coupling import Coupling, SurfaceNodes, gap_factors
from models.circuit.network import Array, IntArray, Network
from models.circuit.ring_field import ring_places
from models.circuit.stator_table import SlotNodes
from models.constants import MU0
from models.geometry.sector import Sector
from models.machine import Machine, rotor_as
from models.surface_rotor import SurfaceRotor


def couple_by_harmonics(
    machine: Machine,
    network: Network,
    slots: SlotNodes,
    surface: SurfaceNodes,
    rotor_angles: Array,
    sector: Sector,
) -> Coupling:
    """Couple core and bore through magnets and gap, see `models.circuit.coupling.Coupling`.

    Notes
    -----
    The slotted bore counts as a smooth one behind a further gap (k_C - 1) g', radial flux only,
    with Carter's factor for the gap g' = g + h_m / mu_r, or that of the openings alone, see
    `models.circuit.coupling.gap_factors`.
    """
    r = rotor_as(machine, SurfaceRotor)
    stator, recoil = machine.stator, machine.magnet.recoil_permeability
    ring = solve_ring(machine, inner_radius=surface.radius, recoil=recoil, poles=sector.poles)
    bore_order = np.argsort(slots.gap_angles, kind="stable")
    bore_nodes = np.array(slots.gap_nodes, dtype=np.int64)[bore_order]
    bore_angles = slots.gap_angles[bore_order]
    core_s, core_c = (
        part * surface.signs for part in harmonics_of_nodes(ring.order, surface.angles, sector)
    )
    bore_s, bore_c = harmonics_of_nodes(ring.order, bore_angles, sector)

    count, n = len(rotor_angles), network.size
    stiffness = np.repeat(network.linear[None], count, axis=0)
    source = np.zeros((count, n))
    scale = sector.angle / (2.0 * MU0)
    core, bore = surface.nodes, bore_nodes
    own = core_s.T @ (ring.inner[:, None] * core_s) + core_c.T @ (ring.inner[:, None] * core_c)
    stiffness[:, core[:, None], core] += scale * own
    own = bore_s.T @ (ring.outer[:, None] * bore_s) + bore_c.T @ (ring.outer[:, None] * bore_c)
    stiffness[:, bore[:, None], bore] += scale * own
    source[:, core] -= scale * ring.inner_source @ core_s

    extended = (r.magnet_radius - surface.radius) / recoil + stator.bore_radius - r.magnet_radius
    carter, openings = gap_factors(machine, slots, extended)
    ends = np.append(bore_angles, bore_angles[0] + sector.angle)
    more = np.full(len(bore), carter - 1.0)
    if openings.half_angle > 0.0:
        from_axis = (0.5 * (ends[1:] + ends[:-1]) - openings.first) / openings.pitch
        is_open = np.abs(from_axis - np.round(from_axis)) * openings.pitch < openings.half_angle
        more[is_open] = openings.factor - 1.0
    further = more * extended / (MU0 * stator.bore_radius * np.diff(ends))
    for k, value in enumerate(further):
        i, j = bore[k], bore[(k + 1) % len(bore)]
        sign = 1.0 if k + 1 < len(bore) else sector.sign
        stiffness[:, i, i] += value
        stiffness[:, j, j] += value
        stiffness[:, i, j] -= sign * value
        stiffness[:, j, i] -= sign * value

    if sector.sign > 0.0:
        _couple_means(stiffness, ring, sector, surface, (bore, bore_angles))
    places = ring_places(r, ring, surface.radius, sector)
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


def _couple_means(
    stiffness: Array,
    ring: RingSolution,
    sector: Sector,
    surface: SurfaceNodes,
    bore: tuple[IntArray, Array],
) -> None:
    """Add what ties the mean potentials of both circles, where the field does not change sign.

    No net current flows in the rotor, so nothing but this keeps flux from going round in it and
    back in the stator.
    """

    def shares(angles: Array) -> Array:
        width = np.diff(np.append(angles, angles[0] + sector.angle))
        return np.asarray(0.5 * (width + np.roll(width, 1)) / sector.angle)

    row = np.zeros(stiffness.shape[-1])
    row[surface.nodes] = surface.signs * shares(surface.angles)
    row[bore[0]] = -shares(bore[1])
    stiffness += sector.angle / MU0 * ring.mean * np.outer(row, row)
