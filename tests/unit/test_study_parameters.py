"""Designs written to entries and read back."""

import numpy as np
import pytest

from optim.errors import StudyError
from optim.study.load import loads
from optim.study.parameters import parameter_entries, read_parameters, read_settings
from optim.study.space import decode, sample
from tests.study_example import HARBOUR_VAN


def test_designs_survive_writing_bit_for_bit() -> None:
    study = loads(HARBOUR_VAN)
    for row in sample(study, np.random.default_rng(2), count=200):
        table = decode(study, row)
        entries = parameter_entries(table)
        assert "stack_length_mm" in entries
        assert read_parameters(entries, family=study.family) == table


def test_settings_of_a_command() -> None:
    got = read_settings(
        ["stack_length=14 cm", "air_gap_mm = 0.7", "slots=36", "magnet_grade=N45SH"],
        family="interior",
    )
    assert got == {
        "stack_length": pytest.approx(0.14), "air_gap": 0.7e-3, "slots": 36,
        "magnet_grade": "N45SH",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (["stack_length"], "NAME=VALUE"),
        (["slots=36", "slots=48"], "twice"),
        (["stack_lenth=140 mm"], "'stack_length'"),
        (["stack_length=140"], "unit"),
        (["slots=36.5"], "whole number"),
        (["slots=[1]"], "whole number"),
        (["magnet_grade=N45S"], "'N45SH'"),
        (["air_gap=9 mm"], "0.3 to 3 mm"),
    ],
)
def test_wrong_settings(settings: list[str], words: str) -> None:
    with pytest.raises(StudyError, match=words.replace("(", "\\(")):
        read_settings(settings, family="interior")


def test_all_wrong_entries_come_at_once() -> None:
    with pytest.raises(StudyError) as caught:
        read_parameters({"slots": 1, "poles": 99, "airgap": 1}, family="interior")
    assert len(caught.value.problems) == 3
