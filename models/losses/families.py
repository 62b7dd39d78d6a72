"""Eddy-current and iron loss of each family's rotor: one table for each."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.belt_waves import belt_order
from models.losses.layers import layered_magnet_loss
from models.losses.magnet import magnet_loss, magnet_skin_depth, piece_sides, slot_order
from models.losses.rotor_surface import surface_loss_coefficients
from models.losses.surface_rotor import sleeve_loss, surface_magnet_loss
from models.machine import LayeredRotor, Machine, rotor_as
from models.surface_rotor import SurfaceRotor

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class EddyLoss:
    """Eddy-current loss in rotor parts, arrays of one shape [W]."""

    magnet: Array
    sleeve: Array


EddyLossOf = Callable[[Machine, ArrayLike, ArrayLike], EddyLoss]
"""From a machine, the ripple of the flux density in its magnets at `belt_order` (six) times
electrical frequency [T] and the electrical frequency [Hz] to the losses."""


def magnets_only(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> EddyLoss:
    """Return the loss of buried magnets; there is no sleeve."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    one = layered_magnet_loss if is_layered else magnet_loss
    loss = one(machine, ripple, frequency, order=belt_order(machine))
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

SLOTTING_APART = frozenset({"surface"})
"""Families whose eddy loss counts what slots do to the magnets' own field by itself."""

RotorIronOf = Callable[[Machine, Array, Array, Array], tuple[Array, Array, Array]]
"""From a machine, current amplitudes [A], flux linkage amplitudes [Wb] and largest flux densities
of the teeth [T] to the coefficients of the rotor's iron loss, see `models.losses.rotor_surface`."""


def iron_at_surface(
    machine: Machine, current: Array, linkage: Array, tooth_peak: Array
) -> tuple[Array, Array, Array]:
    """Return the loss in iron that meets the air gap."""
    return surface_loss_coefficients(machine, current, linkage, tooth_peak=tooth_peak)


def iron_under_magnets(
    machine: Machine, current: Array, linkage: Array, tooth_peak: Array
) -> tuple[Array, Array, Array]:
    """Return the loss in the iron under surface magnets: their thickness is gap to the waves."""
    rotor = rotor_as(machine, SurfaceRotor)
    return surface_loss_coefficients(
        machine, current, linkage, tooth_peak=tooth_peak,
        iron_radius=rotor.magnet_radius - rotor.magnet_thickness,
    )  # fmt: skip


ROTOR_IRON: Mapping[str, RotorIronOf] = {
    "interior": iron_at_surface,
    "reluctance": iron_at_surface,
    "surface": iron_under_magnets,
}
"""What the circuit model knows of the loss in the rotor's iron; that of a cage rotor is part of
its stray load loss."""


def magnet_skin_ratio(machine: Machine, frequency: float) -> float:
    """Return the shorter side of a magnet piece over the skin depth at the slot harmonic.

    Parameters
    ----------
    machine : Machine
        Any with magnets; zero without.
    frequency : float
        Electrical frequency [Hz], > 0.

    Returns
    -------
    float
        Of the largest pieces. Up to about 1 the loss is resistance-limited and falls with every
        further piece. Above about 2 more pieces may add loss, and the height of the magnet is no
        longer large or small against the depth: the estimate leaves its range.
    """
    rotor = machine.rotor
    if isinstance(rotor, LayeredRotor):
        widths = [b.magnet_width / rotor.magnet_width_segments for b in rotor.magnet_barriers]
        length = machine.stack_length / rotor.magnet_axial_segments
        side = min(max(widths, default=0.0), length)
    elif isinstance(rotor, SurfaceRotor):
        width = rotor.arc_length / rotor.magnet_width_segments
        side = min(width, machine.stack_length / rotor.magnet_axial_segments)
    else:
        side = min(piece_sides(machine))
    return side / float(magnet_skin_depth(machine, slot_order(machine) * frequency))
