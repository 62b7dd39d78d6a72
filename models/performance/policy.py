"""What currents of least loss would save over the cycle against currents of least amplitude."""

from dataclasses import dataclass

import numpy as np

from models.control.least_loss import operate_least_loss
from models.control.surface import Array, sample
from models.control.table import interpolate_all
from models.performance.cycle import CycleResult
from models.performance.drive import Drive, speed_factors
from models.performance.efficiency import EfficiencyMap

STRIDE = 3
"""Every third speed and torque of the efficiency map is compared: the saving is smooth."""


@dataclass(frozen=True, eq=False)
class PolicySaving:
    """Loss saved by currents of least loss, at equal air-gap torque.

    Attributes
    ----------
    speed : ndarray, shape (n_s,)
        [rad/s].
    share : ndarray, shape (n_k,)
        Air-gap torque over the envelope.
    saving : ndarray, shape (n_s, n_k)
        Least-current loss less least-loss loss [W], >= 0.
    over_cycle : float
        Saved energy over the loss energy of the cycle.
    """

    speed: Array
    share: Array
    saving: Array
    over_cycle: float


def policy_saving(drive: Drive, grid: EfficiencyMap, cycle: CycleResult) -> PolicySaving:
    """Compare the two policies on the efficiency map and over the cycle.

    Parameters
    ----------
    drive : Drive
    grid : EfficiencyMap
        Least current, at nominal DC voltage.
    cycle : CycleResult
        The cycle run on that map.

    Notes
    -----
    Least current is the usual max torque per ampere with field weakening. Least loss counts
    winding loss with its rise by frequency, iron and eddy loss; the drag that falls with it is
    counted as loss, not as torque. Not for cage machines, whose flux is free to choose.
    """
    machine, table = drive.machine, drive.table
    speed, share = grid.speed[::STRIDE], grid.share[::STRIDE]
    torque = np.ascontiguousarray(grid.torque[::STRIDE, ::STRIDE]).ravel()
    frequency = machine.pole_pairs * speed / (2.0 * np.pi)
    factors = speed_factors(drive, speed)
    resistance = table.resistance * factors.resistance_ratio
    belt, slots = factors.eddy, factors.slot_eddy
    weights = np.stack(
        [
            frequency, frequency**2, frequency**1.5, belt.magnet + belt.sleeve,
            slots.magnet + slots.sleeve,
        ],
        axis=1,
    )  # fmt: skip
    iron, rotor_iron, ripples = np.split(drive.coefficients, (3, 6))
    maps = np.concatenate([iron + rotor_iron, ripples**2])
    speeds = np.repeat(speed, share.size)
    points = operate_least_loss(
        table, torque, speeds, drive.duty.supply.voltage_peak(grid.dc_voltage),
        resistance=np.repeat(resistance, share.size),
        loss_maps=maps,
        loss_weights=np.repeat(weights, share.size, axis=0),
    )  # fmt: skip
    before = (grid.i_d[::STRIDE, ::STRIDE].ravel(), grid.i_q[::STRIDE, ::STRIDE].ravel())
    resistances, all_weights = (np.repeat(x, share.size, axis=0) for x in (resistance, weights))

    def loss_of(i_d: Array, i_q: Array) -> Array:
        # Friction is the same for both.
        total = 1.5 * resistances * (i_d**2 + i_q**2)
        found = np.maximum(interpolate_all(table, maps, i_d, i_q), 0.0)
        return np.asarray(total + np.einsum("nk,kn->n", all_weights, found))

    saving = np.maximum(loss_of(*before) - loss_of(points.i_d, points.i_q), 0.0)
    saving = saving.reshape(speed.size, share.size)
    inside = np.clip(cycle.speed, 0.0, float(speed[-1]))
    there = np.maximum(
        sample(saving, inside / (speed[1] - speed[0]), (cycle.share + 1.0) / (share[1] - share[0])),
        0.0,
    )
    is_driving = cycle.losses.total > 0.0
    saved = float(cycle.duration @ np.where(is_driving, there, 0.0))
    total = cycle.loss_energy
    return PolicySaving(speed, share, saving, saved / total if total > 0.0 else 0.0)
