"""From a flat table of parameters to a machine and its section."""

from collections.abc import Mapping
from dataclasses import replace
from math import pi
from types import MappingProxyType

from models.errors import InfeasibleDesignError, InvalidInputError
from models.geometry.families import SHAPES
from models.geometry.section import Section
from models.geometry.sector import sector_of
from models.geometry.stator import build_stator, slot_pitch_regions
from models.geometry.winding import build_winding
from models.machine import Machine, ParameterValue
from models.materials.load import conductor, lamination, magnet
from models.nomenclature import PARAMETERS, check_family, family_parameters


def build(parameters: Mapping[str, ParameterValue], *, family: str = "interior") -> Machine:
    """Resolve a table of parameters to a machine.

    Parameters
    ----------
    parameters : mapping
        Values in SI by name of `models.nomenclature.PARAMETERS`; missing ones take defaults.
    family : str
        Rotor family.

    Returns
    -------
    Machine

    Raises
    ------
    InvalidInputError
        Unknown family, parameter or material.
    InfeasibleDesignError
        No such machine, with a named reason.
    """
    table = complete(parameters, family=family)
    poles = int(table["poles"])
    if poles % 2:
        raise InfeasibleDesignError(
            "odd_number_of_poles", f"{poles} poles: a machine has an even number of poles"
        )
    stator = build_stator(table)
    winding = build_winding(stator, table)
    rotor = SHAPES[family].build(
        table,
        outer_radius=stator.bore_radius - float(table["air_gap"]),
        pole_pairs=poles // 2,
    )
    return Machine(
        family=family,
        parameters=MappingProxyType(table),
        pole_pairs=poles // 2,
        stack_length=float(table["stack_length"]),
        air_gap=float(table["air_gap"]),
        stacking_factor=float(table["stacking_factor"]),
        stator=stator,
        winding=winding,
        rotor=rotor,
        lamination=lamination(str(table["lamination"])),
        magnet=magnet(str(table["magnet_grade"])),
        conductor=conductor(str(table["conductor_material"])),
    )


def complete(
    parameters: Mapping[str, ParameterValue], *, family: str = "interior"
) -> dict[str, ParameterValue]:
    """Return a family's table with defaults (SI) for every parameter not given.

    Raises
    ------
    InvalidInputError
        Unknown family, unknown parameter, or a parameter of other families only.
    """
    check_family(family)
    known = family_parameters(family)
    for name in sorted(set(parameters) - set(known)):
        if name in PARAMETERS:
            raise InvalidInputError(
                f"machine parameter {name!r} belongs to family "
                f"{' and '.join(PARAMETERS[name].families)}, not to {family!r}; take it out"
            )
        raise InvalidInputError(f"unknown machine parameter {name!r}")
    table: dict[str, ParameterValue] = {}
    for name, p in known.items():
        if name in parameters:
            table[name] = parameters[name]
        elif p.kind == "real":
            table[name] = float(p.default) / p.shown_factor
        else:
            table[name] = p.default
    return table


def section(machine: Machine, *, poles: int = 1) -> Section:
    """Return the section of one pole: rotor pole on the x axis and the slots over it.

    Parameters
    ----------
    machine : Machine
    poles : int
        Poles to draw, symmetric about the x axis. Where these do not hold whole slots, the stator
        regions reach over the end by a part of a slot pitch.
    """
    stator = machine.stator
    pole = pi / machine.pole_pairs
    low = -0.5 * poles * pole
    pitches = -(-poles * stator.slots // (2 * machine.pole_pairs))
    regions = [
        region
        for k in range(pitches)
        for region in slot_pitch_regions(
            stator,
            angle=low + (k + 0.5) * stator.slot_pitch,
            index=k,
            grade=machine.lamination.name,
        )
    ]
    one_pole = SHAPES[machine.family].regions(machine)
    rotor = one_pole if poles == 1 else [
        replace(r.turned(low + (k + 0.5) * pole, is_opposite=(k - poles // 2) % 2 != 0),
                name=f"{r.name}_{k}")
        for k in range(poles)
        for r in one_pole
    ]  # fmt: skip
    return Section(
        rotor=tuple(rotor),
        stator=tuple(regions),
        pole_pairs=machine.pole_pairs,
        rotor_radius=machine.rotor.outer_radius,
        bore_radius=stator.bore_radius,
        poles=poles,
    )


def sector_section(machine: Machine) -> Section:
    """Return the section of the smallest part that repeats, see `models.geometry.sector`."""
    return section(machine, poles=sector_of(machine).poles)
