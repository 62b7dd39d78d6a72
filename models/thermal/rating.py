"""Continuous rating: the torque at which the first temperature limit binds."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.thermal.nodes import ThermalNetwork
from models.thermal.steady import (
    Load,
    hottest_winding,
    magnet_temperature,
    steady_temperatures,
)

Array = NDArray[np.float64]
_GRID = np.linspace(0.0, 1.0, 9)


@dataclass(frozen=True, eq=False)
class Rating:
    """Continuous torque at one speed.

    Attributes
    ----------
    torque : float
        Largest torque held continuously [N m]; the last level if no limit binds there, zero if
        even the first level is too hot.
    limit : {"winding", "magnet", "none"}
        Which limit binds first.
    temperatures : ndarray, shape (n,)
        Node temperatures at that torque [degC].
    """

    torque: float
    limit: str
    temperatures: Array


def continuous_rating(
    network: ThermalNetwork, load: Load, torque: Array, *, winding_limit: float,
    magnet_limit: float,
) -> Rating:  # fmt: skip
    """Return the torque at which the first temperature limit binds.

    Parameters
    ----------
    network : ThermalNetwork
        The network.
    load : Load
        Losses at the torque levels, shape (n_levels,), at one or several speeds.
    torque : ndarray, shape (n_levels,)
        Ascending torque of the levels [N m], >= 0.
    winding_limit, magnet_limit : float
        Highest winding hot spot and magnet temperature [degC].

    Returns
    -------
    Rating

    Raises
    ------
    InvalidInputError
        Fewer than two levels, or torque not ascending.

    Notes
    -----
    Between two levels, losses are interpolated linearly in squared torque (they follow current
    squared) and the network is solved again, so temperatures are exact for those losses. The
    first crossing counts when a limit is crossed more than once.
    """
    if torque.ndim != 1 or torque.size < 2 or np.any(np.diff(torque) <= 0):
        raise InvalidInputError(
            f"continuous rating: torque levels {torque!r} given, at least two ascending are needed"
        )

    def excess(temperatures: Array) -> Array:
        return np.maximum(
            hottest_winding(temperatures) - winding_limit,
            magnet_temperature(temperatures) - magnet_limit,
        )

    temperatures = steady_temperatures(network, load)
    over = np.flatnonzero(excess(temperatures) > 0.0)
    if over.size == 0:
        return Rating(float(torque[-1]), "none", temperatures[-1])
    k = int(over[0])
    if k == 0:
        return Rating(0.0, _binding(temperatures[0], winding_limit, magnet_limit), temperatures[0])
    low, high = float(torque[k - 1]), float(torque[k])
    span = torque[k] ** 2 - torque[k - 1] ** 2
    for _ in range(2):
        levels = low + (high - low) * _GRID
        share = (levels**2 - torque[k - 1] ** 2) / span
        between = Load(
            (1.0 - share) * load.speed[k - 1] + share * load.speed[k],
            (1.0 - share[:, None]) * load.losses[k - 1] + share[:, None] * load.losses[k],
            (1.0 - share) * load.winding_dc[k - 1] + share * load.winding_dc[k],
            load.reference_temperature,
        )
        temperatures = steady_temperatures(network, between)
        gap = excess(temperatures)
        i = max(1, int(np.argmax(gap > 0.0)))
        low, high = float(levels[i - 1]), float(levels[i])
    below, above = float(gap[i - 1]), float(gap[i])
    part = -below / (above - below) if np.isfinite(above) else 0.0
    hot = temperatures[i - 1] + part * np.nan_to_num(temperatures[i] - temperatures[i - 1])
    return Rating(low + part * (high - low), _binding(hot, winding_limit, magnet_limit), hot)


def _binding(temperatures: Array, winding_limit: float, magnet_limit: float) -> str:
    winding = float(hottest_winding(temperatures)) - winding_limit
    magnet = float(magnet_temperature(temperatures)) - magnet_limit
    return "winding" if winding >= magnet else "magnet"
