"""Flux-density waveforms in the stator, read off the solved rotor positions."""

from dataclasses import dataclass

import numba
import numpy as np

from models.circuit.network import Array, IntArray
from models.circuit.solution import Circuit, Solution

BELTS = 3
"""Phase belts of a pole."""
_STATOR_PARTS = ("tooth", "tip", "yoke")


@dataclass(frozen=True, eq=False)
class Waveforms:
    """Flux density in the stator over half an electrical period; the other half is its negative.

    Attributes
    ----------
    first, second : ndarray, shape (n_d, n_q, n_cells, n_samples)
        Orthogonal components of the field in the cells of one phase belt [T].
    largest : ndarray, shape (n_d, n_q, n_cells)
        Largest magnitude [T].
    masses : ndarray, shape (n_cells,)
        Iron mass of all cells alike in the machine [kg].
    is_tooth, is_yoke : ndarray of bool, shape (n_cells,)
    """

    first: Array
    second: Array
    largest: Array
    masses: Array
    is_tooth: Array
    is_yoke: Array


def stator_waveforms(circuit: Circuit, solution: Solution) -> Waveforms:
    """Read the stator's flux-density waveforms off the solved positions.

    A tooth one phase belt further on sees the same field one sixth of a period later, so the
    three belts of a pole at n positions give 3 n uniform samples of half a period.
    """
    network, machine = circuit.network, circuit.machine
    stator = [k for k, part in enumerate(network.cell_part) if part in _STATOR_PARTS]
    count = len(stator) // BELTS
    positions, n_d, n_q, size = solution.potentials.shape
    first, second, largest = _read(
        solution.potentials.reshape(positions, n_d * n_q, size),
        network.cell_nodes[stator],
        network.cell_gradient[stator],
        count,
    )
    area = network.cell_area[stator[:count]]
    parts = np.array([network.cell_part[k] for k in stator[:count]])
    return Waveforms(
        first=first.reshape(n_d, n_q, count, -1),
        second=second.reshape(n_d, n_q, count, -1),
        largest=largest.reshape(n_d, n_q, count),
        masses=area * machine.stack_length * machine.lamination.density * 6 * machine.pole_pairs,
        is_tooth=parts == "tooth",
        is_yoke=parts == "yoke",
    )


@numba.njit(cache=True, error_model="numpy")
def _read(
    potentials: Array, nodes: IntArray, gradient: Array, count: int
) -> tuple[Array, Array, Array]:
    """Return both components, shape (n_points, count, 3 n_positions), and the largest magnitude.

    Belt b at position j is sample j - n b of half a period, the negative of that half a period
    later.
    """
    n_p, n_points, _ = potentials.shape
    samples = BELTS * n_p
    first = np.empty((n_points, count, samples))
    second = np.empty((n_points, count, samples))
    largest = np.zeros((n_points, count))
    for m in range(n_points):
        for belt in range(BELTS):
            for p in range(n_p):
                place = p - n_p * belt
                sign = -1.0 if place < 0 else 1.0
                place %= samples
                for c in range(count):
                    cell = belt * count + c
                    x, y = 0.0, 0.0
                    for a in range(nodes.shape[1]):
                        value = potentials[p, m, nodes[cell, a]]
                        x += gradient[cell, 0, a] * value
                        y += gradient[cell, 1, a] * value
                    first[m, c, place] = sign * x
                    second[m, c, place] = sign * y
                    largest[m, c] = max(largest[m, c], x * x + y * y)
    return first, second, np.sqrt(largest)
