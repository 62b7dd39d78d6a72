"""Air gap between rotor surface and slot openings at any rotor angle.

Surface nodes and slot-opening nodes, sorted by angle, divide the gap into sectors; flux through a
sector is the difference of the potentials at its ends. The rotor angle enters only here and in
the currents.
"""

import numba
import numpy as np

from models.circuit.network import Array, IntArray

LEAST_SECTOR = 1e-6
"""Smallest sector over the pole pitch: two nodes at one angle are tied, not divided by zero."""


@numba.njit(cache=True, error_model="numpy")
def add_gap(
    stiffness: Array,
    nodes: IntArray,
    angles: Array,
    pole_pitch: float,
    gap_stiffness: float,
) -> None:
    """Add gap sectors to a stiffness matrix in place.

    Parameters
    ----------
    stiffness : ndarray, shape (n, n)
        Changed in place [m/H].
    nodes : ndarray of int, shape (m,)
        Rotor-surface and slot-opening nodes.
    angles : ndarray, shape (m,)
        Their angles in the stator [rad]; reduced to one pole, with the sign that goes with it.
    pole_pitch : float
        [rad].
    gap_stiffness : float
        k_C g / (mu0 r) [m rad/H]: divided by a sector's angle it is the sector's stiffness.
    """
    total = nodes.shape[0]
    angle = np.empty(total)
    sign = np.empty(total)
    half = 0.5 * pole_pitch
    for k in range(total):
        turns = np.floor((angles[k] + half) / pole_pitch)
        angle[k] = angles[k] - turns * pole_pitch
        sign[k] = 1.0 if int(turns) % 2 == 0 else -1.0
    order = np.argsort(angle, kind="mergesort")
    least = LEAST_SECTOR * pole_pitch
    for k in range(total):
        i = order[k]
        j = order[k + 1] if k + 1 < total else order[0]
        width = angle[j] - angle[i]
        factor = sign[i] * sign[j]
        if k + 1 == total:
            width += pole_pitch
            factor = -factor
        s = gap_stiffness / max(width, least)
        a, b = nodes[i], nodes[j]
        stiffness[a, a] += s
        stiffness[b, b] += s
        stiffness[a, b] -= s * factor
        stiffness[b, a] -= s * factor
