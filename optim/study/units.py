"""Units at the edge: numbers and text from a study file become SI values here and nowhere else.

Text is split by a pattern into one number and one unit, so that nothing in a file is ever
evaluated as an expression; the unit library only sees the unit.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf, isfinite, nextafter, pi
from types import MappingProxyType
from typing import Any

from models.nomenclature import Metric, Parameter


@dataclass(frozen=True)
class Unit:
    """A unit as it stands in files.

    Attributes
    ----------
    shown : str
        Unit in text and headers (`N*m`).
    si : str
        Unit inside the program; `degC` for temperatures, empty for ratios.
    per_si : float
        Number in the shown unit = SI value times this; numbers are divided by it, so that a
        length given as 205 mm is 0.205 m to the last bit.
    suffix : str
        Ending of a key whose plain number is in this unit (`nm` in `peak_torque_nm`).
    """

    shown: str
    si: str
    per_si: float
    suffix: str


class UnitTextError(ValueError):
    """A text that is no quantity of the wanted kind; the message says what is allowed."""


# Keys are lower case, with `per` for a division; the flow follows the habit of pump sheets.
_UNITS: tuple[Unit, ...] = (
    Unit("", "", 1.0, ""),
    Unit("%", "", 100.0, "percent"),
    Unit("mm", "m", 1e3, "mm"),
    Unit("m", "m", 1.0, "m"),
    Unit("deg", "rad", 180.0 / pi, "deg"),
    Unit("N", "N", 1.0, "n"),
    Unit("N/(km/h)", "N/(m/s)", 1.0 / 3.6, "n_per_kmh"),
    Unit("N/(km/h)^2", "N/(m/s)^2", 1.0 / 3.6**2, "n_per_kmh2"),
    Unit("N*m", "N*m", 1.0, "nm"),
    Unit("N*m/kg", "N*m/kg", 1.0, "nm_per_kg"),
    Unit("N*m/L", "N*m/m^3", 1e-3, "nm_per_l"),
    Unit("N*m/A", "N*m/A", 1.0, "nm_per_a"),
    Unit("kW", "W", 1e-3, "kw"),
    Unit("W", "W", 1.0, "w"),
    Unit("kW/kg", "W/kg", 1e-3, "kw_per_kg"),
    Unit("rpm", "rad/s", 60.0 / (2.0 * pi), "rpm"),
    Unit("km/h", "m/s", 3.6, "kmh"),
    Unit("m/s", "m/s", 1.0, "m_per_s"),
    Unit("mm^2/s", "m^2/s", 1e6, "mm2_per_s"),
    Unit("A", "A", 1.0, "a"),
    Unit("V", "V", 1.0, "v"),
    Unit("A/mm^2", "A/m^2", 1e-6, "a_per_mm2"),
    Unit("mWb", "Wb", 1e3, "mwb"),
    Unit("mH", "H", 1e3, "mh"),
    Unit("mOhm", "ohm", 1e3, "mohm"),
    Unit("T", "T", 1.0, "t"),
    Unit("degC", "degC", 1.0, "degc"),
    Unit("K", "K", 1.0, "k"),
    Unit("kg", "kg", 1.0, "kg"),
    Unit("g", "kg", 1e3, "g"),
    Unit("kg*m^2", "kg*m^2", 1.0, "kgm2"),
    Unit("cm^3", "m^3", 1e6, "cm3"),
    Unit("m^2", "m^2", 1.0, "m2"),
    Unit("EUR", "EUR", 1.0, "eur"),
    Unit("s", "s", 1.0, "s"),
    Unit("L/min", "m^3/s", 60e3, "l_min"),
    Unit("Wh/km", "J/m", 1.0 / 3.6, "wh_per_km"),
    Unit("MPa", "Pa", 1e-6, "mpa"),
    Unit("kPa", "Pa", 1e-3, "kpa"),
    Unit("Hz", "Hz", 1.0, "hz"),
)
UNITS: Mapping[str, Unit] = MappingProxyType({u.shown: u for u in _UNITS})

# Spellings of the trade that the unit library reads as something else or not at all.
_SPELLINGS: Mapping[str, str] = MappingProxyType(
    {
        "Nm": "N*m",
        "N m": "N*m",
        "Nm/kg": "N*m/kg",
        "Nm/A": "N*m/A",
        "°C": "degC",
        "kph": "km/h",
        "1/min": "rpm",
        "min^-1": "rpm",
        "mΩ": "mOhm",
        "l/min": "L/min",
        "EUR": "EUR",
        "€": "EUR",
        "kgm^2": "kg*m^2",
    }
)
_ANGLE_UNITS = frozenset({"radian", "degree", "revolution", "revolutions_per_minute", "turn"})

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*(.*?)\s*", re.DOTALL)
# Letters, one operator or bracket at a time, exponents of one digit: no arithmetic on numbers.
_UNIT_TEXT = re.compile(r"(?:[A-Za-zµμΩ°%]+|1(?=/)|(?:\^|\*\*)-?[1-4](?!\d)|[*/·() ])*")
_LONGEST_UNIT = 30


def unit_of(entry: Parameter | Metric) -> Unit:
    """Return the file unit of a parameter or metric."""
    return UNITS[entry.shown_unit]


def keyed(name: str, unit: Unit) -> str:
    """Return the key of a plain number: the name with the unit's ending."""
    return f"{name}_{unit.suffix}" if unit.suffix else name


def from_number(value: object, unit: Unit) -> float:
    """Return a plain number in the shown unit as SI.

    Raises
    ------
    UnitTextError
        If it is no finite number.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise UnitTextError(f"a number{f' in {unit.shown}' if unit.shown else ''}")
    try:
        number = float(value)
    except OverflowError:
        raise UnitTextError("a number below 1e308") from None
    if not isfinite(number):
        raise UnitTextError("a finite number")
    return number / unit.per_si


def from_text(text: str, unit: Unit) -> float:
    """Return text with a unit ("4 in") as SI.

    Parameters
    ----------
    text : str
        One number and one unit; the unit may only be left out for a pure ratio.
    unit : Unit
        What is wanted: any unit of the same kind is converted.

    Raises
    ------
    UnitTextError
        If it is no such quantity; the message says what is allowed.
    """
    match = _QUANTITY.fullmatch(text[:80])
    if match is None or len(text) > 80:
        raise UnitTextError(f"one number and a unit, as in {_example(unit)!r}")
    number, given = float(match[1]), " ".join(match[2].split())
    if not isfinite(number):
        raise UnitTextError("a finite number")
    given = _SPELLINGS.get(given, given)
    if given == unit.shown:
        return number / unit.per_si
    if not given:
        raise UnitTextError(f"a number with its unit, as in {_example(unit)!r}")
    known = UNITS.get(given)
    if known is not None and known.si == unit.si:
        return number / known.per_si
    return _converted(number, given, unit)


def exact(value: float, unit: Unit) -> float | str:
    """Return an SI value as it must stand in a file to be read back to the same bits.

    Returns
    -------
    float or str
        A plain number for the key with the unit, or, for the rare values that no number divided
        by the unit's factor gives, text in the SI unit.
    """
    number = value * unit.per_si
    for steps in range(3):
        for direction in (-inf, inf):
            candidate = number
            for _ in range(steps):
                candidate = nextafter(candidate, direction)
            if candidate / unit.per_si == value:
                return candidate
    return f"{value!r} {unit.si or 'dimensionless'}"


def shown_text(value: float, unit: Unit) -> str:
    """Return an SI value as short text in the shown unit (`1.4 kg`)."""
    return f"{value * unit.per_si:.6g} {unit.shown}".rstrip()


def _example(unit: Unit) -> str:
    return f"12 {unit.shown}".rstrip()


def _converted(number: float, given: str, unit: Unit) -> float:
    if len(given) > _LONGEST_UNIT or _UNIT_TEXT.fullmatch(_spaced(given)) is None:
        raise UnitTextError(f"one number and a unit, as in {_example(unit)!r}")
    kind = f"a quantity in {unit.shown} or convertible to it" if unit.shown else "a pure ratio"
    registry = _registry()
    try:
        quantity = registry.Quantity(number, registry.parse_units(_spaced(given)))
        # An angle counts as a pure number for the library, so a frequency would pass for a speed.
        has_angle = any(name in _ANGLE_UNITS for name, _ in quantity.unit_items())
        if "rad" in unit.si and not has_angle:
            raise UnitTextError(f"{kind}; the unit must hold an angle, as rpm or rad/s do")
        value = quantity.to(unit.si or "dimensionless").magnitude
    except UnitTextError:
        raise
    except _library_errors() as error:
        raise UnitTextError(f"{kind} ({given!r} is not)") from error
    if not isfinite(value):
        raise UnitTextError("a finite number")
    return float(value)


def _spaced(given: str) -> str:
    """Write `mm2` as `mm^2` and the middle dot as a product."""
    return re.sub(r"(?<=[A-Za-z])([23])(?![0-9])", r"^\1", given).replace("·", "*")


@cache
def _registry() -> Any:
    # Building the registry takes a third of a second; most files never need it.
    import pint

    registry: Any = pint.UnitRegistry()
    registry.define("EUR = [currency]")
    registry.define("@alias revolution = rev")
    return registry


def _library_errors() -> tuple[type[Exception], ...]:
    import tokenize

    from pint.errors import PintError

    # parse_units leaks the errors of the parser beneath it for malformed text
    return (
        PintError, ValueError, TypeError, KeyError, AttributeError, SyntaxError,
        OverflowError, ZeroDivisionError, AssertionError, IndexError, tokenize.TokenError,
    )  # fmt: skip
