"""Air gap between rotor surface and slot openings at any rotor angle.

Surface nodes and slot-opening nodes, sorted by angle, divide the gap into sectors; flux through a
sector is the difference of the potentials at its ends. The rotor angle enters only here and in
the currents. Slot-opening nodes are linear and are eliminated before Newton's method starts.
"""

import numba
import numpy as np

from models.circuit.network import Array, IntArray

LEAST_SECTOR = 1e-4
"""Smallest sector over the pole pitch: two nodes at one angle are tied, not divided by zero."""


@numba.njit(cache=True, error_model="numpy")
def add_gap(
    stiffness: Array,
    surface_nodes: IntArray,
    surface_angles: Array,
    opening_angles: Array,
    opening_tops: IntArray,
    rotor_angle: float,
    pole_pitch: float,
    gap_stiffness: float,
    opening_stiffness: float,
) -> None:
    """Add gap sectors and slot openings to a stiffness matrix in place.

    Parameters
    ----------
    stiffness : ndarray, shape (n, n)
        Changed in place [m/H].
    surface_nodes, surface_angles : ndarray, shape (n_surface,)
        Rotor surface nodes and their angles from the d axis [rad].
    opening_angles, opening_tops : ndarray, shape (n_slots,)
        Slot axes [rad] and the slot-top nodes.
    rotor_angle : float
        Mechanical angle of the rotor d axis [rad].
    pole_pitch : float
        [rad].
    gap_stiffness : float
        k_C g / (mu0 r) [m rad/H]: divided by a sector's angle it is the sector's stiffness.
    opening_stiffness : float
        Between opening node and slot top [m/H].
    """
    n = stiffness.shape[0]
    n_s = surface_nodes.shape[0]
    n_o = opening_angles.shape[0]
    total = n_s + n_o
    angle = np.empty(total)
    sign = np.empty(total)
    half = 0.5 * pole_pitch
    for k in range(total):
        a = surface_angles[k] + rotor_angle if k < n_s else opening_angles[k - n_s]
        turns = np.floor((a + half) / pole_pitch)
        angle[k] = a - turns * pole_pitch
        sign[k] = 1.0 if int(turns) % 2 == 0 else -1.0
    order = np.argsort(angle, kind="mergesort")

    # Enlarged matrix: network nodes first, opening nodes after them.
    size = n + n_o
    full = np.zeros((size, size))
    full[:n, :n] = stiffness
    least = LEAST_SECTOR * pole_pitch
    for k in range(total):
        i = order[k]
        j = order[k + 1] if k + 1 < total else order[0]
        width = angle[j] - angle[i]
        si, sj = sign[i], sign[j]
        if k + 1 == total:
            width += pole_pitch
            sj = -sj
        s = gap_stiffness / max(width, least)
        row_i = surface_nodes[i] if i < n_s else n + i - n_s
        row_j = surface_nodes[j] if j < n_s else n + j - n_s
        full[row_i, row_i] += s
        full[row_j, row_j] += s
        full[row_i, row_j] -= s * si * sj
        full[row_j, row_i] -= s * si * sj
    for k in range(n_o):
        t = opening_tops[k]
        full[n + k, n + k] += opening_stiffness
        full[t, t] += opening_stiffness
        full[n + k, t] -= opening_stiffness
        full[t, n + k] -= opening_stiffness

    # Eliminate opening nodes, last first.
    for k in range(size - 1, n - 1, -1):
        pivot = full[k, k]
        for i in range(k):
            factor = full[k, i] / pivot
            if factor != 0.0:
                for j in range(k):
                    full[i, j] -= factor * full[k, j]
    stiffness[:, :] = full[:n, :n]
