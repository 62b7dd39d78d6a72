"""Thermal classes of insulation against the standards' numbers."""

import pytest

from models.thermal.insulation import INSULATION_CLASSES
from optim.errors import StudyError
from optim.study.load import loads
from tests.study_example import HARBOUR_VAN


def test_thermal_classes() -> None:
    """IEC 60085 (read in suppliers' tables): A 105, E 120, B 130, F 155, H 180, N 200, R 220."""
    found = {letter: c.temperature for letter, c in INSULATION_CLASSES.items()}
    assert found == {"A": 105, "E": 120, "B": 130, "F": 155, "H": 180, "N": 200, "R": 220}


@pytest.mark.parametrize(
    ("letter", "rise"), [("A", 60), ("E", 75), ("B", 80), ("F", 105), ("H", 125)]
)
def test_temperature_rise(letter: str, rise: float) -> None:
    """IEC 60034-1, rise by resistance, 40 degC ambient, below 5 MVA (read in a maker's manual)."""
    found = INSULATION_CLASSES[letter]
    assert found.rise == rise
    # what is left for the hot spot above the mean
    assert 5.0 <= found.temperature - 40.0 - rise <= 15.0


def test_a_study_may_name_the_class() -> None:
    plain = loads(HARBOUR_VAN)
    assert plain.duty.temperatures.winding_limit == 155.0
    table = "[duty.temperatures]\n"
    assert table not in HARBOUR_VAN
    named = loads(f'{HARBOUR_VAN}\n{table}insulation_class = "H"\n')
    assert named.duty.temperatures.winding_limit == 180.0
    lower = loads(f'{HARBOUR_VAN}\n{table}insulation_class = "H"\nwinding_limit_degc = 165\n')
    assert lower.duty.temperatures.winding_limit == 165.0
    with pytest.raises(StudyError, match=r"at most 155 degC.*class F"):
        loads(f'{HARBOUR_VAN}\n{table}insulation_class = "F"\nwinding_limit_degc = 165\n')
