"""The default price list: read from the package's own dated file."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from models.errors import InvalidInputError
from models.nomenclature import nearest


@dataclass(frozen=True)
class PriceRow:
    """One row of the price list.

    Attributes
    ----------
    price : float
        EUR per unit.
    unit, date, source : str
        What one unit is, when and where the price is from.
    """

    price: float
    unit: str
    date: str
    source: str


@cache
def price_rows() -> Mapping[str, PriceRow]:
    """Return the rows of the default price list by key, in the order of the file."""
    text = files("models.cost").joinpath("price_list.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["prices"]
    return MappingProxyType({key: PriceRow(**row) for key, row in rows.items()})


@cache
def default_prices() -> Mapping[str, float]:
    """Return the default price list, EUR per unit by key."""
    return MappingProxyType({key: row.price for key, row in price_rows().items()})


def check_prices(prices: Mapping[str, float]) -> None:
    """Check that a price list has every key of the default list and no other.

    Raises
    ------
    InvalidInputError
        For an unknown key (with the nearest spelling), a missing key, or a price below zero.
    """
    allowed = default_prices()
    if prices is allowed:
        return
    for key, value in prices.items():
        if key not in allowed:
            hint = nearest(key, allowed)
            raise InvalidInputError(
                f"price list: unknown price {key!r}; "
                + (f"did you mean {hint!r}?" if hint else f"known are {', '.join(allowed)}")
            )
        if not 0.0 <= value < float("inf"):
            raise InvalidInputError(
                f"price list: {key} = {value!r} given, a finite price >= 0 EUR is needed"
            )
    missing = [key for key in allowed if key not in prices]
    if missing:
        raise InvalidInputError(
            f"price list: no price for {', '.join(missing)}; start from the default list"
        )
