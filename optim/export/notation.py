"""Symbols, units and numbers as they stand on plots and pages."""

from math import floor, log10

from models.nomenclature import METRICS, PARAMETERS, Metric

_UNIT_TEXT = {
    "N*m": "N·m", "N*m/kg": "N·m/kg", "N*m/L": "N·m/L", "N*m/A": "N·m/A", "A/mm^2": "A/mm²",
    "kg*m^2": "kg·m²", "cm^3": "cm³", "m^2": "m²", "mm^2/s": "mm²/s", "degC": "°C",
    "mOhm": "mΩ", "deg": "°", "rpm": "r/min",
}  # fmt: skip
_CAPITALS = {"ac": "AC", "emf": "EMF", "v": "V"}


def unit_text(shown_unit: str) -> str:
    """Return a unit of `models.nomenclature` as printed for people."""
    return _UNIT_TEXT.get(shown_unit, shown_unit)


def name_text(name: str) -> str:
    """Return a parameter or metric name in words: `back_emf_line_peak` is `Back EMF line peak`."""
    words = [_CAPITALS.get(w, w) for w in name.split("_")]
    return words[0][:1].upper() + words[0][1:] + "".join(f" {w}" for w in words[1:])


def axis_text(name: str) -> str:
    """Return the axis label of a metric: words and unit in brackets."""
    unit = unit_text(METRICS[name].shown_unit)
    return f"{name_text(name)} [{unit}]" if unit else f"{name_text(name)} [-]"


def number_text(value: float, digits: int = 4) -> str:
    """Return a number to so many significant digits, without exponent between 1e-3 and 1e6."""
    if value == 0.0:
        return "0"
    size = floor(log10(abs(value)))
    if not -4 < size < 6:
        return f"{value:.{digits - 1}e}"
    return f"{value:.{max(0, digits - 1 - size)}f}"


def metric_text(name: str, value: float, digits: int = 4) -> str:
    """Return a metric's SI value with its shown unit."""
    metric: Metric = METRICS[name]
    unit = unit_text(metric.shown_unit)
    shown = metric.shown(value)
    if not unit and shown == round(shown):  # a count: pieces, orders
        return f"{shown:.0f}"
    text = number_text(shown, digits)
    return f"{text} {unit}" if unit else text


def parameter_text(name: str, value: float | int | str) -> str:
    """Return a parameter's SI value with its shown unit."""
    parameter = PARAMETERS[name]
    if isinstance(value, str) or parameter.kind == "integer":
        return str(value)
    unit = unit_text(parameter.shown_unit)
    text = number_text(value * parameter.shown_factor)
    return f"{text} {unit}" if unit else text
