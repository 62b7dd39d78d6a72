"""Text of numbers, durations and curves, by hand."""

import math

import pytest

from optim.service.tables import aligned
from optim.service.wording import (
    bar_text,
    curve_text,
    duration_text,
    in_words,
    rate_text,
    share_text,
)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.0312, "31 ms"), (4.26, "4.3 s"), (59.4, "59 s"), (61.0, "1 min 01 s"),
     (3600.0 * 2 + 60 * 5 + 3, "2 h 05 min"), (math.nan, "not known yet")],
)  # fmt: skip
def test_duration(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_shares_and_rates() -> None:
    assert share_text(1, 3) == "33 %"
    assert share_text(1, 40) == "2.5 %"
    assert share_text(0, 40) == "0 %"
    assert share_text(0, 0) == "-"
    assert rate_text(61.7) == "62 /s"
    assert rate_text(0.312) == "0.31 /s"
    assert rate_text(math.nan) == "-"


def test_curve_rises_from_low_to_high_and_fills_the_width() -> None:
    line = curve_text([(0.0, 0.0), (50.0, 0.5), (100.0, 1.0)], 10)
    assert len(line) == 10
    assert line[0] == "▁"
    assert line[4] == "▅"
    assert line[-1] == "█"
    assert list(line) == sorted(line)
    assert curve_text([(0.0, 1.0)], 5, is_ascii=True) == "#####"
    assert curve_text([], 5) == ""


def test_bar() -> None:
    assert bar_text(0.5, 10, is_ascii=True) == "#####....."
    assert bar_text(2.0, 3, is_ascii=True) == "###"


def test_aligned_numbers_have_equal_decimals() -> None:
    assert aligned([386.0215, 52.4]) == ["386.0", "52.4"]
    assert aligned([1.0643, 0.9]) == ["1.064", "0.900"]
    assert aligned([123456.7]) == ["123457"]
    assert aligned([]) == []


def test_torque_is_parted_in_words_where_the_family_parts_it() -> None:
    metrics = {"peak_torque": 200.0, "base_speed": 100.0 * math.pi, "top_speed_power": 80e3}
    torque, held, binding = in_words(metrics, ())
    assert torque == "peak torque 200.0 N·m"
    assert "3000 r/min" in held
    assert binding == "binding: no limit"
    parted, *_ = in_words({**metrics, "reluctance_share": 0.25}, ())
    assert parted == "peak torque 200.0 N·m: magnets 150.0 N·m, reluctance 50.00 N·m"
