"""Tighter studies, and studies written back as text."""

import pytest

from models.cost import default_prices
from optim.errors import StudyError
from optim.study.change import self_contained, with_changes
from optim.study.identity import design_key, study_digest
from optim.study.load import load, loads
from optim.study.model import Limit, Objective, Study
from tests.study_example import HARBOUR_VAN, edited


@pytest.fixture(scope="module")
def study() -> Study:
    return loads(HARBOUR_VAN)


def test_tighter_limit_replaces_the_looser(study: Study) -> None:
    new = with_changes(study, limits=["launch_torque >= 250 N*m"])
    assert Limit("launch_torque", ">=", 250.0) in new.limits
    assert Limit("launch_torque", ">=", 230.0) not in new.limits
    assert len(new.limits) == len(study.limits)


def test_new_limits_are_added(study: Study) -> None:
    new = with_changes(study, limits=["magnet_mass <= 1.4 kg", "launch_torque_nm <= 400"])
    assert Limit("magnet_mass", "<=", 1.4) in new.limits
    assert Limit("launch_torque", "<=", 400.0) in new.limits
    assert Limit("launch_torque", ">=", 230.0) in new.limits
    assert len(new.limits) == len(study.limits) + 2


def test_designs_keep_their_keys(study: Study) -> None:
    price = next(iter(default_prices()))
    new = with_changes(
        study, limits=["magnet_mass <= 1.4 kg"], objectives=["minimise cost"], prices={price: 99.0}
    )
    assert new.prices[price] == 99.0
    keys = {design_key(s.family, s.baseline, duty=s.duty, model=s.model) for s in (study, new)}
    assert len(keys) == 1
    assert study_digest(new) != study_digest(study)


def test_objectives_replace_all(study: Study) -> None:
    new = with_changes(study, objectives=["maximise peak_torque", "minimise drag_loss"])
    assert new.objectives == (
        Objective("peak_torque", "maximise"), Objective("drag_loss", "minimise"),
    )  # fmt: skip
    assert new.preferences.weights == {"peak_torque": 1.0}


def test_looser_limit_needs_a_word(study: Study) -> None:
    with pytest.raises(StudyError, match="230 N\\*m"):
        with_changes(study, limits=["launch_torque >= 200 N*m"])
    new = with_changes(study, limits=["launch_torque >= 200 N*m"], allow_looser=True)
    assert Limit("launch_torque", ">=", 200.0) in new.limits


def test_mistakes_come_at_once(study: Study) -> None:
    with pytest.raises(StudyError) as caught:
        with_changes(
            study,
            limits=["magnet_mas <= 1 kg", "magnet_mass <= 1 V", "magnet_mass = 1 kg"],
            objectives=["peak_torque", "maximise peak_torqe"],
        )
    assert len(caught.value.problems) == 5
    assert "'magnet_mass'" in str(caught.value)


def test_contradiction_with_the_study_is_told(study: Study) -> None:
    with pytest.raises(StudyError, match="contradict"):
        with_changes(study, limits=["launch_torque <= 200 N*m"])


def test_text_of_a_changed_study_is_the_changed_study(study: Study) -> None:
    new = with_changes(study, limits=["magnet_mass <= 1.4 kg", "cycle_efficiency >= 92.7 %"])
    again = loads(new.text)
    assert study_digest(again) == study_digest(new)
    twice = with_changes(again, limits=["magnet_mass <= 1.2 kg"])
    assert Limit("magnet_mass", "<=", 1.2) in twice.limits


def test_written_study_needs_no_other_file(tmp_path) -> None:
    (tmp_path / "trip.csv").write_text("time,speed\n0,0\n1,3.3\n2,7.1\n4,0\n")
    key, value = next(iter(default_prices().items()))
    (tmp_path / "spring.toml").write_text(f"{key} = {value + 1.25}\n")
    path = tmp_path / "van.toml"
    text = edited(('"wltc_3b"', '{ file = "trip.csv", speed_unit = "mph" }'))
    path.write_text(text + '\n[prices]\nlist = "spring.toml"\n')
    study = load(path)
    assert study.prices[key] == value + 1.25
    again = loads(self_contained(study))  # no folder: a file would be refused
    assert study_digest(again) == study_digest(study)
