"""Own factorisation in fronts against two libraries, and what it refuses."""

import numpy as np
import pytest
import qdldl
from scipy.sparse import csc_matrix, random_array, triu
from scipy.sparse.linalg import spsolve

from models.errors import SolverError
from models.field import Factor, field_model
from models.field.elimination import plan_elimination
from models.field.lanes import COUNT
from models.field.solve import at_angle, tangent
from models.geometry.build import build


def random_matrix(n: int, density: float, seed: int) -> csc_matrix:
    """Return a sparse symmetric positive definite matrix."""
    rng = np.random.default_rng(seed)
    a = csc_matrix(random_array((n, n), density=density, rng=rng))
    a = a + a.T
    return csc_matrix(a + csc_matrix(np.diag(0.1 + np.asarray(np.abs(a).sum(axis=1)).ravel())))


@pytest.mark.parametrize(
    ("n", "density"), [(1, 1.0), (2, 1.0), (7, 0.0), (40, 0.05), (90, 0.4), (300, 0.01)]
)
def test_field_factor_solves_random_matrices_like_a_library(n, density):
    full = random_matrix(n, density, seed=n)
    upper = csc_matrix(triu(full))
    factor = Factor(upper.indptr, upper.indices)
    right = np.random.default_rng(1).normal(size=n)
    factor.update(upper.data)
    expected = np.atleast_1d(spsolve(full, right))
    np.testing.assert_allclose(factor.solve(right), expected, rtol=1e-10, atol=1e-12)
    # the same plan serves other numbers
    upper.data = upper.data * np.where(upper.data > 0.0, 1.5, 0.5)
    factor.update(upper.data)
    full = upper + triu(upper, 1).T
    expected = np.atleast_1d(spsolve(csc_matrix(full), right))
    np.testing.assert_allclose(factor.solve(right), expected, rtol=1e-9, atol=1e-12)


def test_field_factor_agrees_with_qdldl_on_four_field_equations_at_once():
    """Tangents of the demo machine far in saturation, four rotor angles side by side."""
    system = field_model(build({})).system
    rng = np.random.default_rng(3)
    potential = rng.normal(scale=0.02, size=(system.size + 1, COUNT))
    potential[-1] = 0.0
    linear = np.stack([at_angle(system, 0.07 * k) for k in range(COUNT)], axis=1)
    factor = Factor(system.columns, system.rows, system.plan)
    stored = tangent(system, linear, potential)
    factor.update(stored)
    right = rng.normal(size=(system.size, COUNT))
    found = factor.solve(right)
    shape = (system.size, system.size)
    for lane in range(COUNT):
        matrix = csc_matrix((stored[:, lane], system.rows, system.columns), shape=shape)
        expected = qdldl.Solver(matrix, upper=True).solve(right[:, lane])
        scale = np.max(np.abs(expected))
        np.testing.assert_allclose(found[:, lane], expected, atol=1e-9 * scale)


def test_field_plan_eliminates_every_unknown_once_and_children_first():
    upper = csc_matrix(triu(random_matrix(200, 0.02, seed=9)))
    plan = plan_elimination(upper.indptr, upper.indices)
    assert np.array_equal(np.sort(plan.order), np.arange(200))
    has_parent = plan.parent >= 0
    assert np.all(plan.parent[has_parent] > np.nonzero(has_parent)[0])
    assert plan.first[-1] == 200


@pytest.mark.parametrize("value", [0.0, -1.0, np.nan])
def test_field_factor_refuses_a_matrix_that_is_not_positive(value):
    factor = Factor(np.array([0, 1, 3], dtype=np.int32), np.array([0, 0, 1], dtype=np.int32))
    with pytest.raises(SolverError, match="not positive"):
        factor.update(np.array([1.0, 0.5, value]))
    with pytest.raises(SolverError, match="before update"):
        factor.solve(np.zeros(2))
