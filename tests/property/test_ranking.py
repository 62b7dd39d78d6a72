"""Fronts and rankings of any points."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from optim.ranking.archive import Archive, front_of
from optim.ranking.hypervolume import normalised_hypervolume
from optim.ranking.preferences import Method, rank
from optim.ranking.scale import fixed_scale
from optim.study.load import loads
from optim.study.model import Objective, Preferences
from tests.study_example import HARBOUR_VAN

STUDY = replace(
    loads(HARBOUR_VAN),
    objectives=(
        Objective("magnet_mass", "minimise"),
        Objective("peak_torque", "maximise"),
        Objective("drag_loss", "minimise"),
    ),
    preferences=Preferences(
        {"magnet_mass": 2.0, "peak_torque": 1.0}, {"peak_torque": 300.0, "magnet_mass": 1.5}
    ),
)
# Few different values, so that ties, duplicates and dominated points are common.
POINT = st.tuples(
    st.sampled_from([0.5, 1.0, 1.5, 2.0, 7.0]),
    st.sampled_from([-1200.0, -300.0, -250.0, -200.0, 10.0]),
    st.sampled_from([10.0, 300.0, 900.0, 6000.0]),
)
POINTS = st.lists(POINT, min_size=1, max_size=25)
METHODS = st.sampled_from(["weights", "goals", "knee"])


@given(POINTS, st.randoms(use_true_random=False))
def test_archive_does_not_depend_on_the_order(points, random) -> None:
    order = list(range(len(points)))
    random.shuffle(order)
    archive = Archive(3)
    for number in order:
        archive.add_point(number, points[number])
    assert archive.numbers.tolist() == front_of(range(len(points)), points).tolist()
    np.testing.assert_array_equal(archive.objectives, np.array(points)[archive.numbers])


@given(POINTS)
def test_archive_is_the_set_of_designs_that_nothing_dominates(points) -> None:
    archive = Archive(3)
    for number, point in enumerate(points):
        archive.add_point(number, point)
    rows = np.array(points)
    for number, row in enumerate(rows):
        dominated = np.any(np.all(rows <= row, axis=1) & np.any(rows < row, axis=1))
        repeated = any(points[k] == points[number] for k in range(number))
        assert (number in archive) == (not dominated and not repeated)


@given(POINTS, POINT, METHODS)
def test_one_more_design_never_reorders_the_others(points, extra, method: Method) -> None:
    numbers = np.arange(len(points))
    before = rank(STUDY, points, numbers=numbers, method=method)
    after = rank(STUDY, [*points, extra], numbers=[*numbers, len(points)], method=method)
    assert [k for k in after.order if k < len(points)] == before.order.tolist()
    np.testing.assert_array_equal(after.scores[:-1], before.scores)
    np.testing.assert_array_equal(after.pseudo_weights[:-1], before.pseudo_weights)


@given(POINTS, METHODS)
def test_a_design_ranks_before_what_it_dominates(points, method: Method) -> None:
    order = rank(STUDY, points, numbers=np.arange(len(points)), method=method).order
    rows = np.array(points)[order]
    for place, row in enumerate(rows):
        later_dominates = np.all(rows[place + 1 :] <= row, axis=1) & np.any(
            rows[place + 1 :] < row, axis=1
        )
        assert not np.any(later_dominates)


@given(POINTS, METHODS)
def test_pseudo_weights_sum_to_one(points, method: Method) -> None:
    weights = rank(STUDY, points, numbers=np.arange(len(points)), method=method).pseudo_weights
    assert np.all(weights >= 0.0)
    np.testing.assert_allclose(weights.sum(axis=1), 1.0)


@given(POINTS, POINT)
def test_hypervolume_grows_with_the_front_and_stays_a_share(points, extra) -> None:
    scale = fixed_scale(STUDY)
    before = normalised_hypervolume(points, scale)
    after = normalised_hypervolume([*points, extra], scale)
    assert 0.0 <= before <= after <= 1.0
