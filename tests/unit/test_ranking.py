"""The front and its ranking, by hand calculation."""

from dataclasses import replace

import numpy as np
import pytest

from models.evaluation import Evaluation
from optim.ranking.archive import Archive, ObjectiveError, front_of
from optim.ranking.binding import least_infeasible, what_binds, what_stops
from optim.ranking.front import Entry, front_table, ranked_front
from optim.ranking.hypervolume import normalised_hypervolume
from optim.ranking.preferences import (
    AUGMENTATION,
    PreferenceError,
    achievement,
    knee_distance,
    pseudo_weights,
    rank,
    weighted_compromise,
)
from optim.ranking.scale import Scale, fixed_scale
from optim.study.judge import Judgement
from optim.study.load import loads
from optim.study.model import Limit, Objective, Preferences, Study
from tests.study_example import HARBOUR_VAN


@pytest.fixture(scope="module")
def study() -> Study:
    return replace(
        loads(HARBOUR_VAN),
        objectives=(Objective("magnet_mass", "minimise"), Objective("peak_torque", "maximise")),
        limits=(Limit("launch_torque", ">=", 200.0), Limit("demagnetisation_margin", ">=", 0.0)),
        preferences=Preferences({}, {}, {"magnet_mass": (1.0, 3.0), "peak_torque": (200.0, 400.0)}),
    )


def entry(number: int, mass: float, torque: float, launch: float = 220.0) -> Entry:
    metrics = {
        "magnet_mass": mass, "peak_torque": torque, "launch_torque": launch,
        "demagnetisation_margin": 0.1,
    }  # fmt: skip
    parameters = dict(loads(HARBOUR_VAN).baseline)
    return Entry(number, parameters, Evaluation("ok", "circuit", metrics))


def test_archive_keeps_the_non_dominated() -> None:
    archive = Archive(2)
    assert archive.add_point(4, [2.0, 2.0])
    assert not archive.add_point(5, [2.0, 3.0])  # dominated
    assert archive.add_point(6, [1.0, 3.0])
    assert archive.add_point(7, [1.5, 1.5])  # dominates 4
    assert archive.numbers.tolist() == [6, 7]
    np.testing.assert_array_equal(archive.objectives, [[1.0, 3.0], [1.5, 1.5]])
    assert 7 in archive
    assert 4 not in archive


def test_of_equal_designs_the_lowest_number_stays() -> None:
    archive = Archive(2)
    archive.add_point(9, [1.0, 1.0])
    assert archive.add_point(3, [1.0, 1.0])
    assert not archive.add_point(5, [1.0, 1.0])
    assert archive.numbers.tolist() == [3]
    assert front_of([9, 3, 5], [[1.0, 1.0]] * 3).tolist() == [3]


def test_archive_takes_only_feasible_designs() -> None:
    archive = Archive(1)
    missed = Judgement(np.array([1.0]), np.array([0.1]), False, "ok")
    assert not archive.add(1, missed)
    assert not archive.add(2, Judgement(None, None, False, "failed"))
    assert archive.add(3, Judgement(np.array([1.0]), np.array([0.0]), True, "ok"))
    with pytest.raises(ObjectiveError):
        archive.add_point(4, [float("nan")])
    with pytest.raises(ObjectiveError):
        archive.add_point(4, [1.0, 2.0])


def test_scores_by_hand() -> None:
    rows = np.array([[0.2, 0.8], [0.5, 0.5]])
    weights = np.array([0.75, 0.25])
    expected = [0.2 + AUGMENTATION * 0.35, 0.375 + AUGMENTATION * 0.5]
    np.testing.assert_allclose(weighted_compromise(rows, weights=weights), expected)
    goals = np.array([0.5, 0.5])
    got = achievement(rows, goals, weights=np.array([0.5, 0.5]))
    np.testing.assert_allclose(got, [0.15, 0.0], atol=1e-15)
    np.testing.assert_allclose(knee_distance([[0.2, 0.2], [0.5, 0.5]]), [0.6 / np.sqrt(2), 0.0])
    np.testing.assert_allclose(
        pseudo_weights([[0.2, 0.6], [1.0, 1.0]]), [[2 / 3, 1 / 3], [0.5] * 2]
    )


def test_weights_pull_the_choice(study: Study) -> None:
    # magnet mass 1.2, 2.0, 2.8 kg against torque 240, 330, 390 N*m
    rows = np.array([[1.2, -240.0], [2.0, -330.0], [2.8, -390.0]])

    def best(**weights: float) -> int:
        preferences = replace(study.preferences, weights=weights)
        ranking = rank(replace(study, preferences=preferences), rows, numbers=[1, 2, 3])
        return int(ranking.order[0])

    assert best() == 1
    assert best(magnet_mass=10.0, peak_torque=1.0) == 0
    assert best(magnet_mass=1.0, peak_torque=10.0) == 2
    assert best(peak_torque=1.0) == 2  # an objective without a weight does not count


def test_goals_and_knee(study: Study) -> None:
    rows = np.array([[1.2, -240.0], [2.0, -350.0], [2.8, -390.0]])
    with pytest.raises(PreferenceError, match="no goal"):
        rank(study, rows, numbers=[1, 2, 3], method="goals")
    asked = replace(study, preferences=replace(study.preferences, goals={"peak_torque": 385.0}))
    ranking = rank(asked, rows, numbers=[1, 2, 3])
    assert ranking.method == "goals"
    assert ranking.order[0] == 2
    assert rank(study, rows, numbers=[1, 2, 3], method="knee").order[0] == 1


def test_scale_comes_from_ranges_then_limits_then_plausible_range(study: Study) -> None:
    scale = fixed_scale(study)
    np.testing.assert_allclose(scale.best, [1.0, -400.0])
    np.testing.assert_allclose(scale.worst, [3.0, -200.0])
    plain = replace(study, preferences=Preferences({}, {}))
    scale = fixed_scale(replace(plain, limits=(Limit("magnet_mass", "<=", 1.4),)))
    np.testing.assert_allclose(scale.best, [0.0, -1000.0])
    np.testing.assert_allclose(scale.worst, [1.4, -20.0])
    beyond = fixed_scale(replace(plain, limits=(Limit("peak_torque", ">=", 2000.0),)))
    assert np.all(beyond.best < beyond.worst)
    assert beyond.worst[1] == -2000.0


def test_normalised_hypervolume_by_hand() -> None:
    scale = Scale(np.array([0.0, -10.0]), np.array([2.0, 0.0]))
    # one point in the middle dominates a quarter of the box; one beyond the box adds nothing
    assert normalised_hypervolume([[1.0, -5.0]], scale) == pytest.approx(0.25)
    assert normalised_hypervolume([[1.0, -5.0], [2.5, -20.0]], scale) == pytest.approx(0.25)
    assert normalised_hypervolume([[-5.0, -50.0]], scale) == pytest.approx(1.0)
    assert normalised_hypervolume(np.empty((0, 2)), scale) == 0.0


def test_what_binds(study: Study) -> None:
    metrics = {"launch_torque": 203.0, "demagnetisation_margin": 0.13}
    margins = what_binds(study, metrics)
    assert [m.limit.metric for m in margins] == ["launch_torque", "demagnetisation_margin"]
    assert margins[0].share == pytest.approx(0.015)
    assert margins[0].binds
    assert margins[1].share == pytest.approx(0.1)  # of the plausible width of 1.3 T
    assert not margins[1].binds
    missed = what_binds(study, {**metrics, "launch_torque": 199.0})[0]
    assert not missed.is_met
    assert not missed.binds


def test_what_stops_a_run(study: Study) -> None:
    def missed(a: float, b: float) -> Judgement:
        return Judgement(np.zeros(2), np.array([a, b]), a == b == 0.0, "ok")

    judged = [missed(0.3, 0.0), missed(0.1, 0.2), missed(0.0, 0.05), missed(0.2, 0.0)]
    judged.append(Judgement(None, None, False, "infeasible"))
    first, second = what_stops(study, judged)
    assert (first.limit.metric, first.stopped, first.stopped_alone) == ("launch_torque", 3, 2)
    assert first.smallest_miss == pytest.approx(0.1)
    assert (second.stopped, second.stopped_alone, second.smallest_miss) == (2, 1, 0.05)
    assert least_infeasible(list(enumerate(judged)), count=2) == [2, 3]
    assert [s.stopped for s in what_stops(study, [])] == [0, 0]


def test_ranked_front_and_table(study: Study, monkeypatch) -> None:

    def price(quantities, parameters, prices):
        return {"cost": 100.0}

    monkeypatch.setattr("optim.study.judge.priced", price)
    entries = [
        entry(0, 1.2, 240.0),
        entry(1, 2.0, 330.0),
        entry(2, 2.1, 320.0),  # dominated
        entry(3, 1.0, 400.0, launch=150.0),  # infeasible
        Entry(4, {}, Evaluation("failed", "circuit", reason="x", message="y")),
        entry(5, 2.8, 390.0),
    ]
    candidates = ranked_front(study, entries)
    assert [c.number for c in candidates] == [1, 0, 5]
    assert [c.rank for c in candidates] == [1, 2, 3]
    assert candidates[0].metrics["cost"] == 100.0
    table = front_table(study, candidates)
    assert table.index.tolist() == [1, 0, 5]
    assert table.loc[1, "peak_torque [N*m]"] == 330.0
    assert table.loc[1, "magnet_mass [kg]"] == 2.0
    assert table.loc[1, "stack_length [mm]"] == pytest.approx(140.0)
    assert table.loc[1, "magnet_grade"] == "N42SH"
    assert table.loc[1, "tightest limit"] == "demagnetisation_margin"
    assert front_table(study, []).empty
    assert ranked_front(study, []) == []
