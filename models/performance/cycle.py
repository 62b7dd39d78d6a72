"""Losses of a machine over a drive cycle."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.control.surface import Array
from models.duty import Duty
from models.performance.efficiency import EfficiencyMap, read, read_all
from models.performance.loss_parts import Losses
from models.vehicle.road_load import motor_demand


@dataclass(frozen=True, eq=False)
class CycleResult:
    """What a machine does over a cycle, one entry per interval.

    Attributes
    ----------
    duration, speed : ndarray, shape (n,)
        [s], motor speed [rad/s].
    torque : ndarray, shape (n,)
        Shaft torque delivered [N*m].
    demand : ndarray, shape (n,)
        Shaft torque asked [N*m].
    is_reached : ndarray of bool, shape (n,)
        Whether the asked torque (motoring) is within the envelope.
    share : ndarray, shape (n,)
        Air-gap torque over the envelope, -1 to 1.
    losses : Losses
        Arrays of shape (n,) [W].
    distance : float
        [m].
    """

    duration: Array
    speed: Array
    torque: Array
    demand: Array
    is_reached: NDArray[np.bool_]
    share: Array
    losses: Losses
    distance: float

    @property
    def loss_energy(self) -> float:
        """All loss over the cycle [J]."""
        return float(self.duration @ self.losses.total)

    @property
    def efficiency(self) -> float:
        """Useful energy over useful energy plus loss.

        Useful is mechanical energy when motoring and electrical energy when generating.
        """
        power = self.torque * self.speed
        out = float(self.duration @ np.maximum(power, 0.0))
        back = float(
            self.duration @ np.maximum(np.where(power < 0.0, -power - self.losses.total, 0.0), 0.0)
        )
        useful = out + back
        return useful / (useful + self.loss_energy) if useful > 0.0 else 0.0

    @property
    def missed_energy(self) -> float:
        """Share of traction energy asked that is not delivered."""
        asked = float(self.duration @ np.maximum(self.demand * self.speed, 0.0))
        given = float(self.duration @ np.maximum(self.torque * self.speed, 0.0))
        return max(0.0, 1.0 - given / asked) if asked > 0.0 else 0.0

    @property
    def missed_time(self) -> float:
        """Share of the cycle's time at which the asked torque is not reached."""
        return float(self.duration[~self.is_reached].sum()) / float(self.duration.sum())


def run_cycle(grid: EfficiencyMap, duty: Duty) -> CycleResult:
    """Return losses over the duty's cycle from the efficiency map.

    Parameters
    ----------
    grid : EfficiencyMap
        At the duty's nominal voltage.
    duty : Duty

    Returns
    -------
    CycleResult

    Notes
    -----
    Each interval is read off the map (25 x 25 points, four-point cubic). Against solving every
    interval by itself the cycle's loss differs by less than 0.1 %, as a test shows. Speeds above
    the map's top speed count as not reached. Braking beyond the envelope goes to the friction
    brake and is not counted as missed.
    """
    demand = motor_demand(duty.vehicle, duty.cycle)
    top = float(grid.speed[-1])
    is_beyond = demand.speed > top
    speed = np.minimum(demand.speed, top)
    motoring = np.interp(speed, grid.envelope_speed, grid.motoring_limit)
    generating = np.interp(speed, grid.envelope_speed, grid.generating_limit)
    at_map_speed = np.where(grid.speed > 0.0, grid.speed, np.inf)[:, None]
    drag = grid.losses.braking / at_map_speed

    def share_of(air_gap: Array) -> Array:
        limit = np.where(air_gap >= 0.0, motoring, -generating)
        share = np.divide(air_gap, limit, out=np.sign(air_gap), where=limit > 0.0)
        return np.asarray(share)

    # Air-gap torque is shaft torque plus drag, which depends on it weakly.
    share = np.zeros_like(speed)
    for _ in range(3):
        share = share_of(demand.torque + read(grid, drag, speed, np.clip(share, -1.0, 1.0)))
    held = np.clip(share, -1.0, 1.0)
    reached_torque = np.where(held >= 0.0, held * motoring, -held * generating)
    is_reached = (share <= 1.0 + 1e-9) & ~is_beyond
    # Nothing is delivered, and nothing lost, at standstill and beyond the map.
    is_still = (demand.speed <= 0.0) | is_beyond

    loss = Losses.of(_over_cycle(grid, np.stack(grid.losses.arrays()), speed, held, ~is_still))
    is_clipped = np.abs(share) > 1.0
    drag_there = np.divide(loss.braking, speed, out=np.zeros_like(speed), where=speed > 0.0)
    torque = np.where(is_clipped, reached_torque - drag_there, demand.torque)
    return CycleResult(
        duration=demand.duration,
        speed=demand.speed,
        torque=np.where(is_beyond, 0.0, torque),
        demand=demand.torque,
        is_reached=is_reached,
        share=held,
        losses=loss,
        distance=demand.distance,
    )


def _over_cycle(
    grid: EfficiencyMap, maps: Array, speed: Array, share: Array, is_live: NDArray[np.bool_]
) -> Array:
    """Return every loss in every interval, shape (m, n); zero where nothing turns.

    Parts that a machine does not have are zero all over the map and not looked up.
    """
    out = np.zeros((len(maps), speed.size))
    has = maps.any(axis=(1, 2))
    found = np.maximum(read_all(grid, maps[has], speed[is_live], share[is_live]), 0.0)
    out[np.ix_(has, is_live)] = found
    return out
