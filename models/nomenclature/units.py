"""Units in which numbers are shown, and the SI units the program works in."""

from collections.abc import Mapping
from math import pi
from types import MappingProxyType

SHOWN: Mapping[str, tuple[str, float]] = MappingProxyType(
    # shown unit -> (SI unit, shown = SI * factor)
    {
        "": ("", 1.0),
        "%": ("", 100.0),
        "mm": ("m", 1e3),
        "m": ("m", 1.0),
        "deg": ("rad", 180.0 / pi),
        "N": ("N", 1.0),
        "N*m": ("N*m", 1.0),
        "N*m/kg": ("N*m/kg", 1.0),
        "N*m/L": ("N*m/m^3", 1e-3),
        "kW": ("W", 1e-3),
        "W": ("W", 1.0),
        "kW/kg": ("W/kg", 1e-3),
        "rpm": ("rad/s", 60.0 / (2.0 * pi)),
        "A": ("A", 1.0),
        "V": ("V", 1.0),
        "A/mm^2": ("A/m^2", 1e-6),
        "mWb": ("Wb", 1e3),
        "mH": ("H", 1e3),
        "mOhm": ("ohm", 1e3),
        "T": ("T", 1.0),
        "degC": ("degC", 1.0),
        "K": ("K", 1.0),
        "kg": ("kg", 1.0),
        "g": ("kg", 1e3),
        "kg*m^2": ("kg*m^2", 1.0),
        "cm^3": ("m^3", 1e6),
        "EUR": ("EUR", 1.0),
        "s": ("s", 1.0),
        "Wh/km": ("J/m", 1.0 / 3.6),
        "MPa": ("Pa", 1e-6),
        "N*m/A": ("N*m/A", 1.0),
        "m^2": ("m^2", 1.0),
        "m/s": ("m/s", 1.0),
        "mm^2/s": ("m^2/s", 1e6),
        "Hz": ("Hz", 1.0),
        "kPa": ("Pa", 1e-3),
    }
)
