"""From the [duty] tables to `models.duty.Duty`, with the rules between their values."""

import csv
import io
from pathlib import Path

from models.duty import Cooling, DriveCycle, Duty, Supply, Temperatures, Vehicle
from models.errors import InvalidInputError
from models.thermal.insulation import INSULATION_CLASSES
from models.vehicle.cycles import built_in, from_columns, names
from optim.study.beside import read_beside
from optim.study.reading import Problems, read_table
from optim.study.schema import (
    CycleTable,
    DutyTable,
    SpeedsTable,
    TemperaturesTable,
    VehicleTable,
)
from optim.study.units import UNITS, shown_text

LARGEST_CYCLE_FILE = 5_000_000
"""Longest cycle file [bytes]: some 100 hours at one row a second."""


def read_duty(raw: object, *, folder: Path | None, problems: Problems) -> Duty | None:
    """Read [duty].

    Parameters
    ----------
    raw : object
        The table as parsed.
    folder : Path or None
        Folder that a cycle file is looked up in; None refuses files.
    problems : Problems
        Receives every mistake.

    Returns
    -------
    Duty or None
        None if anything was wrong.
    """
    before = len(problems.found)
    table = read_table(DutyTable, raw, where="duty", problems=problems)
    cycle = _cycle(table.cycle, folder, problems)
    top_speed = _top_speed(table.speeds, table.vehicle, problems)
    winding_limit = _winding_limit(table.temperatures, problems)
    _check_order(table, top_speed, winding_limit, problems)
    if cycle is None or top_speed is None or len(problems.found) > before:
        return None
    supply, vehicle, cooling, heat = table.supply, table.vehicle, table.cooling, table.temperatures
    return Duty(
        supply=Supply(
            dc_voltage=supply.dc_voltage_v,
            dc_voltage_min=supply.dc_voltage_min_v,
            phase_current=supply.phase_current_a,
            modulation=supply.modulation,
            stall_current_ratio=supply.stall_current_ratio,
            switching_frequency=supply.switching_frequency_hz,
        ),
        vehicle=Vehicle(
            mass=vehicle.mass_kg,
            road_load=(vehicle.f0_n, vehicle.f1_n_per_kmh, vehicle.f2_n_per_kmh2),
            wheel_radius=vehicle.wheel_radius_mm,
            gear_ratio=vehicle.gear_ratio,
            inertia_factor=vehicle.inertia_factor,
            gear_efficiency=vehicle.gear_efficiency,
            regeneration_share=vehicle.regeneration_share,
        ),
        cycle=cycle,
        top_speed=top_speed,
        base_speed=table.speeds.base_speed_rpm,
        continuous_speed=table.speeds.continuous_speed_rpm,
        continuous_torque=table.speeds.continuous_torque_nm,
        launch_time=table.launch_time_s,
        overspeed_factor=table.overspeed_factor,
        cooling=Cooling(
            coolant_temperature=cooling.coolant_temperature_degc,
            coolant_flow=cooling.coolant_flow_l_min,
            glycol_share=cooling.glycol_share,
            duct_width=cooling.duct_width_mm,
            duct_height=cooling.duct_height_mm,
            ambient_temperature=cooling.ambient_temperature_degc,
            oil_temperature=cooling.oil_temperature_degc,
            spray_flow=cooling.spray_flow_l_min,
            shaft_flow=cooling.shaft_flow_l_min,
        ),
        temperatures=Temperatures(
            winding_limit=winding_limit,
            magnet_limit=heat.magnet_limit_degc,
            winding_rated=heat.winding_rated_degc,
            magnet_rated=heat.magnet_rated_degc,
            magnet_hot=heat.magnet_hot_degc,
            magnet_cold=heat.magnet_cold_degc,
            rotor_hot=heat.rotor_hot_degc,
            cage_rated=heat.cage_rated_degc,
            cage_limit=heat.cage_limit_degc,
            bearing_rated=heat.bearing_rated_degc,
        ),
    )


def _top_speed(speeds: SpeedsTable, vehicle: VehicleTable, problems: Problems) -> float | None:
    """Return the highest motor speed [rad/s], given or from the vehicle's top speed."""
    given, road = speeds.top_speed_rpm, speeds.top_vehicle_speed_kmh
    if (given is None) == (road is None):
        if given is not None or not any("top_" in p.where for p in problems.found):
            problems.note(
                "duty.speeds",
                "nothing about top speed" if given is None else "two top speeds",
                "either top_speed_rpm or top_vehicle_speed_kmh",
            )
        return None
    if given is not None:
        return given
    if road is None or vehicle.wheel_radius_mm is None or vehicle.gear_ratio is None:
        return None
    return road / vehicle.wheel_radius_mm * vehicle.gear_ratio


def _winding_limit(heat: TemperaturesTable, problems: Problems) -> float:
    """Return the highest winding temperature [degC], given or by the insulation's class."""
    letter, given = heat.insulation_class, heat.winding_limit_degc
    if letter is None:
        return Temperatures().winding_limit if given is None else given
    allowed = INSULATION_CLASSES[letter].temperature
    if given is None:
        return allowed
    if given > allowed:
        problems.note(
            "duty.temperatures.winding_limit_degc", f"{given:g} degC",
            f"at most {allowed:g} degC, what insulation of class {letter} is made for",
        )  # fmt: skip
    return given


def _check_order(
    table: DutyTable, top_speed: float | None, winding_limit: float, problems: Problems
) -> None:
    """Check the pairs in which the first value must not be above the second."""
    supply, speeds, heat = table.supply, table.speeds, table.temperatures
    top = "top speed"
    pairs = (
        ("supply.dc_voltage_min_v", supply.dc_voltage_min_v, "dc_voltage",
         supply.dc_voltage_v, "V"),
        ("speeds.base_speed_rpm", speeds.base_speed_rpm, top, top_speed, "rpm"),
        ("speeds.continuous_speed_rpm", speeds.continuous_speed_rpm, top, top_speed, "rpm"),
        ("temperatures.winding_rated_degc", heat.winding_rated_degc, "winding_limit",
         winding_limit, "degC"),
        ("temperatures.magnet_rated_degc", heat.magnet_rated_degc, "magnet_limit",
         heat.magnet_limit_degc, "degC"),
        ("temperatures.cage_rated_degc", heat.cage_rated_degc, "cage_limit",
         heat.cage_limit_degc, "degC"),
        ("temperatures.magnet_cold_degc", heat.magnet_cold_degc, "magnet_hot",
         heat.magnet_hot_degc, "degC"),
    )  # fmt: skip
    for where, lower, name, upper, unit in pairs:
        if lower is not None and upper is not None and lower > upper:
            problems.note(
                f"duty.{where}", shown_text(lower, UNITS[unit]),
                f"at most the {name}, {shown_text(upper, UNITS[unit])}",
            )  # fmt: skip


def _cycle(
    given: str | CycleTable | None, folder: Path | None, problems: Problems
) -> DriveCycle | None:
    if given is None:
        return None
    if isinstance(given, str):
        if given in names():
            return built_in(given)
        if given.lower().endswith((".csv", ".txt")):
            problems.add(
                "duty.cycle", given, "a table for a recorded cycle",
                'Write cycle = { file = "...", speed_unit = "km/h" }.',
            )  # fmt: skip
        else:
            problems.unknown("duty.cycle", given, tuple(names()), "cycle")
        return None
    return _recorded_cycle(given, folder, problems)


def _recorded_cycle(
    table: CycleTable, folder: Path | None, problems: Problems
) -> DriveCycle | None:
    where = "duty.cycle"
    has_columns = table.time_s is not None and table.speed_m_per_s is not None
    if (table.file is None) != has_columns:
        if any(p.where.startswith(where) for p in problems.found):
            return None  # a column that could not be read
        problems.note(where, "both or neither", "either file, or time_s and speed_m_per_s")
        return None
    try:
        if table.time_s is not None and table.speed_m_per_s is not None:
            name = table.name or "recorded"
            return from_columns(name, time=table.time_s, speed=table.speed_m_per_s, unit="m/s")
        if table.file is None:
            return None
        if table.speed_unit is None:
            problems.note(f"{where}.speed_unit", "nothing", "m/s, km/h, mph", "Add this key.")
            return None
        time, speed = _read_columns(read_beside(table.file, folder, LARGEST_CYCLE_FILE))
        name = table.name or Path(table.file).stem
        return from_columns(name, time=time, speed=speed, unit=table.speed_unit)
    except InvalidInputError as error:
        problems.note(where, table.file or "columns", f"time rising, speed not negative: {error}")
    except OSError as error:
        problems.add(f"{where}.file", table.file, str(error))
    except ValueError as error:
        problems.add(f"{where}.file", table.file, f"a file of two columns of numbers: {error}")
    return None


def _read_columns(text: str) -> tuple[list[float], list[float]]:
    """Return the first two columns; one line of headings and lines with # are skipped."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    rows = list(csv.reader(io.StringIO("\n".join(lines))))
    if rows and not _is_number(rows[0][0]):
        rows = rows[1:]
    times, speeds = [], []
    for number, row in enumerate(rows, start=1):
        if len(row) < 2 or not (_is_number(row[0]) and _is_number(row[1])):
            raise ValueError(f"row {number} is {','.join(row)[:60]!r}")
        times.append(float(row[0]))
        speeds.append(float(row[1]))
    return times, speeds


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
