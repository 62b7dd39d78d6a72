"""Where every number of a network goes while it is solved, found once per rotor position."""

from typing import NamedTuple

import numba
import numpy as np

from models.circuit.network import CORNERS, Array, IntArray
from models.circuit.sparse import (
    SlotArray,
    elimination_targets,
    order_and_fill,
    packed_slots,
)

PAIRS = CORNERS * (CORNERS + 1) // 2
"""Pairs of the corners of a cell, each with itself included."""


class Elimination(NamedTuple):
    """Every position's unknowns in elimination order. First axis: rotor position.

    Attributes
    ----------
    order : ndarray of int, shape (n_positions, n)
        `order[p, k]` is the unknown eliminated k-th.
    start : ndarray of int, shape (n_positions, n + 1)
    rows, targets : ndarray of uint64, shape (n_positions, longest)
        Pattern of the lower factor and what its elimination changes, see `models.circuit.sparse`.
    cells : ndarray of uint64, shape (n_positions, n_cells, CORNERS)
        Corners of the iron cells, renumbered.
    pairs : ndarray of uint64, shape (n_positions, n_cells, PAIRS)
        Packed place of corner pair (a, b), b <= a, at a (a + 1) / 2 + b.
    linear : ndarray, shape (n_positions, n + longest)
        Linear stiffness, packed [m/H].
    """

    order: IntArray
    start: IntArray
    rows: SlotArray
    targets: SlotArray
    cells: SlotArray
    pairs: SlotArray
    linear: Array


class Plan(NamedTuple):
    """`Elimination` of one position."""

    start: IntArray
    rows: SlotArray
    targets: SlotArray
    cells: SlotArray
    pairs: SlotArray
    linear: Array


@numba.njit(cache=True, error_model="numpy")
def plan_at(elimination: Elimination, position: int) -> Plan:
    """Return the plan of one position."""
    return Plan(
        elimination.start[position],
        elimination.rows[position],
        elimination.targets[position],
        elimination.cells[position],
        elimination.pairs[position],
        elimination.linear[position],
    )


@numba.njit(cache=True, error_model="numpy")
def plan_elimination(stiffness: Array, cell_count: IntArray, cell_nodes: IntArray) -> Elimination:
    """Order every position's unknowns once; all solutions of a circuit share the result.

    Parameters
    ----------
    stiffness : ndarray, shape (n_positions, n, n)
        Linear stiffness [m/H].
    cell_count, cell_nodes : ndarray of int, shape (n_cells,), (n_cells, CORNERS)
        Iron cells.
    """
    n_p, n = stiffness.shape[0], stiffness.shape[1]
    n_cells = cell_nodes.shape[0]
    orders = np.empty((n_p, n), dtype=np.int64)
    starts = np.empty((n_p, n + 1), dtype=np.int64)
    found = [np.empty(0, dtype=np.int64) for _ in range(n_p)]
    longest, most = 0, 0
    for p in range(n_p):
        pattern = stiffness[p].copy()
        for c in range(n_cells):
            for a in range(cell_count[c]):
                for b in range(cell_count[c]):
                    pattern[cell_nodes[c, a], cell_nodes[c, b]] = 1.0
        orders[p], starts[p], found[p] = order_and_fill(pattern)
        longest = max(longest, found[p].shape[0])
        changed = 0
        for k in range(n):
            count = starts[p, k + 1] - starts[p, k]
            changed += count * (count + 1) // 2
        most = max(most, changed)
    all_rows = np.zeros((n_p, longest), dtype=np.uint64)
    all_targets = np.zeros((n_p, most), dtype=np.uint64)
    cells = np.zeros((n_p, n_cells, CORNERS), dtype=np.uint64)
    pairs = np.zeros((n_p, n_cells, PAIRS), dtype=np.uint64)
    linear = np.zeros((n_p, n + longest))
    place = np.empty(n, dtype=np.int64)
    for p in range(n_p):
        order, start, rows = orders[p], starts[p], found[p]
        slots = packed_slots(start, rows)
        targets = elimination_targets(start, rows, slots)
        all_rows[p, : rows.shape[0]] = rows
        all_targets[p, : targets.shape[0]] = targets
        for k in range(n):
            place[order[k]] = k
            linear[p, k] = stiffness[p, order[k], order[k]]
            for a in range(start[k], start[k + 1]):
                linear[p, n + a] = stiffness[p, order[rows[a]], order[k]]
        for c in range(n_cells):
            for a in range(cell_count[c]):
                i = place[cell_nodes[c, a]]
                cells[p, c, a] = i
                for b in range(a + 1):
                    j = place[cell_nodes[c, b]]
                    pairs[p, c, a * (a + 1) // 2 + b] = slots[max(i, j), min(i, j)]
    return Elimination(orders, starts, all_rows, all_targets, cells, pairs, linear)
