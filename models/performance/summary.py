"""One machine through the whole chain, and its metrics."""

from dataclasses import dataclass
from math import pi

import numpy as np

from models.cage_rotor import CageRotor
from models.control.faults import open_circuit_flux
from models.control.operate import base_speed, envelope
from models.control.slip import slip_frequency
from models.control.surface import Array
from models.control.table import TorqueTable, interpolate, resample
from models.duty import Duty
from models.geometry.areas import Areas, areas
from models.geometry.build import section
from models.geometry.section import Section
from models.induction.leakage import bar_current_density
from models.losses.copper import phase_resistance
from models.losses.families import magnet_skin_ratio
from models.machine import Machine
from models.magnetics import MagneticModel
from models.mechanical.bought import magnet_block_mass, resin_mass
from models.mechanical.families import STRENGTH
from models.mechanical.mass import Masses, masses
from models.mechanical.shaft import critical_speed
from models.nomenclature import METRICS
from models.performance.cycle import CycleResult, run_cycle
from models.performance.drive import (
    Drive,
    drag_torque,
    losses,
    prepare,
    speed_factors,
    terminal_power,
    terminal_voltage,
)
from models.performance.efficiency import EfficiencyMap, efficiency_map
from models.performance.families import SHAPE_METRICS, rotor_temperatures
from models.performance.faults import (
    fault_metrics,
    opposing_currents,
    risky_temperatures,
    sudden_short_metrics,
    worst_short,
)
from models.performance.heat import HeatResult, heat
from models.performance.loss_parts import Losses
from models.performance.noise import noise_metrics
from models.performance.policy import policy_saving
from models.skew import magnet_torque, skewed, slice_angles, turned
from models.thermal.coolants import ALUMINIUM, frame_volume, jacket_pressure_drop

SMALL_SHARE = 0.1
"""Share of the peak current below which i_d is too small to divide by."""


@dataclass(frozen=True, eq=False)
class Performance:
    """Everything that follows from a machine, a duty and a magnetic model.

    Attributes
    ----------
    machine, section, areas, masses : objects
        The machine and its section.
    model : MagneticModel
    drive : Drive
        Maps and losses at rated temperatures.
    grid : EfficiencyMap
        At nominal DC voltage.
    cycle : CycleResult
    heat : HeatResult
    """

    machine: Machine
    section: Section
    areas: Areas
    masses: Masses
    model: MagneticModel
    drive: Drive
    grid: EfficiencyMap
    cycle: CycleResult
    heat: HeatResult

    @property
    def duty(self) -> Duty:
        """The duty."""
        return self.drive.duty


def perform(machine: Machine, duty: Duty, model: MagneticModel) -> Performance:
    """Put a machine through maps, control, losses, cycle and heat."""
    maps = skewed(
        model.flux_maps(
            current_peak=duty.supply.current_peak,
            magnet_temperature=rotor_temperatures(machine, duty)[0],
        ),
        slice_angles(machine),
    )
    one_pole = section(machine)
    area = areas(machine, one_pole)
    mass = masses(machine, area)
    drive = prepare(machine, duty, maps, mass)
    grid = efficiency_map(drive, duty.supply.dc_voltage)
    cycle = run_cycle(grid, duty)
    return Performance(
        machine=machine,
        section=one_pole,
        areas=area,
        masses=mass,
        model=model,
        drive=drive,
        grid=grid,
        cycle=cycle,
        heat=heat(drive, grid, cycle),
    )


def metrics(result: Performance) -> dict[str, float]:
    """Return every metric of the machine's family but the cost, SI values."""
    key = _key_points(result)
    values = {
        **_against_magnets(result, key),
        **_torque_and_power(result, key),
        **fault_metrics(result.drive),
        **_losses_and_cycle(result, key),
        **_with_magnets(result),
        **_heat(result),
        **_strength_and_size(result),
        **noise_metrics(
            result.machine,
            result.masses,
            result.model,
            i_d=float(key.i_d[0]),
            i_q=float(key.i_q[0]),
            magnet_temperature=rotor_temperatures(result.machine, result.duty)[0],
        ),
        **_cage(result, key),
    }
    family = result.machine.family
    others = {m.name for m in METRICS.values() if m.families and family not in m.families}
    return {name: value for name, value in values.items() if name not in others}


@dataclass(frozen=True, eq=False)
class _KeyPoints:
    """Operating points beside the map, solved in one batch.

    Peak torque at base speed, the limits at minimum DC voltage at the duty's base speed and at
    top speed, and no current at half of top speed.
    """

    speed: Array
    i_d: Array
    i_q: Array
    torque: Array
    losses: Losses
    terminal_power: Array


def _key_points(result: Performance) -> _KeyPoints:
    drive, duty = result.drive, result.duty
    table, supply = drive.table, duty.supply
    corner = base_speed(table, supply.voltage_peak(supply.dc_voltage))
    low = envelope(
        table,
        np.array([duty.base_speed, duty.top_speed]),
        supply.voltage_peak(supply.dc_voltage_min),
    )
    torque, i_d, i_q = table.mtpa[:, -1]
    speed = np.array([corner, duty.base_speed, duty.top_speed, 0.5 * duty.top_speed])
    all_d, all_q = np.array([i_d, *low.i_d, 0.0]), np.array([i_q, *low.i_q, 0.0])
    loss = losses(drive, all_d, all_q, speed)
    return _KeyPoints(
        speed=speed,
        i_d=all_d,
        i_q=all_q,
        torque=np.array([torque, *low.torque, 0.0]),
        losses=loss,
        terminal_power=terminal_power(drive, all_d, all_q, speed, loss),
    )


def _against_magnets(result: Performance, key: _KeyPoints) -> dict[str, float]:
    """Return what sudden short circuits do; solve every single point of the metrics at once."""
    if result.drive.table.cage_loss is not None:
        return {}
    machine, duty, model = result.machine, result.duty, result.model
    short = worst_short(result.drive)
    rated = rotor_temperatures(machine, duty)[0]
    i_d, i_q = float(key.i_d[0]), float(key.i_q[0])
    model.solve_ahead(
        [(*turned(i_d, i_q, angle), rated) for angle in slice_angles(machine).tolist()]
        + [
            (x, 0.0, t)
            for x in opposing_currents(result.drive, short)
            for t in risky_temperatures(machine.magnet, duty.temperatures)
        ]
    )
    return sudden_short_metrics(result.drive, model, short)


def _torque_and_power(result: Performance, key: _KeyPoints) -> dict[str, float]:
    drive, duty = result.drive, result.duty
    table = drive.table
    peak_torque = table.peak_torque
    i_d, i_q = float(key.i_d[0]), float(key.i_q[0])
    psi_d = float(interpolate(table, table.psi_d, key.i_d[:1], key.i_q[:1])[0])
    psi_q = float(interpolate(table, table.psi_q, key.i_d[:1], key.i_q[:1])[0])
    voltage = np.hypot(*terminal_voltage(drive, key.i_d, key.i_q, key.speed, key.losses))
    apparent = 1.5 * table.current_peak * float(voltage[0])
    fundamental = float(key.terminal_power[0] - key.losses.switching[0])
    # End turns add linkage along the current, which makes no torque: the model may leave them out.
    reluctance = peak_torque - magnet_torque(
        result.machine,
        result.model,
        i_d=i_d,
        i_q=i_q,
        magnet_temperature=rotor_temperatures(result.machine, duty)[0],
    )
    psi_open = open_circuit_flux(table)
    shaft_low = key.torque - drag_torque(key.losses, key.speed)
    shaft_nominal = _envelope_shaft(result)
    return {
        "peak_torque": peak_torque,
        "launch_torque": result.heat.launch_torque,
        "torque_at_base_speed": float(shaft_low[1]),
        "base_speed": float(key.speed[0]),
        "peak_power": float(np.max(shaft_nominal * result.grid.speed)),
        "top_speed_power": float(shaft_nominal[-1]) * duty.top_speed,
        "top_speed_power_low_voltage": float(shaft_low[2]) * duty.top_speed,
        "continuous_torque": result.heat.continuous_torque,
        "continuous_power": result.heat.continuous_power,
        "peak_hold_time": result.heat.hold_time,
        "torque_per_current": peak_torque / duty.supply.phase_current,
        "saliency": (psi_q / i_q) / _inductance_d(table, i_d, psi_d, psi_open) if i_q else 1.0,
        "power_factor": fundamental / apparent if apparent else 0.0,
        "reluctance_share": reluctance / peak_torque,
    }


def _inductance_d(table: TorqueTable, i_d: float, psi_d: float, psi_open: float) -> float:
    """Return the apparent d inductance at peak torque, (psi_d - psi_m) / i_d [H].

    Near i_d = 0 the small loss of linkage by cross saturation would pass for inductance: there it
    is taken at half the current on the negative d axis.
    """
    if abs(i_d) < SMALL_SHARE * table.current_peak:
        i_d = -0.5 * table.current_peak
        psi_d = float(interpolate(table, table.psi_d, np.array([i_d]), np.zeros(1))[0])
    return (psi_d - psi_open) / i_d


def _envelope_shaft(result: Performance) -> Array:
    """Return the motoring envelope's shaft torque at the map's speeds [N*m]."""
    return result.grid.shaft_torque[:, -1]


def _losses_and_cycle(result: Performance, key: _KeyPoints) -> dict[str, float]:
    cycle = result.cycle
    at_top = speed_factors(result.drive, result.grid.speed[-1:])

    def per_distance(power: Array) -> float:
        return float(cycle.duration @ power) / cycle.distance

    return {
        "peak_efficiency": float(result.grid.efficiency.max()),
        "cycle_efficiency": cycle.efficiency,
        "cycle_loss": cycle.loss_energy / cycle.distance,
        "cycle_loss_winding": per_distance(cycle.losses.winding),
        "cycle_loss_iron": per_distance(cycle.losses.iron),
        "cycle_loss_rotor_iron": per_distance(cycle.losses.rotor_iron),
        "cycle_loss_magnet": per_distance(cycle.losses.magnet),
        "cycle_loss_sleeve": per_distance(cycle.losses.sleeve),
        "cycle_loss_mechanical": per_distance(cycle.losses.mechanical.total),
        "cycle_loss_switching": per_distance(cycle.losses.switching),
        "ac_resistance_ratio": float(at_top.resistance_ratio[0]),
        "opening_loss_share": float(at_top.opening_share[0]),
        "cycle_missed_energy": cycle.missed_energy,
        "cycle_missed_time": cycle.missed_time,
        "drag_loss": float(key.losses.braking[3]),
    }


def _with_magnets(result: Performance) -> dict[str, float]:
    """Return what only rotors without a cage have."""
    if result.drive.table.cage_loss is not None:
        return {}
    machine, full = result.machine, result.grid.losses
    frequency = machine.pole_pairs * result.duty.top_speed / (2.0 * pi)
    saving = policy_saving(result.drive, result.grid, result.cycle)
    return {
        "cycle_loss_saving": saving.over_cycle,
        "top_speed_magnet_loss": float(full.magnet[-1, -1] + full.sleeve[-1, -1]),
        "magnet_skin_ratio": magnet_skin_ratio(machine, frequency),
    }


def _heat(result: Performance) -> dict[str, float]:
    heat, winding = result.heat, result.machine.winding
    area = winding.parallel_paths * winding.conductor_area
    return {
        "winding_temperature": heat.winding_temperature,
        "magnet_temperature": heat.magnet_temperature,
        "bearing_temperature": heat.bearing_temperature,
        "coolant_pressure_drop": jacket_pressure_drop(result.machine, result.duty.cooling),
        "cycle_winding_temperature": heat.cycle.winding,
        "cycle_magnet_temperature": heat.cycle.magnet,
        "current_density": result.duty.supply.phase_current / area,
        "continuous_current_density": heat.continuous_current / area,
    }


def _strength_and_size(result: Performance) -> dict[str, float]:
    machine, duty, mass = result.machine, result.duty, result.masses
    rotor, maps = machine.rotor, result.drive.maps
    overspeed, hot = duty.overspeed_factor * duty.top_speed, duty.temperatures.rotor_hot
    strength = STRENGTH[machine.family]
    shape = SHAPE_METRICS[machine.family](machine, overspeed, hot)
    # What holds a rotor with bridges are its bridges and ribs: one solution serves both metrics.
    safety = shape.get("bridge_safety_factor")
    if safety is None:
        safety = strength.safety_factor(machine, overspeed, temperature=hot)
    peak = result.drive.table.peak_torque
    peak_power = float(np.max(_envelope_shaft(result) * result.grid.speed))
    at = (np.array([result.drive.table.mtpa[1, -1]]), np.array([result.drive.table.mtpa[2, -1]]))
    return {
        **shape,
        "rotor_safety_factor": safety,
        "burst_speed": strength.burst_speed(machine),
        "critical_speed": critical_speed(machine, mass),
        "tip_speed": rotor.outer_radius * duty.top_speed,
        "magnet_mass": mass.magnet,
        "magnet_block_mass": magnet_block_mass(machine, mass, shape["magnet_pieces"]),
        "resin_mass": resin_mass(machine, result.areas),
        "housing_mass": ALUMINIUM[1] * frame_volume(machine, duty.cooling),
        "magnet_volume": mass.magnet_volume,
        "sleeve_mass": mass.sleeve,
        "heavy_rare_earth_mass": mass.heavy_rare_earth,
        "conductor_mass": mass.conductor,
        "stator_sheet_mass": mass.stator_sheet,
        "rotor_sheet_mass": mass.rotor_sheet,
        "purchased_sheet_mass": mass.purchased_sheet,
        "insulation_area": mass.insulation_area,
        "shaft_mass": mass.shaft,
        "active_mass": mass.active,
        "rotor_inertia": mass.rotor_inertia,
        "torque_density": peak / mass.active,
        "power_density": peak_power / mass.active,
        "tooth_flux_density": _on_map(result, maps.tooth_peak, at),
        "yoke_flux_density": _on_map(result, maps.yoke_peak, at),
        "slot_copper_share": result.areas.slot_conductor / result.areas.slot_gross,
        "phase_resistance": phase_resistance(machine, 20.0),
    }


def _cage(result: Performance, key: _KeyPoints) -> dict[str, float]:
    """Return what only a cage has; nothing for other rotors."""
    rotor, table, cycle = result.machine.rotor, result.drive.table, result.cycle
    if not isinstance(rotor, CageRotor) or table.cage_loss is None:
        return {}
    slip = slip_frequency(table, key.torque, key.i_d, key.i_q)[1]
    synchronous = result.machine.pole_pairs * result.duty.base_speed + slip
    # bars carry q current only: loss over resistance is their squared current
    at = (key.i_d[:1], key.i_q[:1])
    loss = float(interpolate(table, table.cage_loss, *at)[0])
    return {
        "cage_mass": result.masses.cage,
        "cage_temperature": result.heat.magnet_temperature,
        "cycle_cage_temperature": result.heat.cycle.magnet,
        "cycle_loss_cage": float(cycle.duration @ (cycle.losses.cage + cycle.losses.stray))
        / cycle.distance,
        "cage_current_density": bar_current_density(
            result.machine, loss, temperature=result.duty.temperatures.cage_rated
        ),
        "slip_at_base_speed": slip / synchronous,
    }


def _on_map(result: Performance, values: Array, at: tuple[Array, Array]) -> float:
    table = result.drive.table
    return float(interpolate(table, resample(result.drive.maps, values), *at)[0])
