"""A machine on its supply at rated temperatures: currents, voltages and losses at any point."""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from models.control.operate import OperatingPoints, base_speed, operate
from models.control.slip import slip_frequency
from models.control.surface import Array
from models.control.table import (
    TorqueTable,
    interpolate,
    interpolate_all,
    resample,
    torque_table,
)
from models.duty import Duty
from models.flux_maps import FluxMaps
from models.losses.copper import phase_resistance, resistance_ratio
from models.machine import Machine
from models.mechanical.mass import Masses
from models.performance.loss_parts import Losses, StrayLoss, stray_loss
from models.performance.speed_factors import SpeedFactors, map_speeds
from models.performance.switching import Switching


@dataclass(frozen=True, eq=False)
class Drive:
    """A machine with its maps, prepared for one duty.

    Attributes
    ----------
    machine, duty, maps, masses : objects
        See their classes.
    table : TorqueTable
        Linkages at rated winding and magnet temperature; its voltage limit counts the resistance
        of each speed.
    coefficients : ndarray, shape (8, n_fine, n_fine)
        What losses are made of, from `FluxMaps`, on the table's fine grid: hysteresis, classical
        and excess coefficient of the stator's iron, the same of the rotor's, and the magnets'
        ripple at 6 f and at the slots' frequency.
    factors : SpeedFactors
        At the speeds of the efficiency map and of the ratings.
    stray : StrayLoss or None
        Of a cage machine.
    switching : Switching or None
        Where the duty's supply has a switching frequency.
    """

    machine: Machine
    duty: Duty
    maps: FluxMaps
    masses: Masses
    table: TorqueTable
    coefficients: Array
    factors: SpeedFactors
    stray: StrayLoss | None = None
    switching: Switching | None = None


def prepare(machine: Machine, duty: Duty, maps: FluxMaps, masses: Masses) -> Drive:
    """Return the drive at the duty's rated temperatures."""
    rated = duty.temperatures
    electrical = machine.pole_pairs * map_speeds(duty)
    rise = resistance_ratio(machine, electrical / (2.0 * pi), rated.winding_rated)
    direct = torque_table(
        maps,
        pole_pairs=machine.pole_pairs,
        current_peak=duty.supply.current_peak,
        resistance=phase_resistance(machine, rated.winding_rated),
        remanence=machine.magnet.remanence(rated.magnet_rated),
    )
    table = replace(direct, rise_speed=electrical, rise=rise)
    corner = base_speed(table, duty.supply.voltage_peak(duty.supply.dc_voltage))
    also = (corner, duty.base_speed, 0.5 * duty.top_speed, duty.continuous_speed)
    speeds = np.unique(np.concatenate([map_speeds(duty), also]))
    return Drive(
        machine=machine,
        duty=duty,
        maps=maps,
        masses=masses,
        table=table,
        coefficients=resample(
            maps,
            np.stack(
                [
                    maps.iron_hysteresis,
                    maps.iron_classical,
                    maps.iron_excess,
                    maps.rotor_hysteresis,
                    maps.rotor_classical,
                    maps.rotor_excess,
                    maps.magnet_ripple,
                    maps.magnet_slot_ripple,
                ]
            ),
        ),
        factors=SpeedFactors.of(machine, duty, masses, speeds),
        stray=stray_loss(table, duty.base_speed),
        switching=Switching.of(machine, duty, masses, table),
    )


def speed_factors(drive: Drive, speed: Array) -> SpeedFactors:
    """Return the factors at speeds [rad/s], shape (n,): from the drive's where it has them all.

    Speeds repeat in every map, so each is looked at once. Slip, some per cent of the frequency
    of a cage machine, is left out of them.
    """
    each, where = np.unique(speed, return_inverse=True)
    known = drive.factors
    row = np.minimum(np.searchsorted(known.speed, each), known.speed.size - 1)
    if np.array_equal(known.speed[row], each):
        return known.at(row[where])
    return SpeedFactors.of(drive.machine, drive.duty, drive.masses, each).at(where)


def losses(drive: Drive, i_d: Array, i_q: Array, speed: Array) -> Losses:
    """Return the losses at currents and speeds, arrays of shape (n,).

    Parameters
    ----------
    drive : Drive
    i_d, i_q : ndarray, shape (n,)
        Peak currents [A].
    speed : ndarray, shape (n,)
        Mechanical speed [rad/s].
    """
    table, machine = drive.table, drive.machine
    frequency = machine.pole_pairs * speed / (2.0 * pi)
    torque = air_gap_torque(drive, i_d, i_q)
    slip = slip_frequency(table, torque, i_d, i_q)

    # Interpolation of a quantity that is nowhere negative may dip below zero near zero.
    found = np.maximum(interpolate_all(table, drive.coefficients, i_d, i_q), 0.0)
    hysteresis, classical, excess, ripple, slot_ripple = *found[:3], *found[6:]
    rotor_hysteresis, rotor_classical, rotor_excess = found[3:6]
    # Iron loss brakes the rotor (see nomenclature), so at standstill, where only slip is left of
    # the frequency (a few Hz), it is left out.
    stator = np.where(speed > 0.0, np.abs(frequency + slip / (2.0 * pi)), 0.0)
    iron = hysteresis * stator + classical * stator**2 + excess * stator * np.sqrt(stator)
    direct = 1.5 * table.resistance * (i_d**2 + i_q**2)
    rotor_iron = rotor_hysteresis * frequency + rotor_classical * frequency**2
    rotor_iron += rotor_excess * frequency * np.sqrt(frequency)
    factors = speed_factors(drive, speed)
    belt, slots, idle = factors.eddy, factors.slot_eddy, factors.idle_eddy
    square, slot_square = ripple**2, slot_ripple**2
    none = np.zeros_like(direct)
    by_switching = (none, none)
    if drive.switching is not None:
        resistance = table.resistance * factors.resistance_ratio
        voltage = _voltage(table, i_d, i_q, speed, resistance)
        by_switching = drive.switching.at(table, i_d, i_q, np.hypot(*voltage))
    return Losses(
        winding_dc=direct,
        winding_ac=direct * (factors.resistance_ratio - 1.0),
        winding_ac_opening=direct * factors.opening,
        iron=iron,
        rotor_iron=rotor_iron,
        magnet=belt.magnet * square + slots.magnet * slot_square + idle.magnet,
        sleeve=belt.sleeve * square + slots.sleeve * slot_square + idle.sleeve,
        mechanical=factors.friction,
        cage=slip * torque / machine.pole_pairs,
        stray=none if drive.stray is None else drive.stray.at(torque, speed),
        switching_iron=by_switching[0],
        switching_winding=by_switching[1],
    )


def terminal_voltage(
    drive: Drive, i_d: Array, i_q: Array, speed: Array, loss: Losses
) -> tuple[Array, Array]:
    """Return v_d and v_q [V], peak.

    v_d = R i_d - w psi_q, v_q = R i_q + w psi_d with the alternating-current resistance.
    """
    square = i_d**2 + i_q**2
    resistance = np.divide(
        loss.winding, 1.5 * square, out=np.zeros_like(square), where=square > 0.0
    )
    return _voltage(drive.table, i_d, i_q, speed, resistance)


def _voltage(
    table: TorqueTable, i_d: Array, i_q: Array, speed: Array, resistance: Array
) -> tuple[Array, Array]:
    psi_d = interpolate(table, table.psi_d, i_d, i_q)
    psi_q = np.sign(i_q) * interpolate(table, table.psi_q, i_d, i_q)
    torque = 1.5 * table.pole_pairs * (psi_d * i_q - psi_q * i_d)
    w = speed * table.pole_pairs + slip_frequency(table, torque, i_d, i_q)
    return resistance * i_d - w * psi_q, resistance * i_q + w * psi_d


def terminal_power(drive: Drive, i_d: Array, i_q: Array, speed: Array, loss: Losses) -> Array:
    """Return electrical power at the terminals [W].

    P = 1.5 (v_d i_d + v_q i_q) of the fundamental, and what switching harmonics bring.
    """
    v_d, v_q = terminal_voltage(drive, i_d, i_q, speed, loss)
    return np.asarray(1.5 * (v_d * i_d + v_q * i_q) + loss.switching)


def air_gap_torque(drive: Drive, i_d: Array, i_q: Array) -> Array:
    """Return 1.5 p (psi_d i_q - psi_q i_d) [N*m]."""
    table = drive.table
    psi_d = interpolate(table, table.psi_d, i_d, i_q)
    psi_q = np.sign(i_q) * interpolate(table, table.psi_q, i_d, i_q)
    return np.asarray(1.5 * drive.machine.pole_pairs * (psi_d * i_q - psi_q * i_d))


def drag_torque(loss: Losses, speed: Array) -> Array:
    """Return the torque of the braking losses [N*m]; zero at standstill."""
    return np.divide(loss.braking, speed, out=np.zeros_like(loss.braking), where=speed > 0.0)


def shaft_points(
    drive: Drive, torque: Array, speed: Array, voltage: float
) -> tuple[OperatingPoints, Losses]:
    """Return operating points for wanted shaft torques, and their losses.

    The air-gap torque is the shaft torque plus the drag of iron, magnet and mechanical loss,
    which depends on the currents; three passes settle it to below 0.01 % of the torque.
    """
    wanted = torque
    for _ in range(3):
        points = operate(drive.table, wanted, speed, voltage)
        loss = losses(drive, points.i_d, points.i_q, points.speed)
        wanted = torque + drag_torque(loss, points.speed)
    return points, loss
