"""From [machine] and [variables] to fixed parameters, variables and the baseline design."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.machine import ParameterValue
from models.nomenclature import FAMILIES, Parameter, family_parameters
from optim.study.model import Variable
from optim.study.quantity import Quantity, read_keyed
from optim.study.reading import Problems, near, read_table, shorten, shorten_key
from optim.study.schema import (
    catalogue_words,
    machine_table,
    parameter_quantity,
    parameters_of_others,
)
from optim.study.space import GRID_TOLERANCE, allowed, canonical, decode, encode
from optim.study.units import UnitTextError, keyed, unit_of

_SPAN_KEYS = ("low", "high", "step", "start")
_CHOICE_KEYS = ("choices", "start")


@dataclass(frozen=True)
class Space:
    """What may vary and what may not: a `DesignSpace` with its baseline."""

    family: str
    fixed: Mapping[str, ParameterValue]
    variables: tuple[Variable, ...]
    baseline: Mapping[str, ParameterValue]


def read_space(machine: object, variables: object, *, problems: Problems) -> Space | None:
    """Read [machine] and [variables].

    Returns
    -------
    Space or None
        None if anything was wrong.
    """
    before = len(problems.found)
    family = machine.get("family") if isinstance(machine, Mapping) else None
    # With an unknown family the other keys are still read, by the rules of the first family.
    known = family if isinstance(family, str) and family in FAMILIES else FAMILIES[0]
    others = parameters_of_others(known)
    table = read_table(
        machine_table(known), machine, where="machine", problems=problems, elsewhere=others
    )
    parameters = family_parameters(known)
    given: dict[str, ParameterValue] = {}
    for name, parameter in parameters.items():
        value = getattr(table, keyed(name, unit_of(parameter)))
        if value is not None:
            given[name] = value
    entries = _entries(variables, parameters, others, problems)
    for name, (key, _) in entries.items():
        if isinstance(machine, Mapping) and {name, keyed(name, unit_of(parameters[name]))} & set(
            machine
        ):
            problems.note(
                f"variables.{key}", "a variable that [machine] fixes",
                "a parameter in one of both tables", "Take it out of [machine] or [variables].",
            )  # fmt: skip
    read = [
        _read_variable(parameters[name], key, entry, problems)
        for name, (key, entry) in entries.items()
    ]
    if len(problems.found) > before:
        return None
    found = tuple(variable for variable, _ in (r for r in read if r is not None))
    starts = {v.name: start for v, start in (r for r in read if r is not None)}
    varied = {v.name for v in found}
    fixed = {
        name: given.get(name, _default(parameter))
        for name, parameter in parameters.items()
        if name not in varied
    }
    space = Space(known, fixed, found, {})
    baseline = decode(space, [starts[v.name] for v in found])
    return Space(known, fixed, found, baseline)


def _default(parameter: Parameter) -> ParameterValue:
    if isinstance(parameter.default, str):
        return parameter.default
    if parameter.kind == "integer":
        return int(parameter.default)
    return parameter.default / parameter.shown_factor


def _entries(
    raw: object,
    parameters: Mapping[str, Parameter],
    others: Mapping[str, str],
    problems: Problems,
) -> dict[str, tuple[str, object]]:
    """Return key as given and content of each variable, by parameter name."""
    if not isinstance(raw, Mapping) or not raw:
        problems.add("variables", raw, "a table [variables] with at least one entry")
        return {}
    keys = {name: name for name in parameters}
    keys |= {keyed(name, unit_of(p)): name for name, p in parameters.items()}
    out: dict[str, tuple[str, object]] = {}
    for count, (key, entry) in enumerate(raw.items()):
        if count >= 2 * len(keys):
            problems.note("variables", f"{len(raw)} entries", f"at most {len(parameters)}")
            break
        name = keys.get(key)
        if name is None and key in others:
            problems.note(f"variables.{key}", others[key], "its own parameters", "Take it out.")
        elif name is None:
            problems.unknown(f"variables.{shorten_key(key)}", key, keys, "parameter")
        elif name in out:
            problems.note(f"variables.{key}", "the same parameter twice", f"one of {key}, "
                         f"{out[name][0]}")  # fmt: skip
        else:
            out[name] = (key, entry)
    return out


def _read_variable(
    parameter: Parameter, key: str, entry: object, problems: Problems
) -> tuple[Variable, float] | None:
    """Return a variable and its start as an entry of the vector."""
    where = f"variables.{key}"
    before = len(problems.found)
    if not isinstance(entry, Mapping):
        problems.add(
            where, entry, "a table { low, high }, { low, high, step } or { choices }",
            "A single value belongs in [machine].",
        )  # fmt: skip
        return None
    is_choice = parameter.kind == "choice" or "choices" in entry
    keys = _CHOICE_KEYS if is_choice else _SPAN_KEYS
    for inner in list(entry)[:20]:
        if inner not in keys:
            if inner in _SPAN_KEYS:
                problems.add(f"{where}.{inner}", entry[inner], "choices and start only")
            else:
                problems.unknown(f"{where}.{shorten_key(inner)}", inner, keys)
    if is_choice and "choices" not in entry and len(problems.found) > before:
        return None
    read = _read_choice if is_choice else _read_span
    variable = read(parameter, key, entry, problems)
    if variable is None or len(problems.found) > before:
        return None
    start = _start(variable, parameter, key, entry, problems)
    return None if start is None else (variable, start)


def _value(
    parameter: Parameter, key: str, value: object, where: str, problems: Problems
) -> ParameterValue | None:
    """Return one value of a parameter in SI, checked against its range."""
    if parameter.kind == "choice":
        words = catalogue_words(parameter)
        if isinstance(value, str) and value in words:
            return value
        close = near(value, words) if isinstance(value, str) else None
        problems.add(where, value, "one of " + ", ".join(words),
                     f"Did you mean {close!r}?" if close else "")  # fmt: skip
        return None
    if parameter.kind == "integer":
        if isinstance(value, bool) or not isinstance(value, int):
            problems.add(where, value, "a whole number")
            return None
        if not parameter.low <= value <= parameter.high:
            problems.add(where, value, f"{parameter.low:g} to {parameter.high:g}")
            return None
        return value
    try:
        return read_keyed(key, value, parameter.name, quantity=parameter_quantity(parameter))
    except UnitTextError as error:
        problems.add(where, value, str(error))
        return None


def _read_span(
    parameter: Parameter, key: str, entry: Mapping[str, object], problems: Problems
) -> Variable | None:
    where = f"variables.{key}"
    ends: list[float] = []
    for end in ("low", "high"):
        if end not in entry:
            problems.note(f"{where}.{end}", "nothing", "the bound of the variable", "Add this key.")
            continue
        value = _value(parameter, key, entry[end], f"{where}.{end}", problems)
        if value is not None and not isinstance(value, str):
            ends.append(float(value))
    step = _step(parameter, key, entry, problems)
    if len(ends) < 2 or step is None:
        return None
    low, high = ends
    if low >= high:
        given = f"low {entry['low']!s:.40} and high {entry['high']!s:.40}"
        problems.note(where, given, "low below high",
                     "Swap them." if low > high else "Fix one value in [machine].")  # fmt: skip
        return None
    if step == 0.0:
        return Variable(parameter.name, "real", low, high)
    count = (high - low) / step
    if count < 1.0 - GRID_TOLERANCE or abs(count - round(count)) > GRID_TOLERANCE * max(count, 1):
        last = low + np.floor(count + GRID_TOLERANCE) * step
        problems.add(
            f"{where}.high", entry["high"], "low plus whole steps",
            f"The last value on the grid is {last * parameter.shown_factor:g}.",
        )  # fmt: skip
        return None
    return Variable(parameter.name, "integer", low, high, step)


def _step(
    parameter: Parameter, key: str, entry: Mapping[str, object], problems: Problems
) -> float | None:
    """Return the step in SI; 0 for a continuous variable, None if it is wrong."""
    where = f"variables.{key}.step"
    if "step" not in entry:
        return 1.0 if parameter.kind == "integer" else 0.0
    value = entry["step"]
    if parameter.kind == "integer":
        if isinstance(value, bool) or not isinstance(value, int) or value < 1:
            problems.add(where, value, "a whole number of at least 1")
            return None
        return float(value)
    width = parameter.high - parameter.low
    quantity = Quantity(parameter.shown_unit, width * 1e-6, width)
    try:
        return read_keyed(key, value, parameter.name, quantity=quantity)
    except UnitTextError as error:
        problems.add(where, value, str(error))
        return None


def _read_choice(
    parameter: Parameter, key: str, entry: Mapping[str, object], problems: Problems
) -> Variable | None:
    where = f"variables.{key}.choices"
    raw = entry.get("choices")
    if not isinstance(raw, list) or len(raw) < 2 or len(raw) > 200:
        given = "nothing" if raw is None else shorten(raw)
        problems.note(where, given, "a list of 2 to 200 values",
                     "Fix a single value in [machine].")  # fmt: skip
        return None
    values = [_value(parameter, key, item, f"{where}[{k}]", problems) for k, item in enumerate(raw)]
    good = [v for v in values if v is not None]
    if len(good) < len(values):
        return None
    if len(set(good)) < len(good):
        twice = next(v for v in good if good.count(v) > 1)
        problems.note(where, f"{twice!r} twice", "each choice once")
        return None
    return Variable(parameter.name, "choice", 0.0, len(good) - 1.0, 0.0, tuple(good))


def _start(
    variable: Variable,
    parameter: Parameter,
    key: str,
    entry: Mapping[str, object],
    problems: Problems,
) -> float | None:
    """Return the start as an entry of the vector: given, else the default, else the middle."""
    alone = Space("", {}, (variable,), {})
    if "start" in entry:
        where = f"variables.{key}.start"
        value = _value(parameter, key, entry["start"], where, problems)
        if value is None:
            return None
        try:
            return float(encode(alone, {variable.name: value})[0])
        except ValueError:
            problems.add(where, entry["start"], allowed(variable))
            return None
    try:
        return float(encode(alone, {variable.name: _default(parameter)})[0])
    except ValueError:
        return float(canonical(alone, [0.5 * (variable.low + variable.high)])[0])
