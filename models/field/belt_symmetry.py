"""Fields at rotor positions not yet solved, from those of one phase belt by symmetry.

A phase belt (60 electrical degrees) later the rotor sees the same field, and so does the stator
one belt further on. Positions over one belt therefore tell a whole period of every unknown, and a
trigonometric interpolation of it is a good first guess in between.
"""

import numpy as np
from numpy.typing import NDArray

from models.field.assemble import System
from models.field.fine_positions import interpolant
from models.field.machine_field import FieldModel

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


def belt_later(system: System, belts: int) -> tuple[IntArray, Array]:
    """Return which unknown, times which sign, each stator unknown equals some belts later.

    Parameters
    ----------
    system : System
        Equations of one pole whose rotor has no slots and whose slots per pole are divisible by
        three.
    belts : int
        0, 1 or 2.

    Returns
    -------
    source : ndarray of int, shape (size + 1,)
        A(t + belts) = sign A(t)[source]; rotor unknowns are their own source.
    sign : ndarray, shape (size + 1,)
    """
    pitches = sum(r.part == "stator_core" for r in system.regions)
    nodes = _stator_nodes(system).reshape(pitches, -1)
    unknown, sign = system.unknown[nodes], system.sign[nodes]
    moved = np.arange(pitches) - belts * (pitches // 3)
    # a pitch before the first is the last but one pole earlier: the opposite field
    turn = np.where(moved < 0, -1.0, 1.0)[:, None]
    source, ratio = np.arange(system.size + 1), np.ones(system.size + 1)
    source[unknown] = unknown[moved % pitches]
    ratio[unknown] = turn * sign * sign[moved % pitches]
    source[-1], ratio[-1] = system.size, 0.0
    return source, ratio


def half_way(model: FieldModel, potential: Array) -> Array:
    """Interpolate potentials to the positions half way between those of one phase belt.

    Parameters
    ----------
    model : FieldModel
        Equations.
    potential : ndarray, shape (n, ..., size + 1)
        At positions k pi / (3 n), electrical [Wb/m].

    Returns
    -------
    ndarray, shape (n, ..., size + 1)
        At (k + 1/2) pi / (3 n).
    """
    system, n = model.system, len(potential)
    out = np.tensordot(interpolant(n, 2)[:, 1::2].T, potential, axes=1)
    weights = interpolant(6 * n, 2)[:, 1 : 2 * n : 2]
    weights = weights[: 3 * n] - weights[3 * n :]  # the second half of a period is minus the first
    stator = np.zeros_like(out)
    for belts in range(3):
        source, sign = belt_later(system, belts)
        share = weights[n * belts : n * (belts + 1)].T
        stator += np.tensordot(share, potential[..., source] * sign, axes=1)
    own = np.unique(system.unknown[_stator_nodes(system)])
    out[..., own] = stator[..., own]
    out[..., -1] = 0.0
    return out


def _stator_nodes(system: System) -> IntArray:
    """Return the nodes of the stator's elements, pitch by pitch: copies of one mesh."""
    members = [k for k, r in enumerate(system.regions) if r.slot is not None]
    return system.element_nodes[np.isin(system.region, members)]
