"""Random designs of the ready study: valid, or impossible for a named reason; never an error."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from models.errors import InfeasibleDesignError
from models.evaluate import evaluate, perform_design
from models.geometry.build import build, section
from optim.study.load import load
from optim.study.model import Study
from optim.study.space import decode, sample

STUDIES = Path(__file__).parents[2] / "studies"
SECTIONS = 2000
EVALUATIONS = 60


@pytest.fixture(scope="module", params=["island-post-van.toml", "quarry-tipper-800v.toml"])
def study(request: pytest.FixtureRequest) -> Study:
    return load(STUDIES / request.param)


def test_sections_are_valid_or_named(study: Study) -> None:
    """At least 99.5 % of 2,000 random vectors; in fact every one of them."""
    vectors = sample(study, np.random.default_rng(20), count=SECTIONS)
    outcomes: Counter[str] = Counter()
    for vector in vectors:
        try:
            machine = build(decode(study, vector), family=study.family)
        except InfeasibleDesignError as error:
            outcomes[error.reason] += 1
            continue
        one_pole = section(machine)
        assert all(r.area() > 0.0 for r in (*one_pole.rotor, *one_pole.stator))
        outcomes["valid"] += 1
    assert sum(outcomes.values()) == SECTIONS
    assert outcomes["valid"] > 0.7 * SECTIONS, dict(outcomes)


def test_evaluations_are_complete_and_balance(study: Study) -> None:
    """Warnings are errors in this suite, so a NumPy warning would fail here too."""
    vectors = sample(study, np.random.default_rng(21), count=EVALUATIONS)
    statuses: Counter[str] = Counter()
    for k, vector in enumerate(vectors):
        parameters = decode(study, vector)
        outcome = evaluate(parameters, study.duty, family=study.family)
        statuses[outcome.status] += 1
        if outcome.status != "ok":
            assert outcome.reason
            continue
        assert all(np.isfinite(v) for v in outcome.metrics.values())
        if k % 4 == 0:
            grid = perform_design(parameters, study.duty, family=study.family).grid
            shaft = grid.shaft_torque * grid.speed[:, None]
            rest = grid.terminal_power - shaft - grid.losses.total
            assert np.abs(rest).max() < 1e-9 * np.abs(grid.terminal_power).max()
    assert statuses["failed"] == 0
