"""Several field problems side by side: neighbours in the lanes, order, belts of symmetry."""

from math import pi

import numpy as np
import pytest

from models.errors import SolverError
from models.field import FieldMagnetics, solve_point
from models.field.belt_symmetry import belt_later, half_way
from models.field.march import solve_positions
from models.field.solve import Problem, at_angle, solve, solve_points
from models.geometry.build import build

CURRENTS = [(0.0, 0.0), (-100.0, 150.0), (-300.0, 100.0), (-50.0, 400.0), (-400.0, 0.0)]


@pytest.fixture(scope="module")
def model():
    return FieldMagnetics.of(build({})).model


def problems(model):
    linear = at_angle(model.system, model.mechanical_angle(0.2))
    return [Problem(linear, model.source(d, q, 0.2, model.remanence)) for d, q in CURRENTS]


def test_problems_side_by_side_agree_with_each_alone(model):
    """Lanes share only when they are factored, which the tolerance covers."""
    together = solve_points(model.system, problems(model), tolerance=1e-6)
    for problem, found in zip(problems(model), together):
        alone = solve(model.system, problem.linear, source=problem.source, tolerance=1e-6)
        scale = np.max(np.abs(alone.potential))
        np.testing.assert_allclose(found.potential, alone.potential, atol=1e-5 * scale)


def test_problems_are_solved_alike_every_time(model):
    first, again = (solve_points(model.system, problems(model)) for _ in range(2))
    for a, b in zip(first, again):
        np.testing.assert_array_equal(a.potential, b.potential)


def test_problem_starts_from_a_neighbour_solved_before(model):
    """A start at the solution of the same problem needs a single step."""
    first = problems(model)[1]
    same = Problem(first.linear, first.source, neighbours=((0, 1.0),))
    found = solve_points(model.system, [first, same], tolerance=1e-3)
    assert found[0].steps > found[1].steps == 1


def test_problems_without_source_or_waiting_for_each_other(model):
    linear = problems(model)[0].linear
    nothing = Problem(linear, np.zeros(model.system.size + 1))
    assert not np.any(solve_points(model.system, [nothing])[0].potential)
    source = problems(model)[1].source
    circle = [Problem(linear, source, neighbours=((k, 1.0),)) for k in (1, 0)]
    with pytest.raises(SolverError, match="wait for each other"):
        solve_points(model.system, circle)


@pytest.mark.parametrize("belts", [1, 2])
def test_field_a_belt_later_is_the_field_moved_by_a_belt(model, belts):
    now, later = (
        solve_point(model, -200.0, 300.0, rotor_angle=0.1 + turn).solution.potential
        for turn in (0.0, belts * pi / 3.0)
    )
    source, sign = belt_later(model.system, belts)
    np.testing.assert_allclose(later, sign * now[source], atol=1e-9 * np.max(np.abs(now)))


def test_field_half_way_between_positions_is_nearly_interpolated(model):
    """A guess: the slots' harmonics that few positions cannot tell are what it lacks."""
    angles = pi / 9.0 * np.arange(3)
    arguments = {"i_d": -100.0, "i_q": 100.0, "remanence": model.remanence}
    solved, between = (
        np.array(
            [s.potential for s in solve_positions(model, rotor_angles=angles + turn, **arguments)]
        )
        for turn in (0.0, pi / 18.0)
    )
    error = np.linalg.norm(half_way(model, solved) - between)
    assert error < 0.1 * np.linalg.norm(between)
    # the field of the nearest position solved is farther off
    assert error < 0.5 * np.linalg.norm(solved - between)
