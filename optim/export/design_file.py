"""The parameters of a design as a TOML or JSON file that reads back to the same numbers.

Shown values carry their unit in the key and may be pasted into [machine] of a study. The exact
record beside them is in SI: a length shown in mm does not always have a nearest number that
divides back to the same SI value, so shown values alone would move the last bit of some designs.
"""

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose, isfinite
from typing import Any

from models import PHYSICS_VERSION
from models.duty import Duty
from models.machine import ParameterValue
from models.nomenclature import FAMILIES, PARAMETERS, Parameter, nearest
from optim.errors import Problem
from optim.export.context import PackContext
from optim.export.errors import DesignFileError
from optim.study.identity import design_key, duty_digest
from optim.study.write import dumps

FORMAT = 1
"""Newest format of the file that this program writes and reads."""
SAME = 1e-12
"""Shown and exact value may differ by rounding of the conversion only, in parts of the value."""
_TABLES = ("design", "shown", "exact_si")
_HEAD = """\
# Parameters of one motor design.
# [shown] has the unit in each key, as in [machine] of a study file. [exact_si] holds the same
# values in SI (m, rad), exact to the last bit; a reader takes it first. To change a value by
# hand, change it in [shown] and take its line out of [exact_si].
"""


@dataclass(frozen=True)
class DesignRecord:
    """What a design file holds.

    Attributes
    ----------
    family, model : str
        Rotor family, and the model its metrics came from.
    parameters : mapping
        Full parameter table (SI).
    physics_version : int
        Physics version the design was evaluated with.
    version : str
        Version of the program that wrote the file.
    study_name, run_id : str
        Where the design comes from; the run may be empty.
    candidate : int or None
        Number of the candidate in its run.
    duty_digest, design_key : str
        Digest of the duty, and key of the evaluation in a store, 64 hexadecimal digits each.
    """

    family: str
    model: str
    parameters: Mapping[str, ParameterValue]
    physics_version: int
    version: str
    study_name: str
    run_id: str
    candidate: int | None
    duty_digest: str
    design_key: str


def design_record(
    parameters: Mapping[str, ParameterValue],
    duty: Duty,
    *,
    family: str,
    model: str,
    context: PackContext,
) -> DesignRecord:
    """Return the record of a design from its full parameter table (SI)."""
    return DesignRecord(
        family=family,
        model=model,
        parameters={name: _plain(name, value) for name, value in parameters.items()},
        physics_version=PHYSICS_VERSION,
        version=context.version,
        study_name=context.study_name,
        run_id=context.run_id,
        candidate=context.candidate,
        duty_digest=duty_digest(duty),
        design_key=design_key(family, parameters, duty=duty, model=model),
    )


def design_toml(record: DesignRecord) -> str:
    """Return a design as TOML text.

    Raises
    ------
    DesignFileError
        If a value is not finite or not of its parameter's kind.
    """
    return f"{_HEAD}\n{dumps(_tables(record))}"


def design_json(record: DesignRecord) -> str:
    """Return a design as JSON text with the same tables as the TOML file."""
    return json.dumps(_tables(record), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def read_design(text: str, *, source: str = "design file") -> DesignRecord:
    """Read a design from TOML or JSON text.

    Parameters
    ----------
    text : str
        Content of the file; text that starts with a brace is JSON.
    source : str
        Name for the error message.

    Returns
    -------
    DesignRecord
        The exact value of each parameter, or the shown one where no exact one stands.

    Raises
    ------
    DesignFileError
        No TOML or JSON, a newer format, unknown keys (with the nearest spelling), values of the
        wrong kind, or shown and exact values that contradict each other; all at once.
    """
    data = _parse(text, source)
    problems: list[Problem] = []
    for key in data:
        if key not in _TABLES:
            problems.append(_unknown(key, key, dict.fromkeys(_TABLES), "table"))
    head, shown, exact = (_table(data, name, problems) for name in _TABLES)
    given = head.get("format", FORMAT)
    if not _is_whole(given) or not 1 <= given <= FORMAT:
        # What a newer format means by its keys is not known: nothing else is worth saying.
        is_newer = _is_whole(given) and given > FORMAT
        hint = "Read it with a newer version of the program." if is_newer else ""
        raise DesignFileError(
            [Problem("design.format", repr(given), f"a whole number from 1 to {FORMAT}", hint)],
            source=source,
        )
    for key in head:
        if key not in _HEAD_KINDS:
            problems.append(_unknown(f"design.{key}", key, _HEAD_KINDS, "entry"))
    fields = {key: _head_value(head, key, problems) for key in _HEAD_KINDS}
    parameters = _parameters(shown, exact, problems)
    if problems:
        raise DesignFileError(problems, source=source)
    fields.pop("format")
    return DesignRecord(parameters=parameters, **fields)


_HEAD_KINDS: Mapping[str, tuple[type, bool]] = {
    # entry -> (kind, whether it must stand)
    "format": (int, True),
    "family": (str, True),
    "model": (str, True),
    "physics_version": (int, True),
    "version": (str, False),
    "study_name": (str, False),
    "run_id": (str, False),
    "candidate": (int, False),
    "duty_digest": (str, False),
    "design_key": (str, False),
}


def _tables(record: DesignRecord) -> dict[str, dict[str, Any]]:
    wrong = [
        Problem(f"parameter {name}", repr(value), _allowed(PARAMETERS[name]))
        for name, value in record.parameters.items()
        if not _is_kind(PARAMETERS[name], value)
    ]
    if wrong:
        raise DesignFileError(wrong, source="design to be written")
    head: dict[str, Any] = {"format": FORMAT}
    for key in _HEAD_KINDS:
        value = getattr(record, key, None)
        if value is not None:
            head[key] = value
    return {
        "design": head,
        "shown": {
            PARAMETERS[name].key: _shown(name, value) for name, value in record.parameters.items()
        },
        "exact_si": {
            name: value
            for name, value in record.parameters.items()
            if PARAMETERS[name].kind == "real"
        },
    }


def _plain(name: str, value: ParameterValue) -> ParameterValue:
    """Return the value in the type of its kind (numpy numbers and 5.0 for 5 are common)."""
    kind = PARAMETERS[name].kind
    if kind == "real" and not isinstance(value, str):
        return float(value)
    if kind == "integer" and not isinstance(value, str) and float(value) == int(value):
        return int(value)
    return value


def _shown(name: str, value: ParameterValue) -> ParameterValue:
    """Return the shown value, with as few digits as lead back to the exact one if any do."""
    parameter = PARAMETERS[name]
    if parameter.kind != "real":
        return value
    exact, factor = float(value), parameter.shown_factor
    for digits in (6, 9, 12, 15):
        short = float(f"{exact * factor:.{digits}g}")
        if short / factor == exact:
            return short
    return exact * factor


def _parse(text: str, source: str) -> Mapping[str, Any]:
    is_json = text.lstrip().startswith("{")
    try:
        data = json.loads(text) if is_json else tomllib.loads(text)
    except (json.JSONDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        kind = "JSON" if is_json else "TOML"
        raise DesignFileError(
            [Problem("the file", str(error), f"{kind} text")], source=source
        ) from error
    return data if isinstance(data, Mapping) else {}


def _table(data: Mapping[str, Any], name: str, problems: list[Problem]) -> Mapping[str, Any]:
    value = data.get(name, {} if name == "exact_si" else None)
    if isinstance(value, Mapping):
        return value
    given = "nothing" if value is None else _short(value)
    problems.append(Problem(name, given, f"a table [{name}]"))
    return {}


def _head_value(head: Mapping[str, Any], key: str, problems: list[Problem]) -> Any:
    kind, is_needed = _HEAD_KINDS[key]
    empty = "" if kind is str else None
    where = f"design.{key}"
    words = "text" if kind is str else "a whole number"
    if key not in head:
        if is_needed and key != "format":
            problems.append(Problem(where, "nothing", words))
        return empty
    value = head[key]
    if kind is str and isinstance(value, str):
        if key == "family" and value not in FAMILIES:
            problems.append(Problem(where, repr(value), f"one of {', '.join(FAMILIES)}"))
        return value
    if kind is int and _is_whole(value):
        return value
    problems.append(Problem(where, _short(value), words))
    return empty


def _parameters(
    shown: Mapping[str, Any], exact: Mapping[str, Any], problems: list[Problem]
) -> dict[str, ParameterValue]:
    by_key = {p.key: p for p in PARAMETERS.values()}
    for key in shown:
        if key not in by_key:
            problems.append(_unknown(f"shown.{key}", key, by_key, "parameter"))
    for name in exact:
        if name not in PARAMETERS:
            problems.append(_unknown(f"exact_si.{name}", name, PARAMETERS, "parameter"))
    out: dict[str, ParameterValue] = {}
    for key, parameter in by_key.items():
        name = parameter.name
        values = [
            (where, table[entry])
            for where, table, entry in (("shown", shown, key), ("exact_si", exact, name))
            if entry in table
        ]
        wrong = [
            Problem(f"{where}.{key if where == 'shown' else name}", _short(v), _allowed(parameter))
            for where, v in values
            if not _is_kind(parameter, v)
        ]
        problems.extend(wrong)
        if wrong or not values:
            continue
        out[name] = _joined(parameter, dict(values), problems)
    return out


def _joined(
    parameter: Parameter, values: Mapping[str, Any], problems: list[Problem]
) -> ParameterValue:
    """Return the parameter's value from what stands for it in both tables."""
    factor = parameter.shown_factor
    if parameter.kind != "real":
        if len(values) == 2 and values["shown"] != values["exact_si"]:
            problems.append(_contradiction(parameter, values))
        return next(iter(values.values()))  # type: ignore[no-any-return]
    if "exact_si" not in values:
        return float(values["shown"]) / factor
    exact = float(values["exact_si"])
    if "shown" in values and not isclose(
        # numbers next to the smallest a float holds lose their digits by the factor
        float(values["shown"]) / factor, exact, rel_tol=SAME, abs_tol=1e-300,
    ):  # fmt: skip
        problems.append(_contradiction(parameter, values))
    return exact


def _contradiction(parameter: Parameter, values: Mapping[str, Any]) -> Problem:
    return Problem(
        f"shown.{parameter.key}",
        f"{values['shown']!r} beside {values['exact_si']!r} {parameter.unit}".rstrip()
        + " in [exact_si]",
        "the same value in both tables",
        f"To use the shown one, take the line {parameter.name} out of [exact_si].",
    )


def _is_kind(parameter: Parameter, value: object) -> bool:
    if parameter.kind == "choice":
        return isinstance(value, str) and (not parameter.choices or value in parameter.choices)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return isfinite(value) if parameter.kind == "real" else _is_whole(value)


def _allowed(parameter: Parameter) -> str:
    if parameter.kind == "choice":
        words = ", ".join(parameter.choices)
        return f"one of {words}" if words else "the name of a grade"
    return "a whole number" if parameter.kind == "integer" else "a finite number"


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _unknown(where: str, key: str, allowed: Mapping[str, object], what: str) -> Problem:
    near = nearest(key, allowed)
    hint = f"Did you mean {near!r}?" if near else ""
    return Problem(where, f"an unknown {what}", f"one of {len(allowed)} known names", hint)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
