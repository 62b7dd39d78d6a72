"""How the rotor's surface meets the stator's teeth and openings at every rotor position."""

from dataclasses import dataclass
from math import pi

import numpy as np

from models.circuit.gap import add_gap
from models.circuit.network import Array, IntArray, Network
from models.circuit.stator_table import SlotNodes
from models.constants import MU0
from models.geometry.air_gap import carter_factor
from models.machine import Machine


@dataclass(frozen=True, eq=False)
class SurfaceNodes:
    """Nodes on the rotor surface of one pole, in order of angle.

    Attributes
    ----------
    nodes : ndarray of int, shape (n,)
    angles : ndarray, shape (n,)
        From the pole's d axis [rad], in (-pi/2p, pi/2p]; the last lies on the pole boundary.
    radius : float
        Where they lie [m].
    """

    nodes: IntArray
    angles: Array
    radius: float


@dataclass(frozen=True, eq=False)
class Coupling:
    """Linear parts between rotor and stator at each rotor position.

    Attributes
    ----------
    stiffness : ndarray, shape (n_positions, n, n)
        Network and gap together [m/H].
    magnet_source : ndarray, shape (n_positions, n)
        Source per T of remanence of magnets that lie in the gap's own solution [m/H]; zero
        where all magnets are branches of the network.
    magnet_rows : ndarray, shape (n_positions, n_places, n)
    magnet_offsets : ndarray, shape (n_places,)
        Flux density along the magnetisation at places inside such magnets [T] is
        magnet_rows @ A + magnet_offsets * remanence; each place stands for the same area.
    """

    stiffness: Array
    magnet_source: Array
    magnet_rows: Array
    magnet_offsets: Array


def couple_by_sectors(
    machine: Machine,
    network: Network,
    slots: SlotNodes,
    surface: SurfaceNodes,
    rotor_angles: Array,
) -> Coupling:
    """Divide the gap into sectors between neighbouring nodes, see `models.circuit.gap`.

    Parameters
    ----------
    machine : Machine
    network : Network
    slots, surface : objects
        Nodes on both sides of the gap.
    rotor_angles : ndarray, shape (n_positions,)
        Mechanical angle of the rotor d axis in the stator [rad].
    """
    stator, p = machine.stator, machine.pole_pairs
    gap = stator.bore_radius - surface.radius
    gap_radius = 0.5 * (stator.bore_radius + surface.radius)
    carter = carter_factor(stator.slot_opening, gap, stator.bore_radius * stator.slot_pitch)
    count, n = len(rotor_angles), network.size
    stiffness = np.repeat(network.linear[None], count, axis=0)
    nodes = np.concatenate([surface.nodes, np.array(slots.gap_nodes, dtype=np.int64)])
    for k in range(count):
        add_gap(
            stiffness[k],
            nodes,
            np.concatenate([surface.angles + rotor_angles[k], slots.gap_angles]),
            pi / p,
            carter * gap / (MU0 * gap_radius),
        )
    return Coupling(
        stiffness=stiffness,
        magnet_source=np.zeros((count, n)),
        magnet_rows=np.zeros((count, 0, n)),
        magnet_offsets=np.zeros(0),
    )
