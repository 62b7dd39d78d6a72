"""Eddy-current loss of each family's rotor: the one table `models.performance.drive` reads."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.layers import layered_magnet_loss
from models.losses.magnet import magnet_loss
from models.losses.surface_rotor import sleeve_loss, surface_magnet_loss
from models.machine import LayeredRotor, Machine

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class EddyLoss:
    """Eddy-current loss in rotor parts, arrays of one shape [W]."""

    magnet: Array
    sleeve: Array


EddyLossOf = Callable[[Machine, ArrayLike, ArrayLike], EddyLoss]
"""From a machine, the ripple of the flux density in its magnets at six times electrical frequency
[T] and the electrical frequency [Hz] to the losses."""


def magnets_only(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> EddyLoss:
    """Return the loss of buried magnets; there is no sleeve."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    loss = (layered_magnet_loss if is_layered else magnet_loss)(machine, ripple, frequency)
    return EddyLoss(loss, np.zeros_like(loss))


def no_magnets(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> EddyLoss:
    """Return nothing: bars and rings lose slip power, which `models.performance` counts."""
    zero = np.zeros(np.broadcast_shapes(np.shape(ripple), np.shape(frequency)))
    return EddyLoss(zero, zero)


def magnets_and_sleeve(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> EddyLoss:
    """Return the loss of surface magnets and of their sleeve."""
    return EddyLoss(
        surface_magnet_loss(machine, ripple, frequency), sleeve_loss(machine, ripple, frequency)
    )


EDDY_LOSS: Mapping[str, EddyLossOf] = {
    "cage": no_magnets,
    "interior": magnets_only,
    "reluctance": magnets_only,
    "surface": magnets_and_sleeve,
}
