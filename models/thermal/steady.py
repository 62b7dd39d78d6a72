"""Steady temperatures of many load points at once, with winding resistance following heat."""

from collections.abc import Mapping
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.thermal.nodes import NODES, ThermalNetwork

Array = NDArray[np.float64]
_HOT, _END, _MAGNETS = (NODES.index(name) for name in ("hot_spot", "end_winding", "magnets"))


@dataclass(frozen=True, eq=False)
class Load:
    """Losses at load points.

    Attributes
    ----------
    speed : ndarray, shape (...)
        Mechanical speed [rad/s].
    losses : ndarray, shape (..., n)
        Losses by node that do not follow temperature [W], see `place_losses`.
    winding_dc : ndarray, shape (...)
        Direct-current winding loss at `reference_temperature`, all phases [W].
    reference_temperature : float
        [degC].
    """

    speed: Array
    losses: Array
    winding_dc: Array
    reference_temperature: float

    def __post_init__(self) -> None:
        shape = np.shape(self.winding_dc)
        if np.shape(self.losses) != (*shape, len(NODES)) or np.shape(self.speed) != shape:
            raise InvalidInputError(
                f"thermal load: winding_dc has shape {shape}, so speed must have {shape} and "
                f"losses {(*shape, len(NODES))}; given {np.shape(self.speed)} and "
                f"{np.shape(self.losses)}"
            )

    def at(self, index: int) -> "Load":
        """Return one load point of a row of them."""
        return Load(
            self.speed[index], self.losses[index], self.winding_dc[index],
            self.reference_temperature,
        )  # fmt: skip


def standstill(load: Load) -> Load:
    """Return the load with the winding loss of the worst phase at standstill in all slots.

    A stalled machine may rest with one phase at the crest of its current: that phase then
    loses I_peak^2 R = 2 I_rms^2 R without end, twice the average of the phases. Taking twice the
    loss in every slot leaves out the help of cooler neighbours, so it is on the safe side.
    """
    return Load(
        np.zeros_like(load.speed), load.losses, 2.0 * load.winding_dc, load.reference_temperature
    )


def loss_slope(network: ThermalNetwork, reference_temperature: float) -> float:
    """Return the relative rise of winding loss per kelvin from the reference temperature."""
    slope = network.resistivity_slope
    return slope / (1.0 + slope * (reference_temperature - 20.0))


def system(network: ThermalNetwork, load: Load) -> tuple[Array, Array]:
    """Return matrix and right-hand side of the heat balance.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    load : Load
        Load points of shape (...).

    Returns
    -------
    tuple of ndarray
        A, shape (..., n, n) [W/K] and q, shape (..., n) [W] so that C dT/dt = q - A T. Winding
        loss P (1 + beta (T - T_ref)) is linear in T: its slope is taken off the diagonal of the
        conductance matrix, so no iteration is needed.
    """
    beta = loss_slope(network, load.reference_temperature)
    copper = np.asarray(load.winding_dc)[..., None] * network.winding_split
    matrix = network.conductance(load.speed)
    diagonal = np.arange(len(NODES))
    matrix[..., diagonal, diagonal] -= beta * copper
    rhs = network.source + load.losses + copper * (1.0 - beta * load.reference_temperature)
    return matrix, np.asarray(rhs)


def steady_temperatures(network: ThermalNetwork, load: Load) -> Array:
    """Return the steady temperatures of load points.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    load : Load
        Load points of shape (...).

    Returns
    -------
    ndarray, shape (..., n)
        [degC]. Where winding loss grows faster with temperature than heat can leave there is no
        steady state (thermal runaway): that point is +inf in all nodes.
    """
    shape, n = np.shape(load.winding_dc), len(NODES)
    out = _solve(
        network.fixed, network.speed_branches, network.source, network.winding_split,
        loss_slope(network, load.reference_temperature), load.reference_temperature,
        network.speed_conductances(load.speed).reshape(-1, 3),
        np.asarray(load.losses).reshape(-1, n),
        np.asarray(load.winding_dc, dtype=float).reshape(-1),
    )  # fmt: skip
    return np.asarray(out.reshape(*shape, n))


def hottest_winding(temperatures: Array) -> Array:
    """Return the winding hot spot, in slot or end turn, shape (...) from (..., n) [degC]."""
    return np.maximum(temperatures[..., _HOT], temperatures[..., _END])


def magnet_temperature(temperatures: Array) -> Array:
    """Return the magnet temperature, shape (...) from (..., n) [degC]."""
    return np.asarray(temperatures[..., _MAGNETS])


def winding_loss(network: ThermalNetwork, load: Load, temperatures: Array) -> Array:
    """Return the direct-current winding loss at node temperatures, shape (...) [W]."""
    beta = loss_slope(network, load.reference_temperature)
    rise = (temperatures - load.reference_temperature) @ network.winding_split
    return np.asarray(load.winding_dc * (1.0 + beta * rise))


def heat_removed(network: ThermalNetwork, temperatures: Array) -> Mapping[str, Array]:
    """Return the heat that each boundary takes, shapes (...) from (..., n) [W]."""
    return {
        b.name: np.asarray(b.conductance * (temperatures[..., b.node] - b.temperature))
        for b in network.boundaries
    }


@numba.njit(cache=True, error_model="numpy")
def fill_matrix(
    fixed: Array, branches: Array, split: Array, factors: Array, copper: float, out: Array
) -> None:
    """Fill the matrix of the heat balance, shape (n, n), see `system`.

    `copper` is the rise of the winding loss per kelvin [W/K].
    """
    n = fixed.shape[0]
    for i in range(n):
        for j in range(n):
            out[i, j] = fixed[i, j]
        for k in range(branches.shape[0]):
            for j in range(n):
                out[i, j] += factors[k] * branches[k, i, j]
        out[i, i] -= copper * split[i]


@numba.njit(cache=True, error_model="numpy")
def factorise(a: Array) -> bool:
    """Factorise a symmetric matrix in place as U^T D U; False if not positive definite.

    On return row k holds 1 / D_k on the diagonal and U beyond it.
    """
    n = a.shape[0]
    for k in range(n):
        if not a[k, k] > 0.0:
            return False
        over = 1.0 / a[k, k]
        a[k, k] = over
        for j in range(k + 1, n):
            factor = a[k, j] * over
            if factor != 0.0:
                for i in range(j, n):
                    a[j, i] -= factor * a[k, i]
        for j in range(k + 1, n):
            a[k, j] *= over
    return True


@numba.njit(cache=True, error_model="numpy")
def substitute(factor: Array, x: Array) -> None:
    """Overwrite `x` by the solution for a factor of `factorise`."""
    n = x.shape[0]
    for k in range(n):
        for i in range(k + 1, n):
            x[i] -= factor[k, i] * x[k]
    for k in range(n - 1, -1, -1):
        total = x[k] * factor[k, k]
        for i in range(k + 1, n):
            total -= factor[k, i] * x[i]
        x[k] = total


@numba.njit(cache=True, error_model="numpy")
def _solve(
    fixed: Array, branches: Array, source: Array, split: Array, beta: float, reference: float,
    factors: Array, losses: Array, winding: Array,
) -> Array:  # fmt: skip
    """Solve load points; rows of `factors` are those of the branches."""
    count, n = losses.shape
    out = np.empty((count, n))
    matrix = np.empty((n, n))
    for m in range(count):
        fill_matrix(fixed, branches, split, factors[m], beta * winding[m], matrix)
        if factorise(matrix):
            copper = winding[m] * (1.0 - beta * reference)
            for i in range(n):
                out[m, i] = source[i] + losses[m, i] + copper * split[i]
            substitute(matrix, out[m])
        else:
            out[m] = np.inf
    return out
