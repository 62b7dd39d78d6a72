"""The network of a cage machine in rotor-flux axes: assembled, solved, read.

Nothing is at slip frequency in these axes: bars carry a sine wave of current along q, and its
amplitude leaves the rotor no linkage along q. See `docs/decisions/013-cage-machine.md`.
"""

from dataclasses import dataclass, replace
from functools import partial
from math import pi

import numpy as np

from models.circuit.cage_pole import CagePole, cage_pole
from models.circuit.cage_table import add_cage_rotor
from models.circuit.coupling import Coupling, SurfaceNodes, couple_by_sectors
from models.circuit.families import RotorNetwork
from models.circuit.gap import Openings
from models.circuit.network import Array, Network
from models.circuit.solution import (
    Circuit,
    Solution,
    assemble_with,
    linkages,
    position_count,
    solve,
)
from models.circuit.stator_table import SlotNodes
from models.constants import MU0
from models.geometry.air_gap import opening_factor
from models.geometry.sector import Sector, sector_of
from models.machine import Machine

TOLERANCE = 1e-3
"""Residual over load at which a point counts as solved: linkages are then within 1e-4."""
NO_MAGNETS = 20.0
"""Magnet temperature that stands for none [degC]."""


@dataclass(frozen=True, eq=False)
class CageNetwork:
    """Network of a machine with a cage.

    Attributes
    ----------
    circuit : Circuit
        Unknown `rotor_start - 1` is the amplitude of the bars' current over `current_unit`.
    pole : CagePole
    current_unit : float
        Bar current [A] per unit of that unknown [A/(Wb/m)].
    bar_ratio : float
        Amplitude of the bars' current (those of `pole`) over the referred rotor current.
    """

    circuit: Circuit
    pole: CagePole
    current_unit: float
    bar_ratio: float


@dataclass(frozen=True, eq=False)
class CageStates:
    """States over a grid of stator currents, means over rotor positions, shape (n_d, n_q).

    Attributes
    ----------
    solution : Solution
    psi_d, psi_q : ndarray
        Stator linkages without end winding [Wb].
    rotor_flux : ndarray
        Referred linkage of the rotor along d, rings and bars' own leakage included [Wb].
    rotor_current : ndarray
        Referred current along q, negative when motoring [A].
    """

    solution: Solution
    psi_d: Array
    psi_q: Array
    rotor_flux: Array
    rotor_current: Array


def assemble_cage_network(
    machine: Machine, *, ring_inductance: float, effective_turns: float
) -> CageNetwork:
    """Build the network of a cage machine without skew.

    Parameters
    ----------
    machine : Machine
    ring_inductance : float
        The rings' leakage inductance referred to a stator phase [H].
    effective_turns : float
        Series turns of a phase times winding factor.

    Returns
    -------
    CageNetwork
    """
    pole, sector = cage_pole(machine), sector_of(machine)
    stator = machine.stator
    mean_radius = 0.5 * (stator.bore_radius + pole.rotor.outer_radius)
    ratio = 6.0 * effective_turns / (2 * machine.pole_pairs * pole.count)
    # unsaturated linkage of one pole's bars, weighted by their wave, per ampere of its amplitude
    unit = machine.air_gap * pi * machine.pole_pairs / (MU0 * mean_radius * 0.5 * pole.count**2)
    length = 2 * machine.pole_pairs / sector.poles * machine.stack_length
    leakage = 1.5 * ring_inductance / (ratio**2 * length)
    rotor = RotorNetwork(
        partial(add_cage_rotor, pole=pole),
        lambda machine, field, remanence: remanence,
        partial(_couple, pole=pole, unit=unit, leakage=leakage),
        has_slot_flux=True,
    )
    count = position_count(sector.passings)
    circuit = assemble_with(machine, sector, rotor, count=count, own_nodes=1)
    return CageNetwork(circuit, pole, unit, ratio)


def wave_along_q(pole: CagePole) -> Array:
    """Return the share of each bar in a current of amplitude 1 along q."""
    return np.asarray(-np.cos(pole.angles))


def _couple(
    machine: Machine,
    network: Network,
    slots: SlotNodes,
    surface: SurfaceNodes,
    rotor_angles: Array,
    sector: Sector,
    *,
    pole: CagePole,
    unit: float,
    leakage: float,
) -> Coupling:
    """Couple by the gap's sectors and add the equation of the bars' current.

    Notes
    -----
    With the current I w_k of bar k and its mean potential  m_k . A + s I w_k  the rotor's linkage
    along q vanishes where  w . (m A) + (s w . w + L) I = 0, L being the rings' leakage. Row and
    column of I are alike but for the sign of the row, which is turned, so the matrix stays
    symmetric; it is no longer definite, but its two blocks are, one each way, and so its L D L^T
    factors exist in any order (R. J. Vanderbei, SIAM J. Optim. 5(1) 100, 1995, from memory).
    """
    gap, r = machine.air_gap, pole.rotor
    first = float(pole.angles[0]) / pole.pole_pairs
    openings = Openings(first, pole.pitch, 0.0, 1.0)
    if pole.opening > 0.0:
        half, factor = 0.5 * pole.opening / r.outer_radius, opening_factor(r.opening_width, gap)
        openings = Openings(first, pole.pitch, half, factor)
    coupling = couple_by_sectors(
        machine, network, slots, surface, rotor_angles, sector, rotor_openings=openings
    )
    wave, body, k = wave_along_q(pole), pole.body, network.rotor_start - 1
    stiffness = coupling.stiffness
    for nodes, share in ((pole.bottom, 1.0 - body.mean_top), (pole.top, body.mean_top)):
        for side in nodes:
            at = network.of_every_pole(side)
            stiffness[:, k, at] = stiffness[:, at, k] = -0.5 * unit * share * wave
    own = MU0 * body.own_permeance * sector.poles * float(wave @ wave)
    stiffness[:, k, k] = -(unit**2) * (own + leakage)
    return replace(coupling, stiffness=stiffness)


def solve_cage(cage: CageNetwork, i_d: Array, i_q: Array) -> CageStates:
    """Solve a grid of stator currents in rotor-flux axes.

    Parameters
    ----------
    cage : CageNetwork
    i_d, i_q : ndarray, shape (n_d,), (n_q,)
        Currents [A], ascending from 0.

    Raises
    ------
    SolverError
        If a point does not converge.
    """
    circuit, pole = cage.circuit, cage.pole
    solution = solve(circuit, i_d, i_q, magnet_temperature=NO_MAGNETS, tolerance=TOLERANCE)
    psi_d, psi_q = (x.mean(axis=0) for x in linkages(circuit, solution.potentials, i_d, i_q))
    current = solution.potentials[..., circuit.network.rotor_start - 1].mean(axis=0)
    network = circuit.network
    bars = sum(
        0.5 * share * solution.potentials[..., network.of_every_pole(side)].mean(axis=0)
        for nodes, share in (
            (pole.bottom, 1.0 - pole.body.mean_top),
            (pole.top, pole.body.mean_top),
        )
        for side in nodes
    )
    scale = cage.bar_ratio / 1.5 * circuit.sector.repeats * circuit.machine.stack_length
    return CageStates(
        solution=solution,
        psi_d=psi_d,
        psi_q=psi_q,
        rotor_flux=scale * (np.asarray(bars).sum(axis=-2) @ np.sin(pole.angles)),
        rotor_current=cage.current_unit * current / cage.bar_ratio,
    )
