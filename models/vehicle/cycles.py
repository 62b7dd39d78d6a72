"""Drive cycles: the regulations' speed traces, and a person's own columns."""

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from models.duty import DriveCycle
from models.errors import InvalidInputError
from models.nomenclature import nearest

SPEED_UNITS: Mapping[str, float] = MappingProxyType(
    {"m/s": 1.0, "km/h": 1.0 / 3.6, "mph": 1609.344 / 3600.0}
)
"""Allowed units of speed and their size [m/s] (the international mile is 1609.344 m)."""

_NAMES = ("wltc_3b", "udds", "hwfet", "us06")
_COLUMN_UNITS = MappingProxyType({"speed_km_h": "km/h", "speed_mph": "mph", "speed_m_s": "m/s"})


def names() -> tuple[str, ...]:
    """Return the names of the built-in cycles."""
    return _NAMES


@cache
def built_in(name: str) -> DriveCycle:
    """Return a built-in cycle; each file names the regulation its trace comes from.

    Parameters
    ----------
    name : {"wltc_3b", "udds", "hwfet", "us06"}
        Short name.

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    if name not in _NAMES:
        hint = nearest(name, _NAMES)
        raise InvalidInputError(
            f"unknown cycle {name!r}; built in are {', '.join(_NAMES)}"
            + (f"; did you mean {hint!r}?" if hint else "")
        )
    text = (files("models.vehicle") / "cycles" / f"{name}.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(line for line in text.splitlines() if not line.startswith("#")))
    table = np.array(rows[1:], dtype=float)
    return from_columns(name, time=table[:, 0], speed=table[:, 1], unit=_COLUMN_UNITS[rows[0][1]])


def from_columns(name: str, *, time: ArrayLike, speed: ArrayLike, unit: str) -> DriveCycle:
    """Return a cycle from columns of time and speed.

    Parameters
    ----------
    name : str
        Short name, used in error messages and reports.
    time : array_like, shape (n,)
        Strictly increasing time [s].
    speed : array_like, shape (n,)
        Vehicle speed in `unit`, >= 0.
    unit : {"m/s", "km/h", "mph"}
        Unit of speed.

    Raises
    ------
    InvalidInputError
        Unknown unit, columns that are no numbers or of unequal length, a value that is not
        finite, time that does not increase, or negative speed.
    """
    if unit not in SPEED_UNITS:
        raise InvalidInputError(
            f"cycle {name!r}: unknown unit of speed {unit!r}; allowed are {', '.join(SPEED_UNITS)}"
        )
    try:
        t = np.array(time, dtype=float)
        v = np.array(speed, dtype=float)
    except (TypeError, ValueError) as error:
        raise InvalidInputError(
            f"cycle {name!r}: time and speed must be columns of numbers ({error})"
        ) from error
    v *= SPEED_UNITS[unit]
    t.flags.writeable = False
    v.flags.writeable = False
    return DriveCycle(name=name, time=t, speed=v)
