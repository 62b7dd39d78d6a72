"""Tables over the dq currents: flux linkages, torque, iron-loss coefficients."""

from math import sqrt

import numpy as np

from models.axes import is_turned, published, published_grid
from models.control.slip import slip_frequency
from models.control.surface import Array
from models.control.table import TorqueTable, resample, torque_table
from models.performance.families import rotor_temperatures
from models.performance.summary import Performance
from optim.export.families import carried
from optim.export.table import Table, column, current_note, rotor_loss


def flux_table(performance: Performance, magnet_temperature: float | None = None) -> Table:
    """Return flux linkages with and without end winding, and torque, over i_d and i_q.

    Parameters
    ----------
    performance : Performance
        The design.
    magnet_temperature : float, optional
        [degC]; the rated one by default.
    """
    drive, machine = performance.drive, performance.machine
    maps, duty = drive.maps, performance.duty
    rated = rotor_temperatures(machine, duty)[0]
    degrees = rated if magnet_temperature is None else magnet_temperature
    table = torque_table(
        maps,
        pole_pairs=machine.pole_pairs,
        current_peak=duty.supply.current_peak,
        resistance=drive.table.resistance,
        remanence=machine.magnet.remanence(degrees),
    )
    family = machine.family
    i_d, i_q, psi_d, psi_q = _published_map(performance, table)
    end = maps.end_inductance
    is_rated = magnet_temperature is None
    return Table(
        name="flux_map" if is_rated else "flux_map_hot",
        title=f"Flux linkages and torque over dq current, {carried(machine)} at {degrees:g} degC",
        columns=(
            column("i_d", "A", i_d, "peak value"),
            column("i_q", "A", i_q, "peak value"),
            column("psi_d", "Wb", psi_d, "with end winding"),
            column("psi_q", "Wb", psi_q, "with end winding"),
            column("psi_d_stack", "Wb", psi_d - end * i_d, "without end winding"),
            column("psi_q_stack", "Wb", psi_q - end * i_q, "without end winding"),
            column("air_gap_torque", "N*m", published_grid(family, table.torque),
                   "1.5 p (psi_d i_q - psi_q i_d), before iron, magnet and mechanical drag"),
        ),
        notes=(
            f"pole pairs p = {machine.pole_pairs}; end-winding inductance {end:.6g} H; phase "
            f"resistance {drive.table.resistance:.6g} ohm at "
            f"{duty.temperatures.winding_rated:g} degC, direct current",
            f"solved at {maps.i_d.size} x {maps.i_q.size} currents, mean over rotor position, "
            f"cubic spline between",
            "negative i_d by symmetry: psi_q and losses even, psi_d and torque odd in i_d"
            if is_turned(family)
            else "negative i_q by symmetry: psi_d and losses even, psi_q and torque odd in i_q",
        ),
        shape=i_d.shape,
    )  # fmt: skip


def loss_coefficient_table(performance: Performance) -> Table:
    """Return the coefficients of iron loss and the magnets' ripple over i_d and i_q."""
    drive, family = performance.drive, performance.machine.family
    i_d, i_q, _, _ = _published_map(performance, drive.table)
    peak = drive.maps

    def grid(values: Array) -> Array:
        return published_grid(family, values)

    hysteresis, classical, excess = drive.coefficients[:3]
    rotor_hysteresis, rotor_classical, rotor_excess = drive.coefficients[3:6]
    ripple, slot_ripple = drive.coefficients[6:]
    return Table(
        name="iron_loss_map",
        title="Iron loss over dq current: P = a f + b f^2 + c f^1.5",
        columns=(
            column("i_d", "A", i_d, "peak value"),
            column("i_q", "A", i_q, "peak value"),
            column("hysteresis", "W/Hz", grid(hysteresis),
                   "a, f is the electrical frequency"),
            column("classical", "W/Hz^2", grid(classical), "b"),
            column("excess", "W/Hz^1.5", grid(excess), "c"),
            column("rotor_hysteresis", "W/Hz", grid(rotor_hysteresis),
                   "a of the rotor's sheets"),
            column("rotor_classical", "W/Hz^2", grid(rotor_classical), "b of the same"),
            column("rotor_excess", "W/Hz^1.5", grid(rotor_excess), "c of the same"),
            column("magnet_ripple", "T", grid(ripple),
                   "flux-density ripple in the magnets at six times electrical frequency"),
            column("magnet_slot_ripple", "T", grid(slot_ripple),
                   "the same at the frequency of slots passing by"),
            column("tooth_peak", "T", grid(resample(peak, peak.tooth_peak)),
                   "largest in the teeth"),
            column("yoke_peak", "T", grid(resample(peak, peak.yoke_peak)),
                   "largest in the yoke"),
        ),
        notes=(
            f"build factor {performance.machine.lamination.build_factor:g} of the sheet grade is "
            f"inside the coefficients",
            "even in i_d" if is_turned(family) else "even in i_q",
        ),
        shape=i_d.shape,
    )  # fmt: skip


def _published_map(
    performance: Performance, table: TorqueTable
) -> tuple[Array, Array, Array, Array]:
    """Return i_d, i_q [A], psi_d and psi_q [Wb] of the fine map in the family's published axes."""
    family = performance.machine.family
    i_d, i_q = np.meshgrid(table.i_d, table.i_q, indexing="ij")
    currents = published(family, published_grid(family, i_d), published_grid(family, i_q))
    linkages = published(
        family, published_grid(family, table.psi_d), published_grid(family, table.psi_q)
    )
    return *currents, *linkages


def efficiency_table(performance: Performance) -> Table:
    """Return losses by part, currents and efficiency over speed and torque."""
    grid = performance.grid
    parts = grid.losses
    family = performance.machine.family
    i_d, i_q = published(family, grid.i_d, grid.i_q)
    speed = np.repeat(grid.speed, grid.share.size)
    return Table(
        name="efficiency_map",
        title=f"Losses by part and efficiency at {grid.dc_voltage:g} V DC, least current",
        columns=(
            column("speed", "rpm", speed * 30.0 / np.pi, "mechanical"),
            column("shaft_torque", "N*m", grid.shaft_torque),
            column("air_gap_torque", "N*m", grid.torque),
            column("i_d", "A", i_d, current_note(family, "d")),
            column("i_q", "A", i_q, current_note(family, "q")),
            column("phase_current", "A", np.hypot(grid.i_d, grid.i_q) / sqrt(2.0), "rms"),
            column("loss_winding_dc", "W", parts.winding_dc),
            column("loss_winding_ac", "W", parts.winding_ac, "added by skin and proximity"),
            column("loss_iron", "W", parts.iron, "stator sheets"),
            column("loss_rotor_iron", "W", parts.rotor_iron),
            rotor_loss(parts, is_cage=performance.drive.table.cage_loss is not None),
            column("loss_mechanical", "W", parts.mechanical.total),
            column("loss_switching", "W", parts.switching, "sheets and winding, by the inverter"),
            column("loss_total", "W", parts.total),
            column("terminal_power", "W", grid.terminal_power, "into the terminals"),
            column("efficiency", "-", grid.efficiency,
                   "output over input in the direction of power; 0 where nothing useful comes out"),
        ),
        notes=(
            "rows: equal steps of speed, at each equal steps of the envelope from full "
            "generating to full motoring",
        ),
        shape=grid.torque.shape,
    )  # fmt: skip


def cage_table(performance: Performance) -> Table | None:
    """Return cage loss and slip over i_d and i_q of a cage machine; None for other rotors."""
    table = performance.drive.table
    if table.cage_loss is None:
        return None
    i_d, i_q = np.meshgrid(table.i_d, table.i_q, indexing="ij")
    loss = np.maximum(table.cage_loss, 0.0)
    slip = slip_frequency(table, table.torque.ravel(), i_d.ravel(), i_q.ravel())
    degrees = rotor_temperatures(performance.machine, performance.duty)[0]
    return Table(
        name="cage_map",
        title=f"Cage loss and slip over dq current in rotor-flux axes, cage at {degrees:g} degC",
        columns=(
            column("i_d", "A", i_d, "peak value, along the rotor's flux"),
            column("i_q", "A", i_q, "peak value"),
            column("loss_cage", "W", loss, "bars and rings"),
            column("slip_frequency", "Hz", slip.reshape(i_d.shape) / (2.0 * np.pi),
                   "stator frequency less that of the rotor; 0 where there is no torque"),
        ),
        notes=("loss and slip go with the cage's resistivity; even and odd in i_q",),
        shape=i_d.shape,
    )  # fmt: skip
