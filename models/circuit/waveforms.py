"""Flux-density waveforms in stator and rotor, read off the solved rotor positions."""

from dataclasses import dataclass

import numba
import numpy as np

from models.circuit.network import Array, IntArray
from models.circuit.solution import Circuit, Solution
from models.constants import MU0
from models.materials.reluctivity import ReluctivityTable

_STATOR_PARTS = ("tooth", "tip", "yoke")


@dataclass(frozen=True, eq=False)
class Waveforms:
    """Flux density in the stator over half an electrical period; the other half is its negative.

    Attributes
    ----------
    first, second : ndarray, shape (n_d, n_q, n_cells, n_samples)
        Orthogonal components of the field in the cells of one slot pitch of each kind [T].
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

    Slots of one kind see the same field at other times (`Sector.sixths`), so that three of them at
    n positions give 3 n uniform samples of half a period.
    """
    network, machine, sector = circuit.network, circuit.machine, circuit.sector
    stator = [k for k, part in enumerate(network.cell_part) if part in _STATOR_PARTS]
    per_slot, kinds = len(stator) // sector.slots, len(sector.unlike_slots)
    count = kinds * per_slot
    slots, signs = sector.sixths
    cells = slots[:, :, None] * per_slot + np.arange(per_slot)
    positions, n_d, n_q, size = solution.potentials.shape
    first, second, largest = _read(
        solution.potentials.reshape(positions, n_d * n_q, size),
        network.cell_nodes[stator],
        network.cell_gradient[stator],
        cells.reshape(3, count),
        np.repeat(signs, per_slot, axis=1),
    )
    first, second = (x.reshape(n_d, n_q, count, -1) for x in (first, second))
    largest = largest.reshape(n_d, n_q, count)
    own = sector.unlike_slots[:, None] * per_slot + np.arange(per_slot)
    chosen = np.array(stator)[own.ravel()]
    area = network.cell_area[chosen]
    parts = np.array([network.cell_part[k] for k in chosen.tolist()])
    shares = circuit.iron_shares[chosen]
    if np.any(shares < 1.0):
        factor = _iron_over_mean(circuit, chosen, first**2 + second**2)
        first, second, area = first * factor, second * factor, area * shares
        largest = np.sqrt((first**2 + second**2).max(axis=-1))
    return Waveforms(
        first=first,
        second=second,
        largest=largest,
        masses=area * machine.stack_length * machine.lamination.density
        * (sector.all_slots // kinds),
        is_tooth=parts == "tooth",
        is_yoke=parts == "yoke",
    )  # fmt: skip


def _iron_over_mean(circuit: Circuit, cells: IntArray, squared: Array) -> Array:
    """Return the iron's flux density over the mean of iron and air beside it.

    From the mean's square, shape (..., cells, samples):  B = k B_iron + (1 - k) mu0 H.
    """
    iron = circuit.iron
    out = np.empty_like(squared)
    for table in np.unique(iron.table[cells]).tolist():
        at = iron.table[cells] == table
        share = circuit.iron_shares[cells[at][0]]
        nu, _ = ReluctivityTable(iron.step[table], iron.nu[table], iron.slope[table])(
            squared[..., at, :]
        )
        out[..., at, :] = (1.0 - (1.0 - share) * MU0 * nu) / share
    return out


def channel_waveforms(circuit: Circuit, solution: Solution) -> tuple[Array, Array, Array]:
    """Read the flux density in the iron between barriers of one rotor pole over its period.

    Returns
    -------
    first, second : ndarray, shape (n_d, n_q, n_cells, n_samples)
        Orthogonal components [T]; without such iron n_cells is 0. One pole's period is one phase
        belt, that of several as many belts (`Sector.pole_sequence`).
    masses : ndarray, shape (n_cells,)
        Iron mass of all cells alike in the machine [kg].
    """
    network, machine, sector = circuit.network, circuit.machine, circuit.sector
    channel = [k for k, part in enumerate(network.cell_part) if part == "channel"]
    count = len(channel) // sector.poles
    positions, n_d, n_q, size = solution.potentials.shape
    if count == 0:
        none = np.zeros((n_d, n_q, 0, positions * sector.poles))
        return none, none, np.zeros(0)
    cells = sector.pole_sequence[:, None] * count + np.arange(count)
    first, second, _ = _read(
        solution.potentials.reshape(positions, n_d * n_q, size),
        network.cell_nodes[channel],
        network.cell_gradient[channel],
        cells,
        np.ones(cells.shape),
    )
    density = machine.lamination.density
    masses = network.cell_area[channel[:count]] * machine.stack_length * density
    return (
        first.reshape(n_d, n_q, count, -1),
        second.reshape(n_d, n_q, count, -1),
        masses * 2 * machine.pole_pairs,
    )


@numba.njit(cache=True, error_model="numpy")
def _read(
    potentials: Array, nodes: IntArray, gradient: Array, cells: IntArray, signs: Array
) -> tuple[Array, Array, Array]:
    """Return both components, shape (n_points, count, m n_positions), and the largest magnitude.

    `cells` and `signs`, shape (m, count), are the cells whose field a cell has now and 1, 2 ..
    sixths of a period later.
    """
    n_p, n_points, _ = potentials.shape
    sixths, count = cells.shape
    samples = sixths * n_p
    first = np.empty((n_points, count, samples))
    second = np.empty((n_points, count, samples))
    largest = np.zeros((n_points, count))
    for m in range(n_points):
        for sixth in range(sixths):
            for p in range(n_p):
                place = sixth * n_p + p
                for c in range(count):
                    cell, sign = cells[sixth, c], signs[sixth, c]
                    x, y = 0.0, 0.0
                    for a in range(nodes.shape[1]):
                        value = potentials[p, m, nodes[cell, a]]
                        x += gradient[cell, 0, a] * value
                        y += gradient[cell, 1, a] * value
                    first[m, c, place] = sign * x
                    second[m, c, place] = sign * y
                    largest[m, c] = max(largest[m, c], x * x + y * y)
    return first, second, np.sqrt(largest)
