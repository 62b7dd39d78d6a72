"""Tables over speed: control, envelope, open and short circuit, drive cycle."""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from models.axes import published
from models.control.faults import back_emf_line_peak, open_circuit_flux, short_circuit
from models.control.operate import envelope
from models.control.table import torque_table
from models.performance.drive import Drive, drag_torque, losses, shaft_points
from models.performance.summary import Performance
from optim.export.table import EDDY_NOTE, Table, column, current_note, rotor_loss

Array = NDArray[np.float64]
RPM = 30.0 / pi
"""Revolutions per minute of one rad/s."""
SPEEDS = 27
LEVELS = 21
"""Torque levels from zero to the peak, in both directions of the control table."""


@dataclass(frozen=True, eq=False)
class ShaftEnvelope:
    """Largest shaft torque over speed at one DC voltage; arrays of shape (n,), SI.

    Attributes
    ----------
    dc_voltage : float
        [V].
    speed, torque, i_d, i_q : ndarray
        Speed [rad/s], shaft torque [N*m], peak currents [A].
    is_within : ndarray of bool
        Whether any current keeps the voltage within its limit.
    """

    dc_voltage: float
    speed: Array
    torque: Array
    i_d: Array
    i_q: Array
    is_within: NDArray[np.bool_]


def shaft_envelope(
    drive: Drive, speed: Array, dc_voltage: float, *, is_generating: bool = False
) -> ShaftEnvelope:
    """Return the largest shaft torque at speeds [rad/s] at a DC voltage [V]."""
    limit = envelope(
        drive.table,
        speed,
        drive.duty.supply.voltage_peak(dc_voltage),
        is_generating=is_generating,
    )
    drag = drag_torque(losses(drive, limit.i_d, limit.i_q, limit.speed), limit.speed)
    return ShaftEnvelope(
        dc_voltage, limit.speed, limit.torque - drag, limit.i_d, limit.i_q, limit.is_within
    )


def voltages(drive: Drive) -> tuple[float, ...]:
    """Return nominal and lowest DC voltage [V], once if they are equal."""
    supply = drive.duty.supply
    return tuple(dict.fromkeys((supply.dc_voltage, supply.dc_voltage_min)))


def control_table(performance: Performance) -> Table:
    """Return i_d and i_q over DC voltage, speed and wanted shaft torque, least current."""
    drive = performance.drive
    speed = np.linspace(0.0, performance.duty.top_speed, SPEEDS)
    # The shaft gives less than the air gap when motoring; the last level is the envelope.
    half = np.linspace(0.0, drive.table.peak_torque, LEVELS)
    wanted = np.concatenate([-half[:0:-1], half])
    family = performance.machine.family
    every = np.repeat(speed, wanted.size)
    asked = np.tile(wanted, speed.size)
    blocks = []
    for dc_voltage in voltages(drive):
        points, loss = shaft_points(drive, asked, every, drive.duty.supply.voltage_peak(dc_voltage))
        shaft = points.torque - drag_torque(loss, points.speed)
        blocks.append(
            np.array([np.full(asked.size, dc_voltage), every * RPM, asked,
                      *published(family, points.i_d, points.i_q),
                      np.hypot(points.i_d, points.i_q) / sqrt(2.0), shaft, points.torque,
                      points.is_reached])
        )  # fmt: skip
    rows = np.concatenate(blocks, axis=1)
    return Table(
        name="control",
        title="Currents for a wanted shaft torque: least current, within current and voltage",
        columns=(
            column("dc_voltage", "V", rows[0]),
            column("speed", "rpm", rows[1], "mechanical"),
            column("wanted_torque", "N*m", rows[2], "at the shaft"),
            column("i_d", "A", rows[3], current_note(family, "d")),
            column("i_q", "A", rows[4], current_note(family, "q")),
            column("phase_current", "A", rows[5], "rms"),
            column("shaft_torque", "N*m", rows[6], "reached"),
            column("air_gap_torque", "N*m", rows[7], "reached"),
            column("is_reached", "-", rows[8], "1 if within the limits, 0 if at the envelope"),
        ),
        notes=(
            f"phase-voltage amplitude at most {drive.duty.supply.modulation:g} x U_dc / sqrt(3)",
            "current grows with heat: no derating by temperature is applied here",
        ),
        shape=(len(blocks), speed.size, wanted.size),
    )


def envelope_table(performance: Performance) -> Table:
    """Return the motoring and generating envelope at nominal and lowest DC voltage."""
    drive = performance.drive
    speed = np.linspace(0.0, performance.duty.top_speed, 4 * (SPEEDS - 1) + 1)
    resistance = drive.table.resistance_at(drive.machine.pole_pairs * speed)
    at = (
        f"one phase at {performance.duty.temperatures.winding_rated:g} degC with skin and proximity"
    )
    columns = [
        column("speed", "rpm", speed * RPM, "mechanical"),
        column("phase_resistance", "ohm", resistance, f"{at}: what the voltage limit counts"),
    ]
    names = ("nominal", "lowest")
    for name, dc_voltage in zip(names, voltages(drive)):
        for mode, is_generating in (("motoring", False), ("generating", True)):
            limit = shaft_envelope(drive, speed, dc_voltage, is_generating=is_generating)
            at = f"{mode}, {dc_voltage:g} V DC"
            i_d, i_q = published(performance.machine.family, limit.i_d, limit.i_q)
            columns += [
                column(f"torque_{mode}_{name}", "N*m", limit.torque, f"shaft, {at}"),
                column(f"power_{mode}_{name}", "W", limit.torque * speed, f"shaft, {at}"),
                column(f"i_d_{mode}_{name}", "A", i_d, f"peak value, {at}"),
                column(f"i_q_{mode}_{name}", "A", i_q, f"peak value, {at}"),
            ]
    return Table("envelope", "Largest shaft torque and power over speed", tuple(columns))


def fault_table(performance: Performance) -> Table:
    """Return back-EMF, short circuit and no-load loss over speed."""
    drive, machine, duty = performance.drive, performance.machine, performance.duty
    even = np.linspace(0.0, duty.top_speed, 4 * (SPEEDS - 1) + 1)
    # Short-circuit torque peaks at a few hundred rpm: low speeds need steps of their own.
    low = duty.top_speed * np.geomspace(1e-3, 0.05, 18)
    speed = np.unique(np.concatenate([even, low]))
    cold = torque_table(
        drive.maps,
        pole_pairs=machine.pole_pairs,
        current_peak=drive.table.current_peak,
        resistance=drive.table.resistance,
        remanence=machine.magnet.remanence(duty.temperatures.magnet_cold),
    )
    short = short_circuit(drive.table, speed)
    short_d, short_q = published(machine.family, short.i_d, short.i_q)
    zero = np.zeros_like(speed)
    idle = losses(drive, zero, zero, speed)
    per_speed_cold = back_emf_line_peak(cold, 1.0)
    per_speed = back_emf_line_peak(drive.table, 1.0)
    limits = duty.temperatures
    return Table(
        name="open_and_short_circuit",
        title="Back-EMF, steady three-phase short circuit and no-load loss over speed",
        columns=(
            column("speed", "rpm", speed * RPM, "mechanical"),
            column("emf_line_peak_cold", "V", per_speed_cold * speed,
                   f"line to line, fundamental, magnets at {limits.magnet_cold:g} degC"),
            column("emf_line_peak", "V", per_speed * speed,
                   f"line to line, fundamental, magnets at {limits.magnet_rated:g} degC"),
            column("emf_line_rms", "V", per_speed * speed / sqrt(2.0),
                   "line to line, rms of the fundamental, rated magnets"),
            column("short_circuit_i_d", "A", short_d, "peak value"),
            column("short_circuit_i_q", "A", short_q, "peak value"),
            column("short_circuit_current", "A", np.hypot(short.i_d, short.i_q) / sqrt(2.0),
                   "rms, steady state: the first peaks are higher"),
            column("short_circuit_torque", "N*m", short.torque, "air gap, braking is negative"),
            column("no_load_loss_iron", "W", idle.iron, "stator sheets, zero current"),
            column("no_load_loss_rotor_iron", "W", idle.rotor_iron, "zero current"),
            column("no_load_loss_magnet", "W", idle.magnet + idle.sleeve,
                   f"zero current, {EDDY_NOTE}"),
            column("no_load_loss_mechanical", "W", idle.mechanical.total),
            column("drag_torque", "N*m", drag_torque(idle, speed), "zero current"),
        ),
        notes=(f"open-circuit flux linkage {open_circuit_flux(drive.table):.6g} Wb peak, rated",),
    )  # fmt: skip


def cycle_table(performance: Performance) -> Table:
    """Return the drive cycle as a time series."""
    cycle, vehicle = performance.cycle, performance.duty.vehicle
    parts = cycle.losses
    start = np.concatenate([[0.0], np.cumsum(cycle.duration)[:-1]])
    road = cycle.speed * vehicle.wheel_radius / vehicle.gear_ratio
    mechanical = cycle.torque * cycle.speed
    return Table(
        name="cycle",
        title=f"Drive cycle {performance.duty.cycle.name}, one row an interval",
        columns=(
            column("start", "s", start, "start of the interval"),
            column("duration", "s", cycle.duration),
            column("vehicle_speed", "m/s", road, "mean of the interval"),
            column("speed", "rpm", cycle.speed * RPM, "motor, mechanical"),
            column("torque_asked", "N*m", cycle.demand, "at the motor shaft"),
            column("torque", "N*m", cycle.torque, "delivered"),
            column("is_reached", "-", cycle.is_reached, "1 if what is asked is within reach"),
            column("shaft_power", "W", mechanical),
            column("terminal_power", "W", mechanical + parts.total, "shaft power plus loss"),
            column("loss_winding_dc", "W", parts.winding_dc),
            column("loss_winding_ac", "W", parts.winding_ac),
            column("loss_iron", "W", parts.iron, "stator sheets"),
            column("loss_rotor_iron", "W", parts.rotor_iron),
            rotor_loss(parts, is_cage=performance.drive.table.cage_loss is not None),
            column("loss_mechanical", "W", parts.mechanical.total),
            column("loss_switching", "W", parts.switching, "sheets and winding, by the inverter"),
            column("loss_total", "W", parts.total),
        ),
        notes=(
            f"distance {cycle.distance:.6g} m, gear ratio {vehicle.gear_ratio:g}, wheel radius "
            f"{vehicle.wheel_radius:g} m",
        ),
    )
