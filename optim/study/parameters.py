"""Designs as entries of a file or command line, and back, bit for bit."""

import tomllib
from collections.abc import Mapping, Sequence

from models.machine import ParameterValue
from models.nomenclature import PARAMETERS, family_parameters
from optim.errors import StudyError
from optim.study.reading import Problems, read_table
from optim.study.schema import machine_table, parameters_of_others
from optim.study.units import exact, keyed, unit_of


def parameter_entries(
    parameters: Mapping[str, ParameterValue],
) -> dict[str, float | int | str]:
    """Return a parameter table [SI] under the keys and units of study files.

    Reading it with `read_parameters` gives the same values to the last bit.
    """
    out: dict[str, float | int | str] = {}
    for name, value in parameters.items():
        parameter = PARAMETERS[name]
        unit = unit_of(parameter)
        is_real = parameter.kind == "real" and not isinstance(value, str)
        out[keyed(name, unit)] = exact(float(value), unit) if is_real else value
    return out


def read_parameters(
    entries: Mapping[str, object], *, family: str, where: str = "parameters"
) -> dict[str, ParameterValue]:
    """Return the parameters of a design file's table [SI]; only those given.

    Parameters
    ----------
    entries : mapping
        Keys and values as in [machine] of a study file.
    family : str
        Rotor family.
    where : str
        Name of the table for messages.

    Raises
    ------
    StudyError
        With every mistake.
    """
    problems = Problems()
    raw = {"family": family, **entries}
    table = read_table(
        machine_table(family),
        raw,
        where=where,
        problems=problems,
        elsewhere=parameters_of_others(family),
    )
    if problems.found:
        raise StudyError(problems.found, source=where)
    values = {
        name: getattr(table, keyed(name, unit_of(parameter)))
        for name, parameter in family_parameters(family).items()
    }
    return {name: value for name, value in values.items() if value is not None}


def read_settings(settings: Sequence[str], *, family: str) -> dict[str, ParameterValue]:
    """Return parameters given as NAME=VALUE ("stack_length=140 mm", "slots=48").

    Raises
    ------
    StudyError
        With every mistake.
    """
    problems = Problems()
    entries: dict[str, object] = {}
    for text in settings:
        key, sign, value = (part.strip() for part in text.partition("="))
        if not sign or not key or not value:
            problems.add("--set", text, "NAME=VALUE, as in 'stack_length=140 mm'")
        elif key in entries:
            problems.note("--set", f"{key} twice", "each parameter once")
        else:
            entries[key] = _bare(value)
    if problems.found:
        raise StudyError(problems.found, source="--set")
    return read_parameters(entries, family=family, where="--set")


def _bare(value: str) -> object:
    """Return a number where the text is one, else the text itself."""
    try:
        number = tomllib.loads(f"x = {value}")["x"]
    except (ValueError, RecursionError, KeyError):
        return value
    return number if isinstance(number, (int, float)) else value
