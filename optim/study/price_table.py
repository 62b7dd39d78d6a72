"""From [prices] to a price list: the default list with what the study changes."""

import tomllib
from collections.abc import Mapping
from pathlib import Path

from models.cost import default_prices, price_rows
from optim.study.beside import read_beside
from optim.study.reading import MOST_PROBLEMS, Problems, near, shorten_key

LARGEST_LIST = 100_000
"""Longest price list file [bytes]."""


def read_prices(raw: object, *, folder: Path | None, problems: Problems) -> dict[str, float]:
    """Return the default price list with the overrides of a list file, then of [prices]."""
    prices = dict(default_prices())
    if not isinstance(raw, Mapping):
        problems.add("prices", raw, "a table [prices]")
        return prices
    if "list" in raw:
        _price_file(raw["list"], prices, folder, problems)
    override_prices(
        prices, {k: v for k, v in raw.items() if k != "list"}, where="prices", problems=problems
    )
    return prices


def _price_file(
    name: object, prices: dict[str, float], folder: Path | None, problems: Problems
) -> None:
    where = "prices.list"
    if not isinstance(name, str):
        problems.add(where, name, "the name of a TOML file beside the study")
        return
    try:
        entries = tomllib.loads(read_beside(name, folder, LARGEST_LIST))
    except OSError as error:
        problems.add(where, name, str(error))
    except (ValueError, RecursionError) as error:
        problems.add(where, name, f"a TOML file of prices: {str(error)[:160]}")
    else:
        override_prices(prices, entries, where=where, problems=problems)


def override_prices(
    prices: dict[str, float], entries: Mapping[str, object], *, where: str, problems: Problems
) -> None:
    """Put new prices [EUR per unit of the list] in place, recording what is wrong."""
    rows = price_rows()
    for key, value in list(entries.items())[:MOST_PROBLEMS]:
        place = f"{where}.{shorten_key(key)}"
        if key not in prices:
            close = near(key, prices)
            problems.note(place, f"unknown price {shorten_key(key)}", ", ".join(prices),
                         f"Did you mean {close!r}?" if close else "")  # fmt: skip
        elif (
            isinstance(value, bool)
            or not isinstance(value, (int, float))
            or not (0.0 <= value <= 1e6)
        ):
            problems.add(place, value, f"a number from 0 to 1e6, in EUR per {rows[key].unit}")
        else:
            prices[key] = float(value)
