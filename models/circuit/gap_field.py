"""Radial flux density in the air gap from the solved network."""

from math import pi

import numpy as np

from models.circuit.network import Array
from models.circuit.solution import Circuit, Solution
from models.geometry.winding import phase_axis

ANGLES = 192
"""Angles over one pole."""


def gap_flux_density(circuit: Circuit, solution: Solution) -> Array:
    """Return the radial flux density under one pole, shape (n_positions, ANGLES) [T].

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
    machine, p = circuit.machine, circuit.machine.pole_pairs
    slots, surface = circuit.slots, circuit.surface
    pole = pi / p
    radius = 0.5 * (machine.stator.bore_radius + machine.rotor.outer_radius)
    nodes = np.concatenate([surface.nodes, np.array(slots.gap_nodes, dtype=np.int64)])
    axis = p * slots.angles[0] + phase_axis(machine.winding.slot_phases, p)
    middle = (np.arange(ANGLES) + 0.5) * pole / ANGLES - 0.5 * pole
    out = np.empty((len(circuit.positions), ANGLES))
    for k, position in enumerate(circuit.positions):
        angles = np.concatenate([surface.angles + (position + axis) / p, slots.gap_angles])
        turns = np.floor((angles + 0.5 * pole) / pole)
        potential = solution.potentials[k, 0, 0, nodes] * np.where(turns % 2 == 0, 1.0, -1.0)
        place = angles - turns * pole
        order = np.argsort(place, kind="stable")
        x = np.concatenate([place[order], place[order[:1]] + pole])
        a = np.concatenate([potential[order], -potential[order[:1]]])
        field = np.diff(a) / np.maximum(np.diff(x), 1e-9) / radius
        sector = np.searchsorted(x, middle, side="right") - 1
        # Before the first node lies the end of the last sector, one pole back: the other sign.
        out[k] = np.where(sector < 0, -field[-1], field[np.maximum(sector, 0)])
    return out
