"""Grids of speed and torque under an envelope."""

from dataclasses import dataclass

import numpy as np

from models.control.operate import Envelope
from models.control.surface import Array
from models.errors import InvalidInputError


@dataclass(frozen=True, eq=False)
class SpeedTorqueGrid:
    """Points for an efficiency map, in torque relative to the envelope.

    Attributes
    ----------
    speed : ndarray, shape (n_speeds,)
        Mechanical speed [rad/s].
    share : ndarray, shape (n_torques,)
        Torque over the envelope's at the same speed.
    torque : ndarray, shape (n_speeds, n_torques)
        Air-gap torque [N*m].
    """

    speed: Array
    share: Array
    torque: Array

    @property
    def flat_speed(self) -> Array:
        """Speed of every point, shape (n_speeds * n_torques,) [rad/s]."""
        return np.repeat(self.speed, self.share.size)

    @property
    def flat_torque(self) -> Array:
        """Torque of every point, shape (n_speeds * n_torques,) [N*m]."""
        return self.torque.ravel()

    def shaped(self, values: Array) -> Array:
        """Return values of the flat points as (n_speeds, n_torques)."""
        return values.reshape(self.torque.shape)


def speed_torque_grid(
    envelope: Envelope, n_torques: int, *, lowest_share: float = 0.0
) -> SpeedTorqueGrid:
    """Return a grid that fills the envelope at its own speeds.

    Torque is taken relative to the envelope, so that the grid's edge is the envelope itself and
    no point lies outside.

    Parameters
    ----------
    envelope : Envelope
        Motoring or generating envelope at the wanted speeds.
    n_torques : int
        Torques at each speed, at least 2.
    lowest_share : float
        Smallest torque over the envelope's, 0 to below 1.

    Returns
    -------
    SpeedTorqueGrid

    Raises
    ------
    InvalidInputError
        For fewer than two torques or a share outside its range.
    """
    if n_torques < 2 or not 0.0 <= lowest_share < 1.0:
        raise InvalidInputError(
            f"speed-torque grid: {n_torques} torques from share {lowest_share}; needs at least 2 "
            f"torques and a share from 0 to below 1"
        )
    share = np.linspace(lowest_share, 1.0, n_torques)
    return SpeedTorqueGrid(envelope.speed, share, envelope.torque[:, None] * share[None, :])
