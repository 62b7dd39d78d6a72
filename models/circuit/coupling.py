"""How the rotor's surface meets the stator's teeth and openings at every rotor position."""

from dataclasses import dataclass
from math import asin

import numpy as np

from models.circuit.gap import NO_OPENINGS, Openings, add_gap
from models.circuit.network import Array, IntArray, Network
from models.circuit.stator_table import SlotNodes
from models.constants import MU0
from models.geometry.air_gap import carter_factor, opening_factor
from models.geometry.sector import Sector
from models.machine import Machine


@dataclass(frozen=True, eq=False)
class SurfaceNodes:
    """Nodes on the rotor surface, in order of angle: of one pole, or of all poles of a sector.

    Attributes
    ----------
    nodes : ndarray of int, shape (n,)
    angles : ndarray, shape (n,)
        From the first pole's d axis [rad], from -pi/2p (excluded); the last lies on the last
        pole's boundary.
    radius : float
        Where they lie [m].
    signs : ndarray, shape (n,)
        Sign of the potential there over that of the node: -1 on odd poles.
    """

    nodes: IntArray
    angles: Array
    radius: float
    signs: Array

    @classmethod
    def of_pole(cls, nodes: list[int], angles: list[float], radius: float) -> "SurfaceNodes":
        """Return nodes of one pole."""
        return cls(np.array(nodes, dtype=np.int64), np.array(angles), radius, np.ones(len(nodes)))

    def of_sector(self, network: Network, pole_pitch: float) -> "SurfaceNodes":
        """Return this pole's nodes on every pole of a network, `pole_pitch` [rad] apart."""
        pole = np.arange(network.poles)[:, None]
        return SurfaceNodes(
            nodes=network.of_every_pole(self.nodes).ravel(),
            angles=(self.angles + pole * pole_pitch).ravel(),
            radius=self.radius,
            signs=(np.where(pole % 2 == 0, 1.0, -1.0) * self.signs).ravel(),
        )


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
        Pole after pole.
    magnet_offsets : ndarray, shape (n_places,)
        Flux density along the magnetisation at places inside such magnets [T] is
        magnet_rows @ A + magnet_offsets * remanence; each place stands for the same area.
    """

    stiffness: Array
    magnet_source: Array
    magnet_rows: Array
    magnet_offsets: Array


def gap_factors(
    machine: Machine, slots: SlotNodes, gap: float, *, is_local: bool = False
) -> tuple[float, Openings]:
    """Return how much longer the gap [m] looks everywhere, and in front of openings.

    Carter's factor for all of it, or where the edges of teeth have nodes (and with `is_local`) 1
    under them and the rest of the same lengthening in front of the openings.
    """
    stator, half = machine.stator, slots.opening_half_angle
    if is_local:
        half = asin(0.5 * stator.slot_opening / stator.bore_radius)
    at = (float(slots.angles[0]), stator.slot_pitch, half)
    if half > 0.0:
        return 1.0, Openings(*at, opening_factor(stator.slot_opening, gap))
    pitch = stator.bore_radius * stator.slot_pitch
    return carter_factor(stator.slot_opening, gap, pitch), Openings(*at, 1.0)


def couple_by_sectors(
    machine: Machine,
    network: Network,
    slots: SlotNodes,
    surface: SurfaceNodes,
    rotor_angles: Array,
    sector: Sector,
    *,
    rotor_openings: Openings | None = None,
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
    sector : Sector
        What the network covers.
    rotor_openings : Openings, optional
        Of a rotor with slots, at rotor angle zero.

    Notes
    -----
    Openings lengthen the gap in front of them alone, by as much as Carter's factor does over a
    pitch: a tooth takes the flux of its face, not of a slot pitch, on which the harmonics of the
    tooth flux depend, and what crosses from tooth to tooth depends on how both sides' overlap.
    """
    stator = machine.stator
    gap = stator.bore_radius - surface.radius
    gap_radius = 0.5 * (stator.bore_radius + surface.radius)
    carter, openings = gap_factors(machine, slots, gap, is_local=True)
    own = rotor_openings or NO_OPENINGS
    count, n = len(rotor_angles), network.size
    stiffness = np.repeat(network.linear[None], count, axis=0)
    nodes = np.concatenate([surface.nodes, np.array(slots.gap_nodes, dtype=np.int64)])
    signs = np.concatenate([surface.signs, np.ones(len(slots.gap_nodes))])
    for k in range(count):
        add_gap(
            stiffness[k],
            nodes,
            np.concatenate([surface.angles + rotor_angles[k], slots.gap_angles]),
            signs,
            sector.angle,
            sector.sign,
            carter * gap / (MU0 * gap_radius),
            openings,
            own._replace(first=own.first + rotor_angles[k]),
        )
    return Coupling(
        stiffness=stiffness,
        magnet_source=np.zeros((count, n)),
        magnet_rows=np.zeros((count, 0, n)),
        magnet_offsets=np.zeros(0),
    )
