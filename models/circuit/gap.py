"""Air gap between rotor surface and slot openings at any rotor angle.

Surface nodes and slot-opening nodes, sorted by angle, divide the gap into sectors; flux through a
sector is the difference of the potentials at its ends. The rotor angle enters only here and in
the currents.
"""

from typing import NamedTuple

import numba
import numpy as np

from models.circuit.network import Array, IntArray

LEAST_SECTOR = 1e-6
"""Smallest sector over the angle covered: two nodes at one angle are tied, not divided by zero."""


class Openings(NamedTuple):
    """Slot openings in front of which the gap looks longer.

    Attributes
    ----------
    first, pitch : float
        Angle of one slot axis, and from one to the next [rad].
    half_angle : float
        Half the angle of an opening [rad]; 0 if their effect is spread over the gap.
    factor : float
        Length of the gap in front of an opening over that of the plain gap.
    """

    first: float
    pitch: float
    half_angle: float
    factor: float


NO_OPENINGS = Openings(0.0, 1.0, 0.0, 1.0)


@numba.njit(cache=True, error_model="numpy")
def _share_open(low: float, high: float, openings: Openings) -> tuple[float, float]:
    """Return where the opening nearest to a sector's middle begins and ends within the sector."""
    axis = openings.first + openings.pitch * np.round(
        (0.5 * (low + high) - openings.first) / openings.pitch
    )
    begin = min(max(axis - openings.half_angle, low), high)
    end = min(max(axis + openings.half_angle, low), high)
    return begin, end


@numba.njit(cache=True, error_model="numpy")
def effective_width(low: float, high: float, stator: Openings, rotor: Openings) -> float:
    """Return the angle of plain gap that carries as much as a sector from low to high [rad].

    In front of an opening the gap is `factor` times as long; where openings face each other both
    add to its length. No more than one opening of each side lies in a sector.
    """
    s0, s1 = _share_open(low, high, stator)
    r0, r1 = _share_open(low, high, rotor)
    both = max(min(s1, r1) - max(s0, r0), 0.0)
    width = high - low - (s1 - s0) - (r1 - r0) + both
    width += (s1 - s0 - both) / stator.factor + (r1 - r0 - both) / rotor.factor
    return width + both / (stator.factor + rotor.factor - 1.0)


@numba.njit(cache=True, error_model="numpy")
def add_gap(
    stiffness: Array,
    nodes: IntArray,
    angles: Array,
    signs: Array,
    span: float,
    wrap: float,
    gap_stiffness: float,
    openings: Openings,
    rotor_openings: Openings,
) -> None:
    """Add gap sectors to a stiffness matrix in place.

    Parameters
    ----------
    stiffness : ndarray, shape (n, n)
        Changed in place [m/H].
    nodes : ndarray of int, shape (m,)
        Rotor-surface and slot-opening nodes.
    angles : ndarray, shape (m,)
        Their angles in the stator [rad]; reduced to the angle covered, with the sign that goes
        with it.
    signs : ndarray, shape (m,)
        Sign of the potential at these angles over that of the node.
    span, wrap : float
        Angle covered [rad], and the sign that the potential changes by over it.
    gap_stiffness : float
        k_C g / (mu0 r) [m rad/H]: divided by a sector's angle it is the sector's stiffness.
    openings, rotor_openings : Openings
        Of both sides, in the stator's angles.
    """
    total = nodes.shape[0]
    angle = np.empty(total)
    sign = np.empty(total)
    half = 0.5 * span
    for k in range(total):
        turns = np.floor((angles[k] + half) / span)
        angle[k] = angles[k] - turns * span
        sign[k] = signs[k] if int(turns) % 2 == 0 else wrap * signs[k]
    order = np.argsort(angle, kind="mergesort")
    least = LEAST_SECTOR * span
    for k in range(total):
        i = order[k]
        j = order[k + 1] if k + 1 < total else order[0]
        width = angle[j] - angle[i]
        factor = sign[i] * sign[j]
        if k + 1 == total:
            width += span
            factor = wrap * factor
        width = effective_width(angle[i], angle[i] + width, openings, rotor_openings)
        s = gap_stiffness / max(width, least)
        a, b = nodes[i], nodes[j]
        stiffness[a, a] += s
        stiffness[b, b] += s
        stiffness[a, b] -= s * factor
        stiffness[b, a] -= s * factor
