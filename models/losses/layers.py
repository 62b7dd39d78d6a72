"""Eddy-current loss of the magnets in layers of barriers."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.magnet import BELT_ORDER, block_loss, block_reduction, magnet_skin_depth
from models.machine import LayeredRotor, Machine, rotor_as

Array = NDArray[np.float64]


def layered_magnet_loss(
    machine: Machine, ripple: ArrayLike, frequency: ArrayLike, *, order: float = BELT_ORDER
) -> Array:
    """Return the eddy-current loss of all magnets [W], summed over the barriers.

    Parameters
    ----------
    machine : Machine
        A machine with a layered rotor.
    ripple : array_like
        Peak flux-density ripple at `order` times electrical frequency [T], root mean square over
        all magnets.
    frequency : array_like
        Electrical frequency [Hz], broadcast with `ripple`.
    order : float
        Ripple frequency over electrical frequency.

    Notes
    -----
    Each barrier's blocks as in `models.losses.magnet.loss_per_ripple`; zero without magnets.
    """
    rotor = rotor_as(machine, LayeredRotor)
    squared = np.asarray(ripple, dtype=float) ** 2
    f = order * np.asarray(frequency, dtype=float)
    depth = magnet_skin_depth(machine, np.maximum(f, 1e-3))
    total = np.zeros(np.broadcast_shapes(squared.shape, f.shape))
    pieces = 4 * machine.pole_pairs * rotor.magnet_width_segments * rotor.magnet_axial_segments
    for barrier in rotor.magnet_barriers:
        sides = (
            barrier.magnet_width / rotor.magnet_width_segments,
            machine.stack_length / rotor.magnet_axial_segments,
        )
        block = block_loss(
            sides, barrier.magnet_thickness, amplitude=1.0, frequency=f,
            resistivity=machine.magnet.resistivity,
        )  # fmt: skip
        total = total + pieces * block * block_reduction(sides, depth) * squared
    return total
