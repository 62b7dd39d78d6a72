"""Efficiency map: a uniform grid over speed and share of the envelope, motoring and generating."""

from dataclasses import dataclass

import numpy as np

from models.control.operate import envelope, operate
from models.control.surface import Array, sample, sample_all
from models.performance.drive import Drive, air_gap_torque, drag_torque, losses, terminal_power
from models.performance.loss_parts import Losses
from models.performance.speed_factors import envelope_speeds, map_speeds

SHARES = 25


@dataclass(frozen=True, eq=False)
class EfficiencyMap:
    """Losses over speed and torque at one DC voltage.

    Attributes
    ----------
    dc_voltage : float
        [V].
    speed : ndarray, shape (n_s,)
        Uniform from 0 to top speed [rad/s].
    share : ndarray, shape (n_k,)
        Uniform from -1 to 1: air-gap torque over the envelope (generating below zero).
    torque, shaft_torque : ndarray, shape (n_s, n_k)
        Air-gap and shaft torque [N*m].
    i_d, i_q : ndarray, shape (n_s, n_k)
        Peak currents [A].
    losses : Losses
        Arrays of shape (n_s, n_k).
    terminal_power : ndarray, shape (n_s, n_k)
        Electrical power into the terminals [W].
    efficiency : ndarray, shape (n_s, n_k)
        Output over input in the direction of power flow; 0 where nothing useful comes out.
    envelope_speed : ndarray, shape (n_e,)
        [rad/s].
    motoring_limit, generating_limit : ndarray, shape (n_e,)
        Envelope of air-gap torque there, the second negative [N*m].
    """

    dc_voltage: float
    speed: Array
    share: Array
    torque: Array
    shaft_torque: Array
    i_d: Array
    i_q: Array
    losses: Losses
    terminal_power: Array
    efficiency: Array
    envelope_speed: Array
    motoring_limit: Array
    generating_limit: Array


def efficiency_map(drive: Drive, dc_voltage: float) -> EfficiencyMap:
    """Return the efficiency map at a DC voltage [V]."""
    voltage = drive.duty.supply.voltage_peak(dc_voltage)
    fine, speed = envelope_speeds(drive.duty), map_speeds(drive.duty)
    motoring = envelope(drive.table, fine, voltage).torque
    generating = envelope(drive.table, fine, voltage, is_generating=True).torque
    every = (fine.size - 1) // (speed.size - 1)
    share = np.linspace(-1.0, 1.0, SHARES)
    torque = np.where(
        share[None, :] >= 0.0,
        share[None, :] * motoring[::every, None],
        -share[None, :] * generating[::every, None],
    )
    speeds = np.repeat(speed, SHARES)
    points = operate(drive.table, torque.ravel(), speeds, voltage)
    loss = losses(drive, points.i_d, points.i_q, speeds)
    power_in = terminal_power(drive, points.i_d, points.i_q, speeds, loss)
    # From the same interpolated linkages as the terminal voltages, so that energy balances.
    air_gap = air_gap_torque(drive, points.i_d, points.i_q)
    shaft = air_gap - drag_torque(loss, speeds)
    power_out = shaft * speeds
    return EfficiencyMap(
        dc_voltage=dc_voltage,
        speed=speed,
        share=share,
        torque=air_gap.reshape(torque.shape),
        shaft_torque=shaft.reshape(torque.shape),
        i_d=points.i_d.reshape(torque.shape),
        i_q=points.i_q.reshape(torque.shape),
        losses=loss.each(lambda values: values.reshape(torque.shape)),
        terminal_power=power_in.reshape(torque.shape),
        efficiency=_efficiency(power_in, power_out).reshape(torque.shape),
        envelope_speed=fine,
        motoring_limit=motoring,
        generating_limit=generating,
    )


def _efficiency(power_in: Array, power_out: Array) -> Array:
    """Return useful output over input: shaft when motoring, terminals when generating."""
    out = np.zeros_like(power_in)
    motoring = (power_out > 0.0) & (power_in > 0.0)
    generating = (power_out < 0.0) & (power_in < 0.0)
    np.divide(power_out, power_in, out=out, where=motoring)
    np.divide(power_in, power_out, out=out, where=generating)
    return out


def read(grid: EfficiencyMap, values: Array, speed: Array, share: Array) -> Array:
    """Interpolate a quantity of the map, four-point cubic in both directions.

    Parameters
    ----------
    grid : EfficiencyMap
    values : ndarray, shape (n_s, n_k)
        Any quantity of the map.
    speed : ndarray, shape (n,)
        [rad/s], within the map.
    share : ndarray, shape (n,)
        Air-gap torque over the envelope, -1 to 1.
    """
    x = speed / (grid.speed[1] - grid.speed[0])
    y = (share + 1.0) / (grid.share[1] - grid.share[0])
    return np.asarray(sample(np.ascontiguousarray(values), x, y))


def read_all(grid: EfficiencyMap, stack: Array, speed: Array, share: Array) -> Array:
    """Interpolate several quantities of the map at once, see `read`; (m, n_s, n_k) to (m, n)."""
    x = speed / (grid.speed[1] - grid.speed[0])
    y = (share + 1.0) / (grid.share[1] - grid.share[0])
    return np.asarray(sample_all(stack, x, y))
