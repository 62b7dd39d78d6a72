"""The thermal network as tables: nodes with capacities, branches with conductances."""

import numpy as np

from models.performance.summary import Performance
from models.thermal.nodes import NODES, ThermalNetwork
from optim.export.table import Column, Table, column


def thermal_node_table(performance: Performance) -> Table:
    """Return heat capacity and temperatures of every node."""
    heat = performance.heat
    return Table(
        name="thermal_nodes",
        title="Nodes of the thermal network: heat capacity and temperatures",
        columns=(
            Column("node", "-", NODES),
            column("capacity", "J/K", heat.network.capacity),
            column("winding_share", "-", heat.network.winding_split,
                   "of the direct-current winding loss"),
            column("continuous_temperature", "degC", heat.load_temperatures,
                   "steady, at the duty's continuous load"),
            column("cycle_mean_temperature", "degC", heat.cycle.mean,
                   "mean over the cycle once settled"),
        ),
        notes=("uncalibrated: networks of this kind miss measured temperatures by 10 to 20 K",),
    )  # fmt: skip


def thermal_branch_table(performance: Performance) -> Table:
    """Return the conductance of every branch and boundary at three speeds."""
    duty, network = performance.duty, performance.heat.network
    speeds = (0.0, duty.continuous_speed, duty.top_speed)
    rows = _branches(network, np.asarray(speeds))
    names = ("standstill", "continuous_speed", "top_speed")
    return Table(
        name="thermal_branches",
        title="Branches of the thermal network: conductance at three speeds",
        columns=(
            Column("from", "-", tuple(r[0] for r in rows)),
            Column("to", "-", tuple(r[1] for r in rows)),
            *(column(f"conductance_{name}", "W/K", [r[2][k] for r in rows])
              for k, name in enumerate(names)),
            column("boundary_temperature", "degC", [r[3] for r in rows],
                   "of the outside; 0 where both ends are nodes"),
        ),
        notes=(
            "jacket, ambient, spray and shaft oil are outsides of fixed temperature",
            "C dT/dt = loss - sum of conductance times difference; winding loss follows heat",
        ),
    )  # fmt: skip


def _branches(
    network: ThermalNetwork, speeds: np.ndarray
) -> list[tuple[str, str, np.ndarray, float]]:
    """Return first node, second node or outside, conductances, temperature of the outside."""
    matrix = network.conductance(speeds)
    rows = []
    for i, first in enumerate(NODES):
        for j in range(i + 1, len(NODES)):
            if np.any(matrix[:, i, j] != 0.0):
                rows.append((first, NODES[j], -matrix[:, i, j], 0.0))
    for b in network.boundaries:
        even = np.full(speeds.shape, b.conductance)
        rows.append((NODES[b.node], f"outside: {b.name}", even, b.temperature))
    return rows
