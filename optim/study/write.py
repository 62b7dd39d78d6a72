"""Writes nested tables as TOML text that parses back to the same values."""

import json
from collections.abc import Mapping, Sequence
from typing import Any


def dumps(data: Mapping[str, Any]) -> str:
    """Return tables as TOML.

    Parameters
    ----------
    data : mapping
        Nested mappings of str, bool, int, finite float and lists of these. Mappings down to the
        second level become tables, deeper ones inline tables.

    Returns
    -------
    str
        TOML 1.0 text.

    Raises
    ------
    TypeError
        For a value of another type.
    """
    lines: list[str] = []
    _table(data, (), lines)
    return "\n".join(lines).strip() + "\n"


def _table(data: Mapping[str, Any], path: tuple[str, ...], lines: list[str]) -> None:
    inner = {k: v for k, v in data.items() if isinstance(v, Mapping) and _is_table(v, path)}
    plain = {k: v for k, v in data.items() if k not in inner}
    if path and (plain or not inner):
        lines += ["", "[" + ".".join(_key(part) for part in path) + "]"]
    lines += [f"{_key(k)} = {_value(v)}" for k, v in plain.items()]
    for key, value in inner.items():
        _table(value, (*path, key), lines)


def _is_table(value: Mapping[str, Any], path: tuple[str, ...]) -> bool:
    # A variable reads best on one line, a table of a table (duty.supply) on lines of its own.
    return not path or (len(path) == 1 and path[0] != "variables")


def _key(key: str) -> str:
    is_bare = key != "" and key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if is_bare else _text(key)


def _text(text: str) -> str:
    # JSON escapes are TOML escapes, but for the delete character, which TOML wants escaped too.
    # Non-ASCII is kept: JSON's surrogate pairs would be no valid TOML.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, Sequence):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    raise TypeError(f"given a {type(value).__name__}; allowed: text, numbers, lists and tables")
