"""What depends on speed alone: found once for a machine, read at every operating point."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.control.surface import Array
from models.duty import Duty
from models.losses.belt_waves import belt_order
from models.losses.copper import resistance_ratios, winding_shares
from models.losses.families import EDDY_LOSS, EddyLoss
from models.losses.magnet import slot_order
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
    opening : ndarray
        What of the rise arises in the third of the slots nearest to their opening, over R_dc.
    opening_share : ndarray
        Share of the slots' winding loss that arises there.
    eddy, slot_eddy : EddyLoss
        Loss in rotor parts for a ripple of 1 T at `belt_order` times electrical frequency and at
        that of the slots [W/T^2]; it grows with the square of the ripple.
    idle_eddy : EddyLoss
        Loss in rotor parts that does not depend on the ripple [W].
    friction : MechanicalLoss
        [W].
    """

    speed: Array
    resistance_ratio: Array
    opening: Array
    opening_share: Array
    eddy: EddyLoss
    slot_eddy: EddyLoss
    idle_eddy: EddyLoss
    friction: MechanicalLoss

    @classmethod
    def of(cls, machine: Machine, duty: Duty, masses: Masses, speed: Array) -> "SpeedFactors":
        """Find the factors at speeds [rad/s], ascending, shape (n,)."""
        frequency = machine.pole_pairs * speed / (2.0 * pi)
        ratio = resistance_ratios(machine, frequency, duty.temperatures.winding_rated)
        belt, slots, idle = _eddy(machine, frequency)
        return cls(
            speed=speed,
            resistance_ratio=ratio.phase,
            opening=winding_shares(machine)[0] * ratio.opening_extra,
            opening_share=ratio.opening,
            eddy=belt,
            slot_eddy=slots,
            idle_eddy=idle,
            friction=mechanical_loss(
                machine,
                speed,
                rotor_mass=masses.rotor,
                bearing_temperature=duty.temperatures.bearing_rated,
            ),
        )

    def at(self, where: NDArray[np.integer]) -> "SpeedFactors":
        """Return the factors at rows `where`."""
        return SpeedFactors(
            speed=self.speed[where],
            resistance_ratio=self.resistance_ratio[where],
            opening=self.opening[where],
            opening_share=self.opening_share[where],
            eddy=_rows(self.eddy, where),
            slot_eddy=_rows(self.slot_eddy, where),
            idle_eddy=_rows(self.idle_eddy, where),
            friction=MechanicalLoss(
                bearings=self.friction.bearings[where],
                gap=self.friction.gap[where],
                ends=self.friction.ends[where],
            ),
        )


def _eddy(machine: Machine, frequency: Array) -> tuple[EddyLoss, EddyLoss, EddyLoss]:
    """Return eddy losses for 1 T of the belts, for 1 T of the slots, and without ripple."""
    loss, n = EDDY_LOSS[machine.family], frequency.size
    # The families' formulas take a ripple at `belt_order` times their frequency. Loss without
    # ripple is looked for at the highest frequency: most families have none.
    every = np.concatenate(
        [frequency, frequency * (slot_order(machine) / belt_order(machine)), frequency[-1:]]
    )
    one = loss(machine, np.append(np.ones(2 * n), 0.0), every)
    belt = EddyLoss(one.magnet[:n], one.sleeve[:n])
    slots = EddyLoss(one.magnet[n : 2 * n], one.sleeve[n : 2 * n])
    none = np.zeros_like(frequency)
    if one.magnet[-1] == 0.0 and one.sleeve[-1] == 0.0:
        return belt, slots, EddyLoss(none, none)
    idle = loss(machine, none, frequency)
    belt = EddyLoss(belt.magnet - idle.magnet, belt.sleeve - idle.sleeve)
    # A family whose formula counts the slots' harmonic by itself: not twice.
    return belt, EddyLoss(none, none), idle


def _rows(loss: EddyLoss, where: NDArray[np.integer]) -> EddyLoss:
    return EddyLoss(loss.magnet[where], loss.sleeve[where])
