"""Selection by hypervolume keeps the designs that the reference library keeps."""

import numpy as np
import pytest
from pymoo.algorithms.moo.sms import LeastHypervolumeContributionSurvival
from pymoo.core.population import Population
from pymoo.core.problem import Problem

from optim.search.pymoo_survival import CrowdingSurvival, ReferenceSurvival
from optim.search.survival import HypervolumeSurvival, Survival, least_contributors


def cloud(n_objectives: int, count: int, seed: int) -> np.ndarray:
    """Several fronts: points on and somewhat above a sphere, in unequal units."""
    generator = np.random.default_rng(seed)
    points = np.abs(generator.normal(size=(count, n_objectives)))
    points /= np.linalg.norm(points, axis=1)[:, None]
    points *= 1.0 + generator.choice([0.0, 0.3], size=(count, 1), p=[0.7, 0.3])
    return points * 10.0 ** np.arange(n_objectives) - 3.0


@pytest.mark.parametrize("n_objectives", [2, 3, 4])
@pytest.mark.parametrize("keep", [40, 55, 59])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_same_survivors_as_pymoo(n_objectives: int, keep: int, seed: int) -> None:
    # Reference: `LeastHypervolumeContributionSurvival` of pymoo 0.6.2, reference point at 11.
    points = cloud(n_objectives, 60, seed)
    generator = np.random.default_rng(0)
    population = Population.new("F", points, "row", np.arange(60))
    kept = LeastHypervolumeContributionSurvival().do(
        Problem(n_var=1, n_obj=n_objectives), population, n_survive=keep, random_state=generator
    )
    own = HypervolumeSurvival().select(points, keep, generator=generator)
    assert set(own.indices.tolist()) == set(kept.get("row").tolist())
    rank_of = dict(zip(kept.get("row").tolist(), kept.get("rank").tolist()))
    assert [rank_of[row] for row in own.indices.tolist()] == own.rank.tolist()


def test_least_contributors_by_hand() -> None:
    points = np.array([[0.0, 3.0], [1.0, 2.5], [3.0, 1.0], [4.0, 0.0]])
    # Exclusive areas up to 5: (1-0)(5-3)=2; (3-1)(3-2.5)=1; (4-3)(2.5-1)=1.5; (5-4)(1-0)=1.
    # The equal pair falls in row order: row 1, then row 2 has (4-3)(3-1)=2, row 3 still 1.
    assert least_contributors(points, 2, reference=5.0).tolist() == [1, 3]


def test_equal_points_add_nothing_and_go_first() -> None:
    points = np.array([[0.0, 1.0], [0.5, 0.5], [0.5, 0.5], [1.0, 0.0]])
    assert least_contributors(points, 1, reference=2.0).tolist() == [1]


SURVIVALS = {
    "hypervolume": HypervolumeSurvival,
    "crowding": CrowdingSurvival,
    "reference": lambda: ReferenceSurvival(3, 30),
}


@pytest.mark.parametrize("name", SURVIVALS)
@pytest.mark.parametrize("keep", [1, 7, 30, 60])
def test_exact_count_sorted_and_best_fronts_first(name: str, keep: int) -> None:
    survival: Survival = SURVIVALS[name]()
    points = cloud(3, 60, 4)
    kept = survival.select(points, keep, generator=np.random.default_rng(3))
    assert len(kept.indices) == len(kept.rank) == len(kept.spread) == keep
    assert np.all(np.diff(kept.indices) > 0)
    left = np.setdiff1d(np.arange(60), kept.indices)
    for row in left:
        # A design left out may not dominate one that stays.
        is_better = np.all(points[row] <= points[kept.indices], axis=1)
        assert not np.any(is_better & np.any(points[row] < points[kept.indices], axis=1))


@pytest.mark.parametrize("name", SURVIVALS)
def test_flat_and_repeated_objectives(name: str) -> None:
    survival: Survival = SURVIVALS[name]()
    points = np.tile([[1.0, 2.0, 3.0]], (20, 1))
    kept = survival.select(points, 8, generator=np.random.default_rng(1))
    assert len(np.unique(kept.indices)) == 8
