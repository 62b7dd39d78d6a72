"""Every search algorithm keeps the ask-and-tell contract, whatever it is told."""

import itertools
from collections.abc import Callable
from typing import get_args

import numpy as np
import pytest

from optim.search.errors import SearchError
from optim.search.factory import ALGORITHMS, default_algorithm, make_searcher
from optim.search.protocol import Searcher
from optim.search.space import search_space
from optim.study.judge import Judgement
from optim.study.model import SearchSettings, Variable
from optim.study.schema import Algorithm

MIXED = (
    Variable("thickness", "real", 2e-3, 6e-3),
    Variable("angle", "real", -1.0, 1.0),
    Variable("height", "integer", 0.5, 4.5, 0.25),
    Variable("turns", "integer", 2, 10, 2),
    Variable("layers", "choice", 0, 2, 0.0, (2, 4, 6)),
    Variable("magnet", "choice", 0, 1, 0.0, ("hot", "cold")),
)
N_OBJECTIVES, N_LIMITS = 3, 2

Rule = Callable[[int, np.ndarray], Judgement]


def outcome(number: int, vector: np.ndarray) -> Judgement:
    x = search_space(MIXED).to_unit(vector)
    objectives = np.array([x[0] + x[3], 1 - x[0] + x[1] ** 2 + x[4], x[2] + (1 - x[5]) * x[1]])
    violations = np.maximum(0.0, np.array([0.3 - x[1], x[0] + x[2] - 1.2]))
    return Judgement(objectives, violations, not violations.any(), "ok")


def failing(share: float) -> Rule:
    def rule(number: int, vector: np.ndarray) -> Judgement:
        if np.random.default_rng(number).random() < share:
            return Judgement(None, None, False, "failed" if number % 2 else "infeasible")
        return outcome(number, vector)

    return rule


def nothing_feasible(number: int, vector: np.ndarray) -> Judgement:
    judged = outcome(number, vector)
    assert judged.violations is not None
    return Judgement(judged.objectives, judged.violations + 0.01, False, "ok")


def same_penalty(number: int, vector: np.ndarray) -> Judgement:
    # Reproducibility under a seed is lost by some libraries when objectives are all equal.
    return Judgement(np.ones(N_OBJECTIVES), np.zeros(N_LIMITS), True, "ok")


def not_finite(number: int, vector: np.ndarray) -> Judgement:
    judged = outcome(number, vector)
    assert judged.objectives is not None
    assert judged.violations is not None
    bad = [np.nan, np.inf, -np.inf, 1e300][number % 4]
    if number % 3 == 0:
        return Judgement(judged.objectives * bad, judged.violations, judged.is_feasible, "ok")
    if number % 3 == 1:
        return Judgement(judged.objectives, judged.violations + bad, False, "ok")
    return judged


RULES: dict[str, Rule] = {
    "all_ok": outcome,
    "few_fail": failing(0.1),
    "most_fail": failing(0.95),
    "all_fail": failing(1.1),
    "nothing_feasible": nothing_feasible,
    "same_penalty": same_penalty,
    "not_finite": not_finite,
}


def make(algorithm: str, **changes: int) -> Searcher:
    settings = SearchSettings(algorithm=algorithm, **{"population": 20, "lag": 12, **changes})
    return make_searcher(MIXED, N_OBJECTIVES, n_limits=N_LIMITS, settings=settings)


def drive(searcher: Searcher, rule: Rule, count: int, lag: int = 12) -> np.ndarray:
    vectors: list[np.ndarray] = []
    for number in range(count):
        if number >= lag:
            late = number - lag
            searcher.tell(late, vectors[late], rule(late, vectors[late]))
        vectors.append(searcher.ask(number))
    return np.array(vectors)


def count_for(algorithm: str) -> int:
    return 45 if algorithm == "tpe" else 200


@pytest.mark.parametrize("algorithm", ALGORITHMS)
@pytest.mark.parametrize("name", RULES)
def test_vectors_are_valid_and_the_same_again(algorithm: str, name: str) -> None:
    count = count_for(algorithm)
    vectors = drive(make(algorithm), RULES[name], count)
    assert np.all(np.isfinite(vectors))
    np.testing.assert_array_equal(search_space(MIXED).canonical(vectors), vectors)
    # The second searcher replays the first: bit for bit, whatever happened in between.
    np.random.seed(5)  # noqa: NPY002 (a global generator must not matter)
    np.testing.assert_array_equal(drive(make(algorithm), RULES[name], count), vectors)


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_no_design_is_asked_twice(algorithm: str) -> None:
    vectors = drive(make(algorithm), outcome, count_for(algorithm))
    assert len(np.unique(vectors, axis=0)) == len(vectors)


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_seed_matters(algorithm: str) -> None:
    first = drive(make(algorithm, seed=1), outcome, 30)
    assert np.any(drive(make(algorithm, seed=2), outcome, 30) != first)


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_results_matter(algorithm: str) -> None:
    def reversed_outcome(number: int, vector: np.ndarray) -> Judgement:
        judged = outcome(number, vector)
        assert judged.objectives is not None
        return Judgement(-judged.objectives, judged.violations, judged.is_feasible, "ok")

    first = drive(make(algorithm), outcome, 60)
    second = drive(make(algorithm), reversed_outcome, 60)
    np.testing.assert_array_equal(first[:20], second[:20])
    assert np.any(first[20:] != second[20:])


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_better_and_feasible_designs_are_found(algorithm: str) -> None:
    count = count_for(algorithm)
    vectors = drive(make(algorithm), outcome, count)
    judged = [outcome(number, vector) for number, vector in enumerate(vectors)]
    early = np.mean([one.is_feasible for one in judged[:20]])
    late = np.mean([one.is_feasible for one in judged[-20:]])
    assert late > early
    total = [float(one.objectives.sum()) for one in judged if one.objectives is not None]
    assert np.mean(total[-20:]) < np.mean(total[:20])


@pytest.mark.parametrize("algorithm", ["nsga2", "sms-emoa", "nsga3"])
def test_a_tiny_feasible_region_is_reached_through_its_violations(algorithm: str) -> None:
    # Feasible share of the space 0.1^6 = one in a million: random search would not meet it.
    variables = tuple(Variable(f"x{i}", "real", 0.0, 1.0) for i in range(6))
    settings = SearchSettings(algorithm=algorithm, population=40, lag=20)
    searcher = make_searcher(variables, 3, n_limits=6, settings=settings)

    def rule(number: int, vector: np.ndarray) -> Judgement:
        violations = np.maximum(np.abs(vector - 0.8) - 0.05, 0.0)
        return Judgement(vector[:3].copy(), violations, not violations.any(), "ok")

    vectors = drive(searcher, rule, 1500, lag=20)
    feasible = [rule(0, vector).is_feasible for vector in vectors]
    assert sum(feasible[-300:]) > 30


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_space_smaller_than_the_budget_neither_hangs_nor_fails(algorithm: str) -> None:
    tiny = (
        Variable("layers", "choice", 0, 2, 0.0, (2, 4, 6)),
        Variable("turns", "integer", 2, 6, 2),
        Variable("fixed", "real", 1.5, 1.5),
    )
    settings = SearchSettings(algorithm=algorithm, population=8, lag=4)
    searcher = make_searcher(tiny, 2, n_limits=0, settings=settings)

    def rule(number: int, vector: np.ndarray) -> Judgement:
        return Judgement(np.array([vector[0], 6 - vector[1]]), np.empty(0), True, "ok")

    vectors = drive(searcher, rule, 50, lag=4)
    assert len(np.unique(vectors, axis=0)) == 9


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_start_designs_come_first(algorithm: str) -> None:
    given = np.array([5e-3, 0.5, 1.25, 4.0, 2.0, 1.0])
    off_grid = np.array([9e-3, 0.25, 1.26, 4.9, 1.6, -3.0])
    searcher = make_searcher(
        MIXED,
        N_OBJECTIVES,
        n_limits=N_LIMITS,
        settings=SearchSettings(algorithm=algorithm, population=20, lag=4),
        seeds=[given, off_grid, given],
    )
    np.testing.assert_array_equal(searcher.ask(0), given)
    np.testing.assert_array_equal(searcher.ask(1), [6e-3, 0.25, 1.25, 4.0, 2.0, 0.0])
    third = searcher.ask(2)
    assert np.any(third != given)


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_a_caller_cannot_change_what_the_search_knows(algorithm: str) -> None:
    searcher, plain = make(algorithm), drive(make(algorithm), outcome, 60)
    seen: list[np.ndarray] = []
    for number in range(60):
        if number >= 12:
            late = number - 12
            vector = seen[late].copy()
            judged = outcome(late, vector)
            searcher.tell(late, vector, judged)
            vector[:] = 0.0
            assert judged.objectives is not None
            judged.objectives[:] = 0.0
        given = searcher.ask(number)
        seen.append(given.copy())
        given[:] = 0.0
    np.testing.assert_array_equal(np.array(seen), plain)


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_wrong_order_of_calls_is_refused(algorithm: str) -> None:
    searcher = make(algorithm)
    vector = searcher.ask(0)
    with pytest.raises(SearchError, match="numbers must increase"):
        searcher.ask(0)
    with pytest.raises(SearchError, match="never asked"):
        searcher.tell(1, vector, outcome(1, vector))
    searcher.tell(0, vector, outcome(0, vector))
    with pytest.raises(SearchError, match="told before"):
        searcher.tell(0, vector, outcome(0, vector))


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_wrong_lengths_are_refused(algorithm: str) -> None:
    searcher = make(algorithm)
    vector = searcher.ask(0)
    with pytest.raises(SearchError, match="3 and 2 are expected"):
        searcher.tell(0, vector, Judgement(np.zeros(2), np.zeros(2), True, "ok"))


@pytest.mark.parametrize("algorithm", ALGORITHMS)
def test_results_may_arrive_in_any_recorded_order(algorithm: str) -> None:
    # Free dispatch tells results as they come; the recorded order then reproduces the run.
    def once() -> np.ndarray:
        searcher = make(algorithm)
        numbers = itertools.count()
        vectors = {}
        for _ in range(15):
            batch = [next(numbers) for _ in range(4)]
            vectors.update({number: searcher.ask(number) for number in batch})
            for number in reversed(batch):
                searcher.tell(number, vectors[number], outcome(number, vectors[number]))
        return np.array(list(vectors.values()))

    np.testing.assert_array_equal(once(), once())


@pytest.mark.parametrize(
    ("algorithm", "n_objectives"),
    [pair for pair in itertools.product(ALGORITHMS, (1, 2, 4)) if pair != ("nsga3", 1)],
)
def test_other_numbers_of_objectives(algorithm: str, n_objectives: int) -> None:
    def rule(number: int, vector: np.ndarray) -> Judgement:
        values = np.resize(outcome(number, vector).objectives, n_objectives)
        return Judgement(values, np.empty(0), True, "ok")

    settings = SearchSettings(algorithm=algorithm, population=12, lag=4)
    searcher = make_searcher(MIXED, n_objectives, n_limits=0, settings=settings)
    vectors = drive(searcher, rule, 50, lag=4)
    assert len(np.unique(vectors, axis=0)) == 50


def test_default_follows_the_number_of_objectives() -> None:
    names = [default_algorithm(n) for n in range(1, 8)]
    assert names == ["nsga2", "nsga2", "sms-emoa", "sms-emoa", "sms-emoa", "nsga3", "nsga3"]


def test_unknown_algorithm_is_refused_with_the_allowed_ones() -> None:
    settings = SearchSettings(algorithm="annealing")
    with pytest.raises(SearchError, match="allowed: nsga2, sms-emoa, nsga3, tpe"):
        make_searcher(MIXED, 2, n_limits=0, settings=settings)
    with pytest.raises(SearchError, match="nsga3 from two objectives"):
        make_searcher(MIXED, 1, n_limits=0, settings=SearchSettings(algorithm="nsga3"))


def test_a_study_file_may_name_exactly_these_algorithms() -> None:
    assert set(get_args(Algorithm)) == set(ALGORITHMS)
