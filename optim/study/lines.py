"""Which line of a study file a key stands on, so that a mistake can be shown in its place."""

import re
from collections.abc import Iterable
from dataclasses import replace

from optim.errors import Problem

_HEADER = re.compile(r"\s*\[\s*([A-Za-z0-9_.\-\" ]+?)\s*\]\s*(?:#.*)?")
_ENTRY = re.compile(r"\s*([A-Za-z0-9_\-]+(?:\s*\.\s*[A-Za-z0-9_\-]+)*)\s*=")


def with_lines(problems: Iterable[Problem], text: str) -> list[Problem]:
    """Return the problems with the line of the nearest enclosing key that stands in the text.

    Best effort: keys inside inline tables get the line of the table, quoted keys none.
    """
    places = key_lines(text)
    return [replace(p, line=p.line or _line(p.where, places)) for p in problems]


def key_lines(text: str) -> dict[str, int]:
    """Return line numbers from 1 by dotted path of tables and keys."""
    places: dict[str, int] = {}
    table = ""
    fence = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if fence:
            fence = "" if line.count(fence) % 2 else fence
            continue
        header = _HEADER.fullmatch(line)
        entry = _ENTRY.match(line)
        if header:
            table = header[1].replace(" ", "").replace('"', "")
            places.setdefault(table, number)
        elif entry:
            key = entry[1].replace(" ", "")
            places.setdefault(f"{table}.{key}" if table else key, number)
        fence = next((f for f in ('"""', "'''") if line.count(f) % 2), "")
    return places


def _line(where: str, places: dict[str, int]) -> int | None:
    path = where.split("[")[0]
    while path:
        if path in places:
            return places[path]
        path = path.rpartition(".")[0]
    return None
