"""Stator and equal rotor poles joined to the network of one sector."""

import numpy as np

from models.circuit.network import IntArray, Network, NetworkBuilder


def join(stator: NetworkBuilder, rotor: NetworkBuilder, poles: int) -> Network:
    """Freeze the tables of a stator and of `poles` equal rotor poles, one after the other.

    Parameters
    ----------
    stator : NetworkBuilder
        Over the whole sector.
    rotor : NetworkBuilder
        One pole; the pole before the first is the last.
    poles : int
        Poles of the sector.

    Notes
    -----
    Potentials of odd poles are counted negative (`models.circuit.network`): over a sector of odd
    poles, where the field changes sign, and of even poles, where it does not, the pole before the
    first is in these terms the last one with its sign unchanged.
    """
    still, one = stator.table(), rotor.table()
    start, own = still.size, one.size
    size = start + poles * own

    def placed(nodes: IntArray, pole: int) -> IntArray:
        here, there = start + pole * own, start + (pole - 1) % poles * own
        return np.where(nodes >= 0, nodes + here, there - 2 - nodes)

    linear, source = np.zeros((size, size)), np.zeros(size)
    count = len(one.segment_offsets)
    segments = np.zeros((poles * count, size))
    np.add.at(linear, (still.entries[:, 0], still.entries[:, 1]), still.entry_values)
    for pole in range(poles):
        i, j = placed(one.entries, pole).T
        np.add.at(linear, (i, j), one.entry_values)
        np.add.at(source, placed(one.sources, pole), one.source_values)
        rows = one.segments[:, 0] + pole * count
        np.add.at(segments, (rows, placed(one.segments[:, 1], pole)), one.segment_values)
    return Network(
        size=size,
        cell_count=np.concatenate([still.counts, *[one.counts] * poles]),
        cell_nodes=np.concatenate([still.cells, *(placed(one.cells, k) for k in range(poles))]),
        cell_gradient=np.concatenate([still.gradients, *[one.gradients] * poles]),
        cell_area=np.concatenate([still.areas, *[one.areas] * poles]),
        cell_part=still.parts + one.parts * poles,
        cell_beside=np.concatenate([still.beside, *[one.beside] * poles]),
        linear=linear,
        magnet_source=source,
        magnet_segments=segments,
        magnet_offsets=np.tile(one.segment_offsets, poles),
        rotor_start=start,
        rotor_size=own,
        poles=poles,
    )
