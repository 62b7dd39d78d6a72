"""Radial flux density in the air gap from the solved network."""

import numba
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
    return np.asarray(_read(place, potential, middle, span, sector.sign)) / radius


@numba.njit(cache=True, error_model="numpy")
def _read(place: Array, potential: Array, middle: Array, span: float, sign: float) -> Array:
    """Return slopes of the potential at `middle`, even between neighbouring nodes, per position."""
    n_p, n = place.shape
    out = np.empty((n_p, middle.shape[0]))
    x, a = np.empty(n + 2), np.empty(n + 2)
    for p in range(n_p):
        order = np.argsort(place[p], kind="mergesort")
        for k in range(n):
            x[k + 1], a[k + 1] = place[p, order[k]], potential[p, order[k]]
        # One sector back the last node, one on the first.
        x[0], a[0] = x[n] - span, sign * a[n]
        x[n + 1], a[n + 1] = x[1] + span, sign * a[1]
        k = 0
        for m in range(middle.shape[0]):
            while k < n and x[k + 1] <= middle[m]:
                k += 1
            out[p, m] = (a[k + 1] - a[k]) / max(x[k + 1] - x[k], 1e-9)
    return out
