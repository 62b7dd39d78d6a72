"""The tables of a study file (format 1), as strict models.

Keys end in the unit of their plain number; any value may also be text with a unit.
"""

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Literal

from pydantic import Field, create_model

from models.materials.load import names
from models.materials.sleeve import sleeve_names
from models.nomenclature import FAMILIES, PARAMETERS, Parameter, family_parameters
from optim.study.quantity import Quantity, Word
from optim.study.reading import Table
from optim.study.units import keyed, unit_of

FORMAT = 1
"""Newest study format this version reads."""

MOST_OBJECTIVES = 6
"""More objectives make a front nobody can read and a hypervolume too slow to compute."""

NAME_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9-]{0,63}$"
Algorithm = Literal["sms-emoa", "nsga2", "nsga3", "tpe"]

Ratio = Annotated[float, Quantity("", 0.0, 1.0)]
Celsius = Annotated[float, Quantity("degC", -60.0, 300.0)]


class StudyTable(Table):
    """[study]: what the study is called."""

    format: Annotated[int, Field(ge=1, description=f"format of the file, {FORMAT}")]
    name: Annotated[str, Field(pattern=NAME_PATTERN, description="letters, digits, hyphens")]
    title: Annotated[str, Field(max_length=200)] = ""


class SupplyTable(Table):
    """[duty.supply]: DC link and inverter; currents are rms."""

    dc_voltage_v: Annotated[float, Quantity("V", 10, 2000)]
    dc_voltage_min_v: Annotated[float, Quantity("V", 10, 2000)]
    phase_current_a: Annotated[float, Quantity("A", 1, 3000)]
    modulation: Annotated[float, Quantity("", 0.5, 1.1)] = 0.95
    stall_current_ratio: Annotated[float, Quantity("", 0.05, 1.0)] = 1.0
    switching_frequency_hz: Annotated[float, Quantity("Hz", 0.0, 200_000)] = 0.0


class VehicleTable(Table):
    """[duty.vehicle]: road load and driveline of the vehicle that one motor drives."""

    mass_kg: Annotated[float, Quantity("kg", 50, 60000)]
    f0_n: Annotated[float, Quantity("N", 0, 10000)]
    f1_n_per_kmh: Annotated[float, Quantity("N/(km/h)", -20, 100)]
    f2_n_per_kmh2: Annotated[float, Quantity("N/(km/h)^2", 0, 2)]
    wheel_radius_mm: Annotated[float, Quantity("mm", 50, 1500)]
    gear_ratio: Annotated[float, Quantity("", 0.5, 50)]
    inertia_factor: Annotated[float, Quantity("", 1.0, 1.5)] = 1.03
    gear_efficiency: Annotated[float, Quantity("", 0.5, 1.0)] = 0.97
    regeneration_share: Ratio = 0.85


class CycleTable(Table):
    """[duty.cycle]: a recorded cycle, from a file beside the study or as two columns here."""

    file: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    speed_unit: Literal["m/s", "km/h", "mph"] | None = None
    name: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$")] | None = None
    time_s: list[float] | None = None
    speed_m_per_s: list[float] | None = None


class SpeedsTable(Table):
    """[duty.speeds]: speeds and loads at which the machine is judged."""

    top_speed_rpm: Annotated[float, Quantity("rpm", 100, 100000)] | None = None
    top_vehicle_speed_kmh: Annotated[float, Quantity("km/h", 5, 500)] | None = None
    base_speed_rpm: Annotated[float, Quantity("rpm", 10, 100000)]
    continuous_speed_rpm: Annotated[float, Quantity("rpm", 10, 100000)]
    continuous_torque_nm: Annotated[float, Quantity("N*m", 0.1, 5000)]


class CoolingTable(Table):
    """[duty.cooling]: water jacket, oil spray on the end windings, oil in the shaft; a flow of
    0 is none."""

    coolant_temperature_degc: Annotated[float, Quantity("degC", -40, 120)] = 65.0
    coolant_flow_l_min: Annotated[float, Quantity("L/min", 0, 200)] = 8.0 / 60e3
    glycol_share: Annotated[float, Quantity("", 0.0, 0.6)] = 0.5
    duct_width_mm: Annotated[float, Quantity("mm", 1, 200)] = 0.02
    duct_height_mm: Annotated[float, Quantity("mm", 0.5, 50)] = 0.006
    ambient_temperature_degc: Annotated[float, Quantity("degC", -50, 100)] = 40.0
    oil_temperature_degc: Annotated[float, Quantity("degC", 0, 150)] = 80.0
    spray_flow_l_min: Annotated[float, Quantity("L/min", 0, 100)] = 0.0
    shaft_flow_l_min: Annotated[float, Quantity("L/min", 0, 100)] = 0.0


class TemperaturesTable(Table):
    """[duty.temperatures]: temperatures at which the design is judged."""

    insulation_class: Literal["A", "E", "B", "F", "H", "N", "R"] | None = None
    winding_limit_degc: Celsius | None = None
    magnet_limit_degc: Celsius = 140.0
    winding_rated_degc: Celsius = 100.0
    magnet_rated_degc: Celsius = 90.0
    magnet_hot_degc: Celsius = 140.0
    magnet_cold_degc: Celsius = -20.0
    rotor_hot_degc: Celsius = 140.0
    cage_rated_degc: Celsius = 120.0
    cage_limit_degc: Celsius = 180.0
    bearing_rated_degc: Celsius = 80.0


class DutyTable(Table):
    """[duty]: what the machine must do."""

    cycle: Annotated[
        str | CycleTable, Field(description="the name of a built-in cycle, or a table [duty.cycle]")
    ]
    launch_time_s: Annotated[float, Quantity("s", 0.1, 600)] = 10.0
    overspeed_factor: Annotated[float, Quantity("", 1.0, 2.0)] = 1.2
    supply: SupplyTable
    vehicle: VehicleTable
    speeds: SpeedsTable
    cooling: CoolingTable
    temperatures: TemperaturesTable


class SearchTable(Table):
    """[search]: how to search."""

    algorithm: Algorithm | None = None
    population: Annotated[int, Field(ge=4, le=5000)] | None = None
    budget: Annotated[int, Field(ge=1, le=10_000_000)] = 3000
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = 1
    lag: Annotated[int, Field(ge=1, le=100_000)] | None = None
    batch: Annotated[int, Field(ge=0, le=10_000)] = 0
    wall_time_s: Annotated[float, Quantity("s", 0, 1e8)] = 0.0
    stall_evaluations: Annotated[int, Field(ge=0, le=10_000_000)] = 0
    evaluation_time_limit_s: Annotated[float, Quantity("s", 0.01, 1e6)] = 60.0
    ordered: bool = True


class ModelTable(Table):
    """[model]: which model evaluates the designs."""

    name: Literal["circuit", "field"] = "circuit"


def catalogue_words(parameter: Parameter) -> tuple[str, ...]:
    """Return the allowed words of a choice, from its own list or the materials catalogue."""
    if parameter.choices:
        return parameter.choices
    if parameter.name == "sleeve_material":
        return sleeve_names()
    return tuple(names(_CATALOGUES[parameter.name]))


_CATALOGUES = {"lamination": "lamination", "magnet_grade": "magnet"}


@cache
def parameters_of_others(family: str) -> Mapping[str, str]:
    """Return, by key, what to say of each parameter that only other families have."""
    own = family_parameters(family)
    out: dict[str, str] = {}
    for name, parameter in PARAMETERS.items():
        if name not in own:
            said = f"a parameter of family {' and '.join(parameter.families)}, not of {family!r}"
            out |= {name: said, keyed(name, unit_of(parameter)): said}
    return out


def parameter_quantity(parameter: Parameter) -> Quantity:
    """Return unit and range of a real parameter."""
    return Quantity(parameter.shown_unit, parameter.low, parameter.high)


@cache
def machine_table(family: str) -> type[Table]:
    """Return the model of [machine] for a family; parameters left out are None."""
    fields: dict[str, Any] = {
        "family": (Annotated[str, Word(lambda: FAMILIES)], Field(description="a rotor family"))
    }
    for name, parameter in family_parameters(family).items():
        key = keyed(name, unit_of(parameter))
        fields[key] = (Annotated[_field_type(parameter), _field_mark(parameter)], None)
    return create_model("MachineTable", __base__=Table, **fields)


def _field_type(parameter: Parameter) -> type:
    return {"real": float, "integer": int, "choice": str}[parameter.kind]


def _field_mark(parameter: Parameter) -> object:
    if parameter.kind == "real":
        return parameter_quantity(parameter)
    if parameter.kind == "integer":
        return Field(ge=int(parameter.low), le=int(parameter.high))
    return Word(lambda: catalogue_words(parameter))
