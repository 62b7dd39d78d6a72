"""What depends on speed alone: found once for a machine, read at every operating point."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.control.surface import Array
from models.duty import Duty
from models.losses.copper import resistance_ratio
from models.losses.families import EDDY_LOSS, EddyLoss
from models.losses.mechanical import MechanicalLoss, mechanical_loss
from models.machine import Machine
from models.mechanical.mass import Masses

MAP_SPEEDS = 25
ENVELOPE_SPEEDS = 97
"""Points of the envelope itself: a multiple of the map's intervals, plus one."""


def envelope_speeds(duty: Duty) -> Array:
    """Return the speeds of the envelope, uniform from 0 to top speed [rad/s]."""
    return np.linspace(0.0, duty.top_speed, ENVELOPE_SPEEDS)


def map_speeds(duty: Duty) -> Array:
    """Return the speeds of the efficiency map, every fourth of the envelope's [rad/s]."""
    return envelope_speeds(duty)[:: (ENVELOPE_SPEEDS - 1) // (MAP_SPEEDS - 1)]


@dataclass(frozen=True, eq=False)
class SpeedFactors:
    """Factors at speeds in ascending order, arrays of shape (n,).

    Attributes
    ----------
    speed : ndarray
        [rad/s].
    resistance_ratio : ndarray
        R_ac/R_dc of a phase at the rated winding temperature.
    eddy : EddyLoss
        Loss in rotor parts for a ripple of 1 T [W/T^2]; it grows with the square of the ripple.
    friction : MechanicalLoss
        [W].
    """

    speed: Array
    resistance_ratio: Array
    eddy: EddyLoss
    friction: MechanicalLoss

    @classmethod
    def of(cls, machine: Machine, duty: Duty, masses: Masses, speed: Array) -> "SpeedFactors":
        """Find the factors at speeds [rad/s], ascending, shape (n,)."""
        frequency = machine.pole_pairs * speed / (2.0 * pi)
        return cls(
            speed=speed,
            resistance_ratio=resistance_ratio(machine, frequency, duty.temperatures.winding_rated),
            eddy=EDDY_LOSS[machine.family](machine, np.ones_like(speed), frequency),
            friction=mechanical_loss(machine, speed, rotor_mass=masses.rotor),
        )

    def at(self, where: NDArray[np.integer]) -> "SpeedFactors":
        """Return the factors at rows `where`."""
        return SpeedFactors(
            speed=self.speed[where],
            resistance_ratio=self.resistance_ratio[where],
            eddy=EddyLoss(self.eddy.magnet[where], self.eddy.sleeve[where]),
            friction=MechanicalLoss(
                bearings=self.friction.bearings[where],
                gap=self.friction.gap[where],
                ends=self.friction.ends[where],
            ),
        )
