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
    matrix, rhs = system(network, load)
    n = len(NODES)
    out = _solve(matrix.reshape(-1, n, n), rhs.reshape(-1, n))
    return np.asarray(out.reshape(rhs.shape))


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
def factorise(a: Array) -> bool:
    """Put the Cholesky factor into the lower triangle of `a`; False if not positive definite."""
    n = a.shape[0]
    for j in range(n):
        d = a[j, j]
        for k in range(j):
            d -= a[j, k] * a[j, k]
        if not d > 0.0:
            return False
        root = np.sqrt(d)
        a[j, j] = root
        for i in range(j + 1, n):
            s = a[i, j]
            for k in range(j):
                s -= a[i, k] * a[j, k]
            a[i, j] = s / root
    return True


@numba.njit(cache=True, error_model="numpy")
def substitute(factor: Array, x: Array) -> None:
    """Overwrite `x` by the solution for a factor of `factorise`."""
    n = x.shape[0]
    for i in range(n):
        s = x[i]
        for k in range(i):
            s -= factor[i, k] * x[k]
        x[i] = s / factor[i, i]
    for i in range(n - 1, -1, -1):
        s = x[i]
        for k in range(i + 1, n):
            s -= factor[k, i] * x[k]
        x[i] = s / factor[i, i]


@numba.njit(cache=True, error_model="numpy")
def _solve(matrices: Array, rhs: Array) -> Array:
    out = rhs.copy()
    for m in range(matrices.shape[0]):
        factor = matrices[m].copy()
        if factorise(factor):
            substitute(factor, out[m])
        else:
            out[m] = np.inf
    return out
