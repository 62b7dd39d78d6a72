"""Parts of the search by hand calculation, limits and symmetry."""

import numpy as np
import pytest

from optim.search.errors import SearchError
from optim.search.feasibility import usable, violation_score
from optim.search.operators import Variation, make_child
from optim.search.sampling import candidate_generator, initial_designs, space_filling
from optim.search.space import search_space
from optim.study.judge import Judgement
from optim.study.model import Variable
from optim.study.space import canonical as study_canonical

MIXED = (
    Variable("a", "real", 2e-3, 6e-3),
    Variable("b", "integer", 0.1, 0.73, 0.07),
    Variable("c", "integer", 2, 8, 2),
    Variable("d", "choice", 0, 2, 0.0, ("x", "y", "z")),
    Variable("e", "real", -1.0, 1.0),
)
SPACE = search_space(MIXED)


class _Study:
    family, fixed, variables = "interior", {}, MIXED


def test_space_by_hand() -> None:
    assert SPACE.levels.tolist() == [0, 10, 4, 3, 0]
    # Ten levels vary along a line, four and three are picked.
    assert SPACE.is_ordered.tolist() == [True, True, False, False, True]
    assert SPACE.size == np.inf
    assert search_space(MIXED[1:4]).size == 120
    assert SPACE.canonical(np.array([1.0, 0.3, 5.1, -4.0, -0.0])).tolist() == [
        6e-3, 0.1 + 3 * 0.07, 6.0, 0.0, 0.0,
    ]  # fmt: skip
    assert not np.signbit(SPACE.canonical(np.full(5, -0.0))[4])


def test_canonical_agrees_bit_for_bit_with_the_study() -> None:
    raw = np.random.default_rng(1).uniform(-1.5, 9.0, size=(500, 5)) * [1e-3, 0.1, 1, 0.4, 0.3]
    np.testing.assert_array_equal(SPACE.canonical(raw), study_canonical(_Study(), raw))


@pytest.mark.parametrize(
    "variables",
    [(), (Variable("a", "real", 1.0, 0.0),), (Variable("a", "real", 0.0, np.inf),)],
)
def test_impossible_variables_are_refused(variables: tuple[Variable, ...]) -> None:
    with pytest.raises(SearchError):
        search_space(variables)


def test_start_designs_fill_the_space_evenly() -> None:
    designs = space_filling(SPACE, 64, seed=3)
    # A balanced sequence of 2^6 points: each eighth of a real variable holds 8 of them
    # (property of a (t, s)-sequence in base 2 in one dimension).
    eighth = np.floor(8 * SPACE.to_unit(designs)[:, [0, 4]]).astype(int).clip(0, 7)
    for column in eighth.T:
        assert np.bincount(column, minlength=8).tolist() == [8] * 8
    assert np.bincount(((designs[:, 2] - 2) / 2).astype(int)).tolist() == [16] * 4
    assert set(np.bincount(designs[:, 3].astype(int)).tolist()) <= {21, 22}


def test_start_designs_are_distinct_also_on_a_coarse_grid() -> None:
    coarse = search_space(MIXED[2:4])
    designs = initial_designs(coarse, 50, seed=1)
    assert len(np.unique(designs, axis=0)) == len(designs) == 12


def test_start_designs_with_a_wrong_length_or_nan_are_refused() -> None:
    with pytest.raises(SearchError, match="start design 1"):
        initial_designs(SPACE, 4, seed=1, seeds=[SPACE.low, SPACE.low[:3]])
    with pytest.raises(SearchError, match="not finite"):
        initial_designs(SPACE, 4, seed=1, seeds=[np.full(5, np.nan)])


def test_generators_are_independent_of_each_other() -> None:
    first = candidate_generator(1, 7).random(3)
    candidate_generator(1, 8).random(100)
    np.testing.assert_array_equal(candidate_generator(1, 7).random(3), first)
    draws = {tuple(candidate_generator(1, *key).random(2)) for key in [(7,), (8,), (7, 1), (0,)]}
    assert len(draws) == 4


def children(variation: Variation, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    generator = np.random.default_rng(2)
    return np.array(
        [
            make_child(SPACE, first, second, generator=generator, variation=variation)
            for _ in range(4000)
        ]
    )


FIRST = SPACE.canonical(np.array([3e-3, 0.24, 2.0, 0.0, -0.4]))
SECOND = SPACE.canonical(np.array([4e-3, 0.52, 6.0, 2.0, 0.4]))


def test_crossover_alone_keeps_the_mean_and_takes_choices_from_parents() -> None:
    made = children(Variation(1.0, mutations=1e-12), FIRST, SECOND)
    assert set(made[:, 3]) == {0.0, 2.0}
    assert set(made[:, 2]) == {2.0, 6.0}
    # Symmetric about the parents except that a variable not crossed stays the first parent's:
    # 3/4 of its weight; the bounds are far in units of the spread.
    expected = FIRST + 0.25 * (SECOND - FIRST)
    assert made[:, 0].mean() == pytest.approx(expected[0], rel=0.01)
    assert made[:, 4].mean() == pytest.approx(expected[4], abs=0.03)
    assert np.mean(made[:, 3] == 2.0) == pytest.approx(0.5, abs=0.03)


def test_crossover_of_equal_parents_changes_nothing() -> None:
    made = children(Variation(1.0, mutations=1e-12), FIRST, FIRST)
    np.testing.assert_array_equal(made, np.tile(FIRST, (len(made), 1)))


def test_crossover_spread_follows_its_distribution() -> None:
    # Deb & Agrawal 1995: the spread factor beta has P(beta <= 1) = 1/2 far from the bounds, so
    # half of the crossed values lie between the parents. Parents in the middle of a wide range.
    wide = search_space((Variable("x", "real", -1e6, 1e6),))
    generator = np.random.default_rng(3)
    made = np.array(
        [
            make_child(
                wide,
                np.array([-1.0]),
                np.array([1.0]),
                generator=generator,
                variation=Variation(1.0, crossover_index=2.0, mutations=1e-12),
            )[0]
            for _ in range(8000)
        ]
    )
    crossed = made[made != -1.0]
    assert len(crossed) == pytest.approx(4000, abs=200)
    assert np.mean(np.abs(crossed) < 1.0) == pytest.approx(0.5, abs=0.03)
    # and P(beta <= 2) = 1 - 1/2 * 2^-(index + 1) = 0.9375.
    assert np.mean(np.abs(crossed) < 2.0) == pytest.approx(0.9375, abs=0.015)


def test_mutation_changes_one_variable_on_average_and_stays_inside() -> None:
    made = children(Variation(0.0), FIRST, SECOND)
    changed = made != FIRST
    assert changed[:, [0, 4]].mean() == pytest.approx(0.2, abs=0.02)
    # A reset of a choice meets the old value in one of three cases, of four levels in one of four.
    assert changed[:, 3].mean() == pytest.approx(0.2 * 2 / 3, abs=0.02)
    assert changed[:, 2].mean() == pytest.approx(0.2 * 3 / 4, abs=0.02)
    np.testing.assert_array_equal(SPACE.canonical(made), made)


@pytest.mark.parametrize("edge", [SPACE.low, SPACE.high])
def test_mutation_at_a_bound_stays_inside(edge: np.ndarray) -> None:
    made = children(Variation(1.0, mutations=5.0, mutation_index=0.5), edge, edge)
    assert np.all((made >= SPACE.low) & (made <= SPACE.high))
    assert np.mean(made[:, 0] != edge[0]) > 0.4


def test_violation_score_by_hand() -> None:
    score = violation_score(np.array([[0.0, 0.0], [0.1, 0.0], [0.1, 0.3], [1e9, 0.0]]))
    assert score == pytest.approx([0.0, 0.5, 1.25, 1.0])
    assert violation_score(np.empty((3, 0))).tolist() == [0.0, 0.0, 0.0]


def test_usable_outcomes() -> None:
    good = Judgement(np.ones(2), np.zeros(1), True, "ok")
    assert usable(good, 2, 1) is not None
    for bad in (
        Judgement(None, None, False, "failed"),
        Judgement(np.array([1.0, np.nan]), np.zeros(1), True, "ok"),
        Judgement(np.array([1.0, 1e200]), np.zeros(1), True, "ok"),
        Judgement(np.ones(2), np.array([np.inf]), False, "ok"),
        Judgement(np.ones(2), np.array([0.2]), True, "ok"),
        Judgement(np.ones(2), np.zeros(1), False, "ok"),
    ):
        assert usable(bad, 2, 1) is None
