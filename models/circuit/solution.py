"""Assemble and solve the magnetic network of one machine."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import gcd, pi

import numpy as np

from models.circuit.coupling import Coupling, SurfaceNodes
from models.circuit.elimination import Elimination, plan_elimination
from models.circuit.families import NETWORKS, RotorNetwork
from models.circuit.joining import join
from models.circuit.network import Array, Network, NetworkBuilder
from models.circuit.newton import Iron, solve_map
from models.circuit.stator_table import SlotNodes, add_stator
from models.errors import SolverError
from models.geometry.sector import Sector, sector_of
from models.geometry.winding import phase_axis
from models.machine import Machine
from models.magnetics import Point
from models.materials.reluctivity import beside

TOLERANCE = 1e-5
"""Residual over load at which a point counts as solved."""
LEAST_POSITIONS = 5
BELT = pi / 3.0
"""Period of the field in the rotor frame, one phase belt [electrical rad]."""


@dataclass(frozen=True, eq=False)
class Circuit:
    """A network with its currents, ready to solve.

    Attributes
    ----------
    machine : Machine
    sector : Sector
        What the network covers.
    network : Network
    slots : SlotNodes
    surface : SurfaceNodes
        Of all its poles.
    coupling : Coupling
        Gap at every position.
    positions : ndarray, shape (n_positions,)
        Electrical angle of the rotor d axis from the axis of phase 1 [rad], over one belt.
    elimination : Elimination
        Linear stiffness with the gap at each position, in elimination order.
    slot_d, slot_q : ndarray, shape (n_positions, slots of the sector)
        Slot current per ampere of i_d and i_q (conductors included).
    """

    machine: Machine
    sector: Sector
    network: Network
    slots: SlotNodes
    surface: SurfaceNodes
    coupling: Coupling
    positions: Array
    elimination: Elimination
    slot_d: Array
    slot_q: Array

    def magnet_load(self) -> Array:
        """Return the load of the magnets per T of remanence, shape (n_positions, n)."""
        return self.network.magnet_source + self.coupling.magnet_source

    @property
    def iron_shares(self) -> Array:
        """Share of iron in the width that a cell's field is the mean of, shape (n_cells,).

        1 where slots are taken to carry no radial flux: cells are of iron alone.
        """
        if not np.any(self.network.cell_beside > 0.0):
            return np.ones(len(self.network.cell_beside))
        return self.machine.stacking_factor / (1.0 + self.network.cell_beside)

    @cached_property
    def iron(self) -> Iron:
        """Iron cells and their material, for the solver."""
        network, sheet = self.network, self.machine.lamination.magnetisation
        shares, which = np.unique(self.iron_shares, return_inverse=True)
        tables = [sheet if share == 1.0 else beside(sheet, share) for share in shares.tolist()]
        return Iron(
            network.cell_count,
            network.cell_gradient,
            network.cell_area,
            np.asarray(which, dtype=np.int64),
            np.array([table.step for table in tables]),
            np.array([table.nu for table in tables]),
            np.array([table.slope for table in tables]),
        )

    def loads(self) -> tuple[Array, Array]:
        """Return the load vectors per ampere of i_d and i_q, shape (n_positions, n)."""
        out = []
        for slot in (self.slot_d, self.slot_q):
            load = np.zeros((len(self.positions), self.network.size))
            load[:, list(self.slots.bottom)] = self.slots.mean_bottom * slot
            load[:, list(self.slots.top)] = self.slots.mean_top * slot
            out.append(load)
        return out[0], out[1]


@dataclass(frozen=True, eq=False)
class Solution:
    """Potentials over a grid of currents and positions.

    Attributes
    ----------
    i_d, i_q : ndarray, shape (n_d,), (n_q,)
        [A].
    remanence : float
        [T].
    potentials, per_remanence : ndarray, shape (n_positions, n_d, n_q, n)
        Potentials [Wb/m] and their derivative with respect to remanence [Wb/(m T)].
    steps : int
        Newton steps of all groups of up to eight points together.
    """

    i_d: Array
    i_q: Array
    remanence: float
    potentials: Array
    per_remanence: Array
    steps: int


def position_count(passings: int, least: int = LEAST_POSITIONS) -> int:
    """Return the number of rotor positions over one belt that also averages slotting.

    At least so many, and without a common divisor with `Sector.passings` (the slots per belt where
    these are whole), so that no two positions see the slots alike.
    """
    count = least
    while gcd(count, passings) > 1:
        count += 1
    return count


def assemble(machine: Machine) -> Circuit:
    """Build the network of a machine and its gap at every rotor position."""
    sector = sector_of(machine)
    least = LEAST_POSITIONS
    if sector.poles == 1:
        # more than twice the slots of a belt tell the slots' harmonic in teeth and rotor
        least = max(least, 2 * sector.passings + 1)
    count = position_count(sector.passings, least)
    return assemble_with(machine, sector, NETWORKS[machine.family], count=count)


def assemble_with(
    machine: Machine, sector: Sector, rotor: RotorNetwork, *, count: int, own_nodes: int = 0
) -> Circuit:
    """Build the network of a machine with a rotor's table.

    Parameters
    ----------
    machine : Machine
    sector : Sector
    rotor : RotorNetwork
        What adds one pole and couples it.
    count : int
        Rotor positions over one belt.
    own_nodes : int
        Unknowns that belong to no place, the last before `Network.rotor_start`.
    """
    winding, p = machine.winding, machine.pole_pairs
    filled = 1.0 if rotor.has_slot_flux else machine.stacking_factor
    still, turning = (NetworkBuilder(filled) for _ in range(2))
    slots = add_stator(still, machine, sector, has_slot_flux=rotor.has_slot_flux)
    for k in range(own_nodes):
        still.node(f"own {k}")
    one_pole = rotor.add(turning, machine)
    network = join(still, turning, sector.poles)
    surface = one_pole.of_sector(network, pi / p)

    positions = np.arange(count) * BELT / count
    # Slot 0 sits half a slot pitch inside the sector's edge; the phase axis is counted from it.
    axis = p * slots.angles[0] + phase_axis(winding.slot_phases, p)
    rotor_angles = (positions + axis) / p
    coupling = rotor.couple(machine, network, slots, surface, rotor_angles, sector)
    shares = np.array(winding.slot_phases)[:, : sector.slots]
    phase = positions[:, None] - 2.0 * pi / 3.0 * np.arange(3)
    turns = winding.conductors_per_slot / winding.parallel_paths
    return Circuit(
        machine=machine,
        sector=sector,
        network=network,
        slots=slots,
        surface=surface,
        coupling=coupling,
        positions=positions,
        elimination=plan_elimination(coupling.stiffness, network.cell_count, network.cell_nodes),
        slot_d=turns * np.cos(phase) @ shares,
        slot_q=-turns * np.sin(phase) @ shares,
    )


def solve_points(circuit: Circuit, points: Sequence[Point]) -> list[Solution]:
    """Solve single points at every rotor position, eight side by side whatever their temperature.

    Returns
    -------
    list of Solution
        One for each point; potentials have shape (n_positions, 1, 1, n).
    """
    i_d, i_q, temperature = np.array(points).T[:, None]
    remanence = [circuit.machine.magnet.remanence(t) for t in temperature[0].tolist()]
    whole = _solve(circuit, i_d, i_q, np.array([remanence]), TOLERANCE)
    return [
        Solution(
            i_d[0, k : k + 1], i_q[0, k : k + 1], remanence[k],
            whole.potentials[:, :, k : k + 1], whole.per_remanence[:, :, k : k + 1], whole.steps,
        )
        for k in range(len(points))
    ]  # fmt: skip


def solve(
    circuit: Circuit,
    i_d: Array,
    i_q: Array,
    *,
    magnet_temperature: float,
    tolerance: float = TOLERANCE,
) -> Solution:
    """Solve a grid of dq currents at every rotor position.

    Parameters
    ----------
    circuit : Circuit
    i_d, i_q : ndarray, shape (n_d,), (n_q,)
        Currents [A], peak; i_d ascending (the march runs from its last value down).
    magnet_temperature : float
        [degC].
    tolerance : float
        Residual over load at which a point counts as solved.

    Returns
    -------
    Solution

    Raises
    ------
    SolverError
        If a point does not converge.
    """
    grid_d, grid_q = np.meshgrid(i_d, i_q, indexing="ij")
    remanence = circuit.machine.magnet.remanence(magnet_temperature)
    solution = _solve(circuit, grid_d, grid_q, np.full_like(grid_d, remanence), tolerance)
    return replace(solution, i_d=i_d, i_q=i_q)


def _solve(
    circuit: Circuit, i_d: Array, i_q: Array, remanence: Array, tolerance: float
) -> Solution:
    """Solve points, arrays of shape (n_d, n_q), see `models.circuit.newton.solve_map`."""
    load_d, load_q = circuit.loads()
    potentials, per_remanence, steps = solve_map(
        circuit.elimination,
        circuit.iron,
        load_d,
        load_q,
        circuit.magnet_load(),
        i_d,
        i_q,
        remanence,
        tolerance,
    )
    if steps < 0:
        raise SolverError(
            "the magnetic network did not converge; currents "
            f"{i_d.min():.0f}..{i_d.max():.0f} A, {i_q.min():.0f}..{i_q.max():.0f} A"
        )
    return Solution(i_d, i_q, float(remanence[0, 0]), potentials, per_remanence, steps)


def linkages(circuit: Circuit, potentials: Array, i_d: Array, i_q: Array) -> tuple[Array, Array]:
    """Return psi_d and psi_q [Wb], without end turns, at every position.

    Parameters
    ----------
    circuit : Circuit
    potentials : ndarray, shape (n_positions, n_d, n_q, n)
        [Wb/m].
    i_d, i_q : ndarray, shape (n_d,), (n_q,)
        Currents of the slots' own parabolic term [A]; zeros for a derivative.

    Returns
    -------
    psi_d, psi_q : ndarray, shape (n_positions, n_d, n_q)
    """
    slots, machine = circuit.slots, circuit.machine
    mean = (
        slots.mean_bottom * potentials[..., list(slots.bottom)]
        + slots.mean_top * potentials[..., list(slots.top)]
    )
    own = (
        circuit.slot_d[:, None, None, :] * i_d[None, :, None, None]
        + circuit.slot_q[:, None, None, :] * i_q[None, None, :, None]
    )
    mean = mean + slots.self_term * own
    scale = 2.0 / 3.0 * circuit.sector.repeats * machine.stack_length
    psi_d = scale * np.einsum("pabs,ps->pab", mean, circuit.slot_d)
    psi_q = scale * np.einsum("pabs,ps->pab", mean, circuit.slot_q)
    return psi_d, psi_q
