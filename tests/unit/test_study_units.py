"""Units at the edge, against the definitions of the units."""

import numpy as np
import pytest

from models.nomenclature import METRICS, PARAMETERS
from optim.study.units import (
    UNITS,
    UnitTextError,
    _converted,
    exact,
    from_number,
    from_text,
    keyed,
    unit_of,
)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # NIST SP 811 (2008), appendix B.8: exact inch, pound, foot, US gallon; from memory
        ("4 in", "mm", 0.1016),
        ("1 lb", "kg", 0.45359237),
        ("1 gallon/min", "L/min", 3.785411784e-3 / 60.0),
        ("100 lbf*ft", "N*m", 100.0 * 4.4482216152605 * 0.3048),
        ("212 degF", "degC", 100.0),
        ("373.15 K", "degC", 100.0),
        ("60 rpm", "rpm", 6.283185307179586),
        ("1 rev/s", "rpm", 6.283185307179586),
        ("36 km/h", "km/h", 10.0),
        ("1 N/(km/h)", "N/(km/h)", 3.6),
        ("1 N/(km/h)^2", "N/(km/h)^2", 12.96),
        ("2 s^2*N/m^2", "N/(km/h)^2", 2.0),
        ("12 A/mm2", "A/mm^2", 12e6),
        ("12 A/mm^2", "A/mm^2", 12e6),
        ("1 Wh/km", "Wh/km", 3.6),
        ("10 kWh/(km)", "Wh/km", 36000.0),
        ("250 Nm", "N*m", 250.0),
        ("95 %", "", 0.95),
        ("0.95", "", 0.95),
        ("2 h", "s", 7200.0),
        ("65 °C", "degC", 65.0),
        ("350 MPa", "MPa", 350e6),
        ("5e-1 kV", "V", 500.0),
    ],
)
def test_text_with_unit(text: str, unit: str, value: float) -> None:
    assert from_text(text, UNITS[unit]) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("350 A", "V"),
        ("63 Hz", "rpm"),
        ("5", "mm"),
        ("", "mm"),
        ("mm", "mm"),
        ("nan mm", "mm"),
        ("1e999 mm", "mm"),
        ("9**9**9 V", "V"),
        ("3 V**9", "V"),
        ("3 (((((V", "V"),
        ("3 __import__('os')", "V"),
        ("3 V; 4 V", "V"),
        ("65 C", "degC"),
        ("3 " + "V" * 500, "V"),
        ("3 USD", "EUR"),
        ("5 kg", ""),
        ("93", "%"),
        ("٣ mm", "V"),
    ],
)
def test_text_that_is_no_such_quantity(text: str, unit: str) -> None:
    with pytest.raises(UnitTextError):
        from_text(text, UNITS[unit])


@pytest.mark.parametrize("value", [True, None, [1], float("nan"), float("inf"), 10**400])
def test_numbers_that_are_none(value: object) -> None:
    with pytest.raises(UnitTextError):
        from_number(value, UNITS["mm"])


@pytest.mark.parametrize("shown", [u for u in UNITS if u not in ("", "EUR")])
def test_own_factors_agree_with_the_unit_library(shown: str) -> None:
    unit = UNITS[shown]
    spelled = {"mOhm": "milliohm", "%": "percent"}.get(shown, shown)
    assert from_number(7.5, unit) == pytest.approx(_converted(7.5, spelled, unit), rel=1e-12)


def test_units_are_those_of_the_nomenclature() -> None:
    for entry in [*METRICS.values(), *PARAMETERS.values()]:
        unit = unit_of(entry)
        assert unit.si == entry.unit
        assert unit.per_si == pytest.approx(entry.shown_factor, rel=1e-15)
    for parameter in PARAMETERS.values():
        assert parameter.key == keyed(parameter.name, unit_of(parameter))


@pytest.mark.parametrize("shown", UNITS)
def test_exact_entries_read_back_to_the_same_bits(shown: str) -> None:
    unit = UNITS[shown]
    rng = np.random.default_rng(3)
    kinds = set()
    for value in rng.uniform(1e-3, 1e3, 200).tolist():
        entry = exact(value, unit)
        kinds.add(type(entry))
        back = from_text(entry, unit) if isinstance(entry, str) else from_number(entry, unit)
        assert back == value
    assert float in kinds
