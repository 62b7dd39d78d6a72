"""Radial flux density in the air gap from the solved network."""

import numpy as np

from models.circuit.network import Array
from models.circuit.solution import Circuit, Solution
from models.geometry.winding import phase_axis

ANGLES = 192
"""Angles over each pole."""


def gap_flux_density(circuit: Circuit, solution: Solution) -> Array:
    """Return the radial flux density over the sector, shape (n_positions, poles * ANGLES) [T].

    Parameters
    ----------
    circuit : Circuit
    solution : Solution
        Of one operating point (one i_d and one i_q).

    Notes
    -----
    B = (dA/d theta) / r between neighbouring nodes of rotor surface and slot openings: even in
    each sector, slot openings are not seen but through Carter's factor.
    """
    machine, sector = circuit.machine, circuit.sector
    slots, surface, p = circuit.slots, circuit.surface, machine.pole_pairs
    span, count = sector.angle, sector.poles * ANGLES
    radius = 0.5 * (machine.stator.bore_radius + machine.rotor.outer_radius)
    nodes = np.concatenate([surface.nodes, np.array(slots.gap_nodes, dtype=np.int64)])
    signs = np.concatenate([surface.signs, np.ones(len(slots.gap_nodes))])
    axis = p * slots.angles[0] + phase_axis(machine.winding.slot_phases, p)
    middle = (np.arange(count) + 0.5) * span / count - 0.5 * span
    turned = surface.angles + ((circuit.positions + axis) / p)[:, None]
    still = np.broadcast_to(slots.gap_angles, (len(turned), len(slots.gap_angles)))
    angles = np.concatenate([turned, still], axis=1)
    turns = np.floor((angles + 0.5 * span) / span)
    place = angles - turns * span
    potential = solution.potentials[:, 0, 0, nodes] * signs
    potential = potential * np.where(turns % 2 == 0, 1.0, sector.sign)
    order = np.argsort(place, axis=1, kind="stable")
    x, a = (np.take_along_axis(v, order, axis=1) for v in (place, potential))
    width = np.diff(x, axis=1, append=x[:, :1] + span)
    field = np.diff(a, axis=1, append=sector.sign * a[:, :1]) / np.maximum(width, 1e-9) / radius
    # Before the first node lies the end of the last piece, one sector back.
    field = np.concatenate([sector.sign * field[:, -1:], field], axis=1)
    piece = (x[:, None, :] <= middle[:, None]).sum(axis=-1)
    return np.asarray(np.take_along_axis(field, piece, axis=1))
