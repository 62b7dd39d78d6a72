"""The search over several families: replay, shares of the budget."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from optim.search.contest import RESERVED, ContestSearcher
from optim.search.errors import SearchError
from optim.search.factory import make_contest
from optim.study.model import SearchSettings, Variable

Array = NDArray[np.float64]
SPACES = (
    (Variable("a", "real", 0.0, 1.0), Variable("b", "real", 0.0, 1.0)),
    (Variable("c", "real", 0.0, 1.0), Variable("d", "real", 0.0, 1.0),
     Variable("e", "integer", 0.0, 4.0, 1.0)),
)  # fmt: skip
SETTINGS = SearchSettings(algorithm="nsga2", population=12, lag=12, budget=400, seed=3)


@dataclass(frozen=True)
class Found:
    objectives: Array | None
    violations: Array | None
    is_feasible: bool


def contest() -> ContestSearcher:
    made = make_contest(SPACES, 2, n_limits=0, settings=SETTINGS)
    assert isinstance(made, ContestSearcher)
    return made


def outcome(vector: Array, gap: float) -> Found:
    """Two aims at odds; the second family is worse by `gap` everywhere."""
    x, y = vector[1], vector[2]
    loss = (y - 0.3) ** 2 + gap * vector[0]
    return Found(np.array([x + loss, (1.0 - x) ** 2 + loss]), np.empty(0), True)


def drive(searcher: ContestSearcher, count: int, gap: float, *, lag: int = 12) -> list[Array]:
    """Ask and tell in the fixed order of a run."""
    asked: list[Array] = []
    for n in range(count):
        if n >= lag:
            searcher.tell(n - lag, asked[n - lag], outcome(asked[n - lag], gap))
        asked.append(searcher.ask(n))
    return asked


def test_the_same_results_give_the_same_vectors() -> None:
    first, second = (drive(contest(), 300, 0.1) for _ in range(2))
    assert all(a.tobytes() == b.tobytes() for a, b in zip(first, second))
    assert {len(v) for v in first} == {3, 4}


def test_the_budget_follows_the_family_that_improves_the_front() -> None:
    family = np.array([v[0] for v in drive(contest(), 400, 0.5)])
    early, late = family[:24], family[-120:]
    assert early.mean() == pytest.approx(0.5, abs=0.05)
    assert late.mean() < 0.3  # the beaten family keeps what is reserved, little more
    assert late.mean() >= 0.8 * RESERVED / 2


def test_equal_families_share_the_budget() -> None:
    family = np.array([v[0] for v in drive(contest(), 400, 0.0)])
    assert 0.3 < family.mean() < 0.7


def test_without_success_all_get_the_same() -> None:
    searcher = contest()
    for n in range(200):
        vector = searcher.ask(n)
        searcher.tell(n, vector, Found(None, None, False))
    np.testing.assert_allclose(searcher.shares, 0.5)


def test_starts_go_to_their_family() -> None:
    seeds = [np.array([0.0, 0.25, 0.5]), np.array([1.0, 0.125, 0.75, 3.0])]
    searcher = make_contest(SPACES, 2, n_limits=0, settings=SETTINGS, seeds=seeds)
    first = [searcher.ask(n).tolist() for n in range(2)]
    assert sorted(first) == [s.tolist() for s in seeds]


def test_misuse_is_refused() -> None:
    searcher = contest()
    searcher.ask(3)
    with pytest.raises(SearchError, match="increase"):
        searcher.ask(3)
    with pytest.raises(SearchError, match="not open"):
        searcher.tell(4, np.zeros(3), Found(None, None, False))
    with pytest.raises(SearchError, match="at least"):
        ContestSearcher([searcher], 2, trial=1)
