"""Reads the tables of a study file into pydantic models, keeping every mistake.

A model alone stops at its first broken part when it comes to rules between fields, so each field
is validated by itself: what is wrong becomes a `Problem` and leaves `None`, the rest is kept for
the rules between fields.
"""

from collections.abc import Mapping
from datetime import date, time
from functools import cache
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from models.nomenclature import nearest
from optim.errors import Problem
from optim.study.quantity import Quantity
from optim.study.units import UnitTextError

MOST_PROBLEMS = 100
"""Mistakes listed for one table; more are counted."""

MOST_IN_LIST = 5
"""Mistakes listed inside one value."""


class Table(BaseModel):
    """A table of the study file."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


T = TypeVar("T", bound=Table)


class Problems:
    """Collects mistakes while a file is read."""

    def __init__(self) -> None:
        self.found: list[Problem] = []

    def add(self, where: str, given: object, allowed: str, hint: str = "") -> None:
        """Record a value that is not allowed; it is shown as it stands in the file."""
        self.note(where, shorten(given), allowed, hint)

    def note(self, where: str, given: str, allowed: str, hint: str = "") -> None:
        """Record a mistake that is described in words."""
        self.found.append(Problem(where, given, allowed, hint))

    def unknown(
        self, where: str, key: str, known: Mapping[str, object] | tuple[str, ...], kind: str = "key"
    ) -> None:
        """Record an unknown word with the nearest known one."""
        close = near(key, known)
        hint = f"Did you mean {close!r}?" if close else ""
        words = list(known)
        allowed = ", ".join(words) if len(words) <= 12 else f"{len(words)} known {kind}s"
        self.found.append(Problem(where, f"unknown {kind} {shorten(key)}", allowed, hint))


def shorten(value: object) -> str:
    """Return a short one-line picture of a value of any size."""
    if isinstance(value, str):
        value = value[:80]
    elif isinstance(value, int) and not isinstance(value, bool) and value.bit_length() > 200:
        return "a whole number of more than 60 digits"
    elif isinstance(value, (list, tuple)):
        return f"a list of {len(value)}" if len(value) > 3 else _bounded(value)
    elif isinstance(value, Mapping):
        return f"a table of {len(value)}"
    elif isinstance(value, (date, time)):
        return str(value)
    return _bounded(value)


def near(word: str, known: Mapping[str, object] | tuple[str, ...]) -> str | None:
    """Return the nearest known word; very long words have none."""
    return nearest(word.lower(), known) or nearest(word, known) if len(word) <= 60 else None


def read_table(
    kind: type[T],
    raw: object,
    *,
    where: str,
    problems: Problems,
    elsewhere: Mapping[str, str] | None = None,
) -> T:
    """Read one table.

    Parameters
    ----------
    kind : type
        Model of the table.
    raw : object
        What stands in the file.
    where : str
        Path of the table for messages.
    problems : Problems
        Receives every mistake.
    elsewhere : mapping of str to str, optional
        Keys that do not belong here but are known, each with what is said of it.

    Returns
    -------
    Table
        The model; fields that are missing or wrong are None.
    """
    if not isinstance(raw, Mapping):
        problems.add(where, raw, f"a table [{where}]")
        raw = {}
    names = accepted_keys(kind)
    given: dict[str, tuple[str, object]] = {}
    unknown = 0
    for key, value in raw.items():
        name = names.get(key)
        if name is None and elsewhere and key in elsewhere:
            problems.note(f"{where}.{key}", elsewhere[key], f"keys of [{where}]", "Take it out.")
        elif name is None:
            unknown += 1
            if unknown <= MOST_PROBLEMS:
                problems.unknown(f"{where}.{shorten_key(key)}", key, names)
        elif name in given:
            problems.note(
                f"{where}.{key}", "the same quantity twice", f"either {key} or {given[name][0]}"
            )
        else:
            given[name] = (key, value)
    if unknown > MOST_PROBLEMS:
        problems.note(where, f"{unknown} unknown keys", f"{len(names)} known keys")
    values: dict[str, Any] = {}
    for name, field in kind.model_fields.items():
        inner = _inner_table(field.annotation)
        is_table = inner is not None and field.annotation is inner
        if name not in given:
            if inner is not None and is_table:
                values[name] = read_table(inner, {}, where=f"{where}.{name}", problems=problems)
            elif field.is_required():
                problems.note(f"{where}.{name}", "nothing", _describe(kind, name), "Add this key.")
                values[name] = None
            continue
        key, value = given[name]
        path = f"{where}.{key}"
        if inner is not None and (is_table or isinstance(value, Mapping)):
            values[name] = read_table(inner, value, where=path, problems=problems)
        else:
            values[name] = _read_field(kind, name, key, value, path=path, problems=problems)
    return kind.model_construct(**values)


def shorten_key(key: str) -> str:
    """Return a key short enough for a path."""
    return key if len(key) <= 60 else key[:57] + "..."


def _bounded(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "..."


def _read_field(
    kind: type[Table], name: str, key: str, value: object, *, path: str, problems: Problems
) -> Any:
    quantity = _quantity(kind, name)
    if key != name and quantity is not None and not isinstance(value, str):
        problems.add(
            path, value, f"text with a unit, as in {f'12 {quantity.shown}'!r}",
            f"Or write the number under {name}.",
        )  # fmt: skip
        return None
    try:
        return _adapter(kind, name).validate_python(value, strict=True)
    except UnitTextError as error:
        problems.add(path, value, str(error))
    except ValidationError as error:
        items = error.errors(include_url=False)
        if len(items) > MOST_IN_LIST:
            problems.note(path, f"{len(items)} wrong entries", "see the first of them")
        for item in items[:MOST_IN_LIST]:
            inside = "".join(f"[{part}]" for part in item["loc"] if isinstance(part, int))
            allowed = _allowed(item["type"], item["msg"], item.get("ctx", {}))
            if item["type"] in ("greater_than_equal", "less_than_equal", "string_pattern_mismatch"):
                allowed = _describe(kind, name)
            words = _words(allowed)
            close = near(value, words) if isinstance(value, str) and words else None
            hint = f"Did you mean {close!r}?" if close else ""
            problems.add(path + inside, item["input"], allowed, hint)
    return None


def _allowed(kind: str, message: str, context: Mapping[str, Any]) -> str:
    if kind == "literal_error":
        return "one of " + str(context["expected"]).replace("'", "").replace(" or ", ", ")
    plain = {
        "bool_type": "true or false",
        "float_type": "a number",
        "int_type": "a whole number",
        "string_type": "text",
        "list_type": "a list",
        "dict_type": "a table",
        "finite_number": "a finite number",
    }
    message = message.removeprefix("Input should be ").removeprefix("Value should be ")
    return plain.get(kind, message)


def _words(allowed: str) -> tuple[str, ...]:
    if not allowed.startswith("one of "):
        return ()
    return tuple(allowed.removeprefix("one of ").split(", "))


def _describe(kind: type[Table], name: str) -> str:
    quantity = _quantity(kind, name)
    if quantity is not None:
        return quantity.allowed
    field = kind.model_fields[name]
    ends = {
        mark: getattr(item, mark)
        for item in field.metadata
        for mark in ("ge", "le")
        if hasattr(item, mark)
    }
    if field.description or not ends:
        return field.description or "a value"
    return f"a whole number from {ends['ge']}" + (f" to {ends['le']}" if "le" in ends else "")


def _quantity(kind: type[Table], name: str) -> Quantity | None:
    for mark in kind.model_fields[name].metadata:
        if isinstance(mark, Quantity):
            return mark
    return None


def _inner_table(annotation: Any) -> type[Table] | None:
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    if get_origin(annotation) in (Union, UnionType):
        for part in get_args(annotation):
            found = _inner_table(part)
            if found is not None:
                return found
    return None


@cache
def accepted_keys(kind: type[Table]) -> dict[str, str]:
    """Return every accepted key of a table and the field it belongs to."""
    names = {name: name for name in kind.model_fields}
    for name in kind.model_fields:
        quantity = _quantity(kind, name)
        if quantity is not None and quantity.unit.suffix:
            names.setdefault(name.removesuffix(f"_{quantity.unit.suffix}"), name)
    return names


@cache
def _adapter(kind: type[Table], name: str) -> TypeAdapter[Any]:
    field = kind.model_fields[name]
    form: Any = field.annotation
    if field.metadata:
        form = Annotated[form, *field.metadata]
    return TypeAdapter(form)
