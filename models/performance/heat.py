"""What temperatures allow: continuous ratings, peak hold time, launch, heating over the cycle."""

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from models.control.operate import OperatingPoints, envelope, operate
from models.control.surface import Array
from models.control.table import interpolate, resample
from models.losses.mechanical import MechanicalLoss
from models.performance.cycle import CycleResult
from models.performance.drive import Drive, drag_torque, losses
from models.performance.efficiency import EfficiencyMap
from models.performance.families import rotor_temperatures
from models.performance.loss_parts import Losses
from models.thermal.network import ThermalNetwork, build_network, place_losses
from models.thermal.nodes import AT
from models.thermal.rating import Rating, continuous_rating
from models.thermal.steady import (
    Load,
    hottest_winding,
    magnet_temperature,
    standstill,
    steady_temperatures,
)
from models.thermal.transient import (
    CycleTemperatures,
    hold_time,
    settled_cycle_temperatures,
    temperatures_after,
)

LEVELS = 11
"""Torque levels of a continuous rating."""
LAUNCH_LEVELS = 9
"""Current levels of the launch torque."""
CYCLE_STEP = 10.0
"""Length of the pieces in which a cycle heats the machine [s]."""
LONGEST_HOLD = 1800.0
"""Peak torque held so long counts as held continuously [s]."""


@dataclass(frozen=True, eq=False)
class HeatResult:
    """Temperatures and what they allow.

    Attributes
    ----------
    network : ThermalNetwork
        The machine's network.
    cycle : CycleTemperatures
        Over repeated cycles.
    load_temperatures : ndarray, shape (n,)
        Steady node temperatures at the duty's continuous load [degC].
    winding_temperature, magnet_temperature, bearing_temperature : float
        Hot spot, magnets and bearings at that load [degC].
    continuous_torque : float
        Shaft torque held continuously at base speed [N*m].
    continuous_limit : str
        Which limit binds it: `winding`, `magnet` or `none` (current or voltage).
    continuous_current : float
        Phase current there, rms [A].
    continuous_power : float
        Shaft power held continuously at half of top speed [W].
    hold_time : float
        Peak torque at base speed from cycle temperatures until a limit [s].
    launch_torque : float
        Standstill torque that stall current and heating allow for the launch time [N*m].
    """

    network: ThermalNetwork
    cycle: CycleTemperatures
    load_temperatures: Array
    winding_temperature: float
    magnet_temperature: float
    bearing_temperature: float
    continuous_torque: float
    continuous_limit: str
    continuous_current: float
    continuous_power: float
    hold_time: float
    launch_torque: float


def thermal_load(drive: Drive, network: ThermalNetwork, loss: Losses, speed: Array) -> Load:
    """Return losses placed in the network's nodes."""
    return Load(
        speed=np.asarray(speed, dtype=float),
        losses=place_losses(
            network,
            winding_ac=loss.winding_ac + loss.switching_winding,
            winding_ac_opening=loss.winding_ac_opening,
            iron=loss.iron + loss.switching_iron + 0.5 * loss.stray,
            rotor_iron=loss.rotor_iron,
            # a sleeve sits on the magnets
            # and a cage takes their place; half of the stray loss is on the rotor
            magnet=loss.magnet + loss.sleeve + loss.cage + 0.5 * loss.stray,
            mechanical=loss.mechanical,
        ),
        winding_dc=loss.winding_dc,
        reference_temperature=drive.duty.temperatures.winding_rated,
    )


def heat(drive: Drive, grid: EfficiencyMap, cycle: CycleResult) -> HeatResult:
    """Return temperatures and thermal ratings at nominal DC voltage.

    All load points are solved in one batch: the duty's continuous load, torque levels at base
    speed and at half of top speed, and current levels at standstill.
    """
    duty, table = drive.duty, drive.table
    limits = duty.temperatures
    rotor_limit = rotor_temperatures(drive.machine, duty)[1]
    network = build_network(drive.machine, duty.cooling, drive.masses)
    voltage = duty.supply.voltage_peak(duty.supply.dc_voltage)

    rating_speeds = np.array([duty.base_speed, 0.5 * duty.top_speed])
    tops = envelope(table, rating_speeds, voltage)
    levels = np.maximum(tops.torque, 1e-3)[:, None] * np.linspace(0.0, 1.0, LEVELS)
    wanted = np.concatenate([[_air_gap_torque_for_load(drive, grid)], levels.ravel()])
    speeds = np.concatenate([[duty.continuous_speed], np.repeat(rating_speeds, LEVELS)])
    points = operate(table, wanted, speeds, voltage)
    launch_share, launch_torque, launch_d, launch_q = _launch_levels(drive)
    speed = np.concatenate([speeds, np.zeros(LAUNCH_LEVELS)])
    i_d = np.concatenate([points.i_d, launch_d])
    i_q = np.concatenate([points.i_q, launch_q])
    loss = losses(drive, i_d, i_q, speed)
    loss_there = _asked(loss, wanted[0], points)
    load = thermal_load(drive, network, loss_there, speed)
    drag = drag_torque(loss, speed)
    current = np.hypot(i_d, i_q) / sqrt(2.0)

    per_remanence = torque_per_remanence(drive, i_d, i_q)
    steady = steady_temperatures(network, load.at(0))
    if np.all(np.isfinite(steady)) and points.torque[0] > 0.0:
        # Hotter magnets need more current for the load: its winding loss follows the square.
        given = float(points.torque[0]) + _torque_change(drive, steady, float(per_remanence[0]))
        more = (float(points.torque[0]) / max(given, 1e-3)) ** 2 - 1.0
        steady = steady_temperatures(
            network, _with_winding_loss(network, load.at(0), loss_there, more)
        )
    piece, speed_then, duration = _pieces(cycle)
    settled = settled_cycle_temperatures(
        network, thermal_load(drive, network, piece, speed_then), duration
    )
    ratings, held = [], []
    for k in range(2):
        rows = slice(1 + k * LEVELS, 1 + (k + 1) * LEVELS)
        shaft, rating = shaft_rating(
            drive, network, _rows(load, rows), levels[k],
            drag=drag[rows], per_remanence=per_remanence[rows],
        )  # fmt: skip
        ratings.append((shaft, rating.limit))
        held.append(float(np.interp(rating.torque, levels[k], current[rows])))
    peak = hold_time(
        network,
        load.at(LEVELS),  # the last level at base speed
        start=settled.mean,
        winding_limit=limits.winding_limit,
        magnet_limit=rotor_limit,
        longest=LONGEST_HOLD,
    )
    return HeatResult(
        network=network,
        cycle=settled,
        load_temperatures=steady,
        winding_temperature=float(hottest_winding(steady)),
        magnet_temperature=float(magnet_temperature(steady)),
        bearing_temperature=float(max(steady[AT["bearings"]], steady[AT["shaft"]])),
        continuous_torque=ratings[0][0],
        continuous_limit=ratings[0][1],
        continuous_current=held[0],
        continuous_power=ratings[1][0] * 0.5 * duty.top_speed,
        hold_time=peak.time,
        launch_torque=_launch_torque(
            drive,
            network,
            settled,
            _rows(load, slice(len(speeds), None)),
            share=launch_share,
            torque=launch_torque,
        ),
    )


def _pieces(cycle: CycleResult) -> tuple[Losses, Array, Array]:
    """Return mean losses, mean speed [rad/s] and length [s] of pieces of about `CYCLE_STEP`.

    Energy is kept. The march over the cycle would join its intervals anyway: joined here, losses
    are placed in the network a tenth as often.
    """
    end = np.cumsum(cycle.duration)
    piece = np.floor((end - 1e-9 * end[-1]) / CYCLE_STEP)
    first = np.flatnonzero(np.diff(piece, prepend=-1.0))
    duration = np.add.reduceat(cycle.duration, first)

    every = np.stack([*cycle.losses.arrays(), cycle.speed]) * cycle.duration
    *parts, speed = np.add.reduceat(every, first, axis=1) / duration
    return Losses.of(parts), speed, duration


def _asked(loss: Losses, wanted: float, points: OperatingPoints) -> Losses:
    """Return the losses with those of the first point raised where its torque is out of reach.

    A machine too weak for the continuous load must not look cool for it: its winding loss is
    raised as the square of torque asked over torque reached.
    """
    if points.is_reached[0]:
        return loss
    direct, extra = loss.winding_dc.copy(), loss.winding_ac.copy()
    opening = loss.winding_ac_opening.copy()
    factor = (wanted / max(float(points.torque[0]), 1e-3 * wanted)) ** 2
    direct[0] *= factor
    extra[0] *= factor
    opening[0] *= factor
    return replace(loss, winding_dc=direct, winding_ac=extra, winding_ac_opening=opening)


def _with_winding_loss(network: ThermalNetwork, load: Load, loss: Losses, more: float) -> Load:
    """Return the first point's load with its winding loss raised by a share of itself."""
    none = MechanicalLoss(*(np.zeros(()) for _ in range(3)))
    extra = place_losses(
        network, winding_ac=more * loss.winding_ac[0], iron=0.0, magnet=0.0, mechanical=none,
        winding_ac_opening=more * loss.winding_ac_opening[0],
    )  # fmt: skip
    return Load(
        load.speed, load.losses + extra, load.winding_dc * (1.0 + more),
        load.reference_temperature,
    )  # fmt: skip


def shaft_rating(
    drive: Drive, network: ThermalNetwork, load: Load, levels: Array, *, drag: Array,
    per_remanence: Array,
) -> tuple[float, Rating]:  # fmt: skip
    """Return the shaft torque held continuously at one speed [N*m], and the rating behind it.

    Parameters
    ----------
    drive, network : objects
        The machine.
    load : Load
        Losses at the torque levels, shape (n_levels,).
    levels, drag : ndarray, shape (n_levels,)
        Air-gap torque of the levels, ascending, and torque of the braking losses there [N*m].
    per_remanence : ndarray, shape (n_levels,)
        Change of torque with remanence at equal currents [N*m/T]: the magnets are as hot as the
        rating makes them.
    """
    rating = continuous_rating(
        network,
        load,
        levels,
        winding_limit=drive.duty.temperatures.winding_limit,
        magnet_limit=rotor_temperatures(drive.machine, drive.duty)[1],
    )
    slope = float(np.interp(rating.torque, levels, per_remanence))
    shaft = rating.torque - float(np.interp(rating.torque, levels, drag))
    return max(0.0, shaft + _torque_change(drive, rating.temperatures, slope)), rating


def _torque_change(drive: Drive, temperatures: Array, slope: float) -> float:
    """Return the change of air-gap torque at equal currents with magnets at these temperatures."""
    magnet, rated = drive.machine.magnet, drive.duty.temperatures.magnet_rated
    there = magnet.remanence(float(magnet_temperature(temperatures)))
    return slope * (there - magnet.remanence(rated))


def torque_per_remanence(drive: Drive, i_d: Array, i_q: Array) -> Array:
    """Return the derivative of air-gap torque by remanence at currents [N*m/T]."""
    table, maps = drive.table, drive.maps
    psi_d = interpolate(table, resample(maps, maps.psi_d_per_remanence), i_d, i_q)
    psi_q = interpolate(table, resample(maps, maps.psi_q_per_remanence, is_odd=True), i_d, i_q)
    return np.asarray(1.5 * drive.machine.pole_pairs * (psi_d * i_q - np.sign(i_q) * psi_q * i_d))


def _rows(load: Load, rows: slice) -> Load:
    return Load(
        load.speed[rows], load.losses[rows], load.winding_dc[rows], load.reference_temperature
    )


def _air_gap_torque_for_load(drive: Drive, grid: EfficiencyMap) -> float:
    """Return the air-gap torque of the duty's continuous load, drag added, from the map [N*m]."""
    duty = drive.duty
    k = int(np.argmin(np.abs(grid.speed - duty.continuous_speed)))
    drag = np.interp(duty.continuous_torque, grid.shaft_torque[k], grid.losses.braking[k])
    return duty.continuous_torque + float(drag) / max(duty.continuous_speed, 1.0)


def _launch_levels(drive: Drive) -> tuple[Array, Array, Array, Array]:
    """Return share of the current limit, torque, i_d and i_q of the levels at standstill."""
    share = np.linspace(0.0, drive.duty.supply.stall_current_ratio, LAUNCH_LEVELS)
    nodes = np.linspace(0.0, 1.0, drive.table.mtpa.shape[1])
    torque, i_d, i_q = (np.interp(share, nodes, row) for row in drive.table.mtpa)
    return share, torque, i_d, i_q


def _launch_torque(
    drive: Drive,
    network: ThermalNetwork,
    settled: CycleTemperatures,
    load: Load,
    *,
    share: Array,
    torque: Array,
) -> float:
    """Return the standstill torque held for the launch time from mean cycle temperatures.

    The rotor may stop with one phase at its crest: that phase's loss is taken for all.
    """
    limit, times = drive.duty.temperatures.winding_limit, np.array([drive.duty.launch_time])

    def winding_after(levels: slice) -> Array:
        stalled = standstill(_rows(load, levels))
        return hottest_winding(
            temperatures_after(network, stalled, start=settled.mean, times=times)[:, 0]
        )

    # Most machines bear the largest current that long: asked first, the others are seldom needed.
    if winding_after(slice(-1, None))[0] <= limit:
        return float(torque[-1])
    winding = winding_after(slice(None))
    k = int(np.argmax(winding > limit))
    if k == 0:
        return 0.0
    # Heating follows squared current between two levels.
    part = (limit - winding[k - 1]) / (winding[k] - winding[k - 1])
    at_limit = np.sqrt(share[k - 1] ** 2 + (share[k] ** 2 - share[k - 1] ** 2) * part)
    return float(np.interp(at_limit, share, torque))
