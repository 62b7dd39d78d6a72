"""Limit and fault quantities: magnets against the worst current, inverter off, short circuit."""

from dataclasses import dataclass, replace
from math import pi, sqrt

from models.control.faults import (
    characteristic_current,
    largest_short_circuit_torque,
    open_circuit_flux,
)
from models.control.operate import base_speed
from models.control.rectification import Rectification, rectification
from models.control.sudden_short import SuddenShort, sudden_short
from models.control.table import TorqueTable, resample
from models.duty import Temperatures
from models.magnetics import MagneticModel
from models.materials.catalogue import Magnet
from models.performance.drive import Drive


@dataclass(frozen=True)
class WorstShort:
    """The worst of several sudden short circuits.

    Attributes
    ----------
    lowest_i_d, largest_current : float
        [A].
    largest_braking_torque : float
        [N*m].
    """

    lowest_i_d: float
    largest_current: float
    largest_braking_torque: float


def table_at(drive: Drive, magnet_temperature: float) -> TorqueTable:
    """Return the drive's table with the linkages of another magnet temperature [degC].

    Its torque and limit curves stay those of the rated one.
    """
    table, maps, magnet = drive.table, drive.maps, drive.machine.magnet
    rated = drive.duty.temperatures.magnet_rated
    shift = magnet.remanence(magnet_temperature) - magnet.remanence(rated)
    return replace(
        table,
        psi_d=table.psi_d + shift * resample(maps, maps.psi_d_per_remanence),
        psi_q=table.psi_q + shift * resample(maps, maps.psi_q_per_remanence, is_odd=True),
    )


def worst_short(drive: Drive) -> WorstShort:
    """Return the extremes of sudden short circuits from where they are worst.

    Largest torque at base speed, motoring and generating (the largest flux linkage at the fastest
    turning), and no current at top speed.
    """
    table, supply = drive.table, drive.duty.supply
    _, i_d, i_q = table.mtpa[:, -1].tolist()
    corner = base_speed(table, supply.voltage_peak(supply.dc_voltage))
    top = drive.duty.top_speed
    runs: list[SuddenShort] = [sudden_short(table, speed=top, i_d=0.0, i_q=0.0)]
    if corner > 0.0:
        runs += [
            sudden_short(table, speed=min(corner, top), i_d=i_d, i_q=sign * i_q)
            for sign in (1.0, -1.0)
        ]
    return WorstShort(
        lowest_i_d=min(run.lowest_i_d for run in runs),
        largest_current=max(run.largest_current for run in runs),
        largest_braking_torque=max(run.largest_braking_torque for run in runs),
    )


def fault_metrics(drive: Drive) -> dict[str, float]:
    """Return the metrics of open circuit, steady short circuit and rectification.

    A cage has no flux of its own: it has the first four only, all zero.
    """
    machine, duty, table = drive.machine, drive.duty, drive.table
    top = duty.top_speed
    cold = table_at(drive, duty.temperatures.magnet_cold)
    psi_cold = open_circuit_flux(cold)
    values = {
        "open_circuit_flux": open_circuit_flux(table),
        "back_emf_line_peak": sqrt(3.0) * top * machine.pole_pairs * psi_cold,
        "characteristic_current": characteristic_current(table) / sqrt(2.0),
        "short_circuit_torque": largest_short_circuit_torque(table, top)[0],
    }
    if table.cage_loss is not None:
        return values
    bridge: Rectification = rectification(cold)
    largest = max(float(bridge.linkage.max()), psi_cold, 0.0)
    return values | {
        "rectification_voltage": 0.5 * pi * top * machine.pole_pairs * largest,
        "rectification_current": bridge.current_at(top, duty.supply.dc_voltage_min) / sqrt(2.0),
    }


def sudden_short_metrics(drive: Drive, model: MagneticModel, short: WorstShort) -> dict[str, float]:
    """Return the metrics of sudden short circuits, and what currents do to the magnets."""
    peak, fault = demagnetisation_margins(
        model, drive.machine.magnet, drive.duty.temperatures, opposing_currents(drive, short)
    )
    return {
        "short_circuit_peak_current": short.largest_current,
        "short_circuit_peak_torque": short.largest_braking_torque,
        "demagnetisation_margin": peak,
        "demagnetisation_margin_short_circuit": fault,
    }


def opposing_currents(drive: Drive, short: WorstShort) -> tuple[float, float]:
    """Return the d-axis currents [A] that the magnets must bear: at peak, in a short circuit."""
    return -drive.table.current_peak, min(short.lowest_i_d, -1e-3)


def risky_temperatures(magnet: Magnet, limits: Temperatures) -> tuple[float, ...]:
    """Return the magnet temperatures [degC] at which demagnetisation is looked for.

    The hottest and, where the knee is higher there, the coldest: that of rare-earth magnets is
    highest in the heat, that of ferrite in the cold.
    """
    if magnet.knee(limits.magnet_cold) > magnet.knee(limits.magnet_hot):
        return limits.magnet_hot, limits.magnet_cold
    return (limits.magnet_hot,)


def demagnetisation_margins(
    model: MagneticModel, magnet: Magnet, limits: Temperatures, i_d: tuple[float, float]
) -> tuple[float, float]:
    """Return the lowest margin to the knee [T] at two d-axis currents [A].

    Over `risky_temperatures`.
    """
    margins = [
        [b - magnet.knee(t) for b in model.lowest_magnet_fields(i_d, magnet_temperature=t)]
        for t in risky_temperatures(magnet, limits)
    ]
    first, second = (min(values) for values in zip(*margins))
    return first, second
