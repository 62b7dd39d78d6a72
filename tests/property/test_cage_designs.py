"""Random cage machines: valid, or impossible for a named reason; energy balances."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from models.duty import Duty
from models.errors import InfeasibleDesignError
from models.evaluate import evaluate, perform_design
from models.geometry.build import build, section
from models.nomenclature import family_metrics
from optim.study.load import load
from tests.cage_designs import cage_design

STUDY = Path(__file__).parents[2] / "studies" / "island-post-van.toml"
SECTIONS, EVALUATIONS = 2000, 40


@pytest.fixture(scope="module")
def duty() -> Duty:
    return load(STUDY).duty


def test_cage_sections_are_valid_or_named() -> None:
    """Every one of 2,000 random vectors (99.5 % are asked)."""
    rng = np.random.default_rng(40)
    outcomes: Counter[str] = Counter()
    for _ in range(SECTIONS):
        try:
            machine = build(cage_design(rng), family="cage")
        except InfeasibleDesignError as error:
            outcomes[error.reason] += 1
            continue
        drawn = section(machine)
        assert all(r.area() > 0.0 for r in (*drawn.rotor, *drawn.stator))
        outcomes["valid"] += 1
    assert sum(outcomes.values()) == SECTIONS
    assert outcomes["valid"] > 0.5 * SECTIONS, dict(outcomes)


def test_cage_evaluations_are_complete_and_balance(duty: Duty) -> None:
    """All metrics of the family, finite; terminal power is shaft power plus all losses."""
    rng = np.random.default_rng(41)
    statuses: Counter[str] = Counter()
    expected = set(family_metrics("cage"))
    for k in range(EVALUATIONS):
        parameters = cage_design(rng)
        outcome = evaluate(parameters, duty, family="cage")
        statuses[outcome.status] += 1
        if outcome.status != "ok":
            assert outcome.reason, outcome
            assert outcome.status == "infeasible", outcome.message
            continue
        assert set(outcome.metrics) <= expected
        assert outcome.metrics["cycle_loss_cage"] > 0.0
        assert outcome.metrics["open_circuit_flux"] == pytest.approx(0.0, abs=1e-9)
        if k % 4 == 0:
            grid = perform_design(parameters, duty, family="cage").grid
            shaft = grid.shaft_torque * grid.speed[:, None]
            rest = grid.terminal_power - shaft - grid.losses.total
            assert np.abs(rest).max() < 1e-9 * np.abs(grid.terminal_power).max()
            assert grid.losses.cage.min() >= 0.0
    assert statuses["ok"] >= 0.4 * EVALUATIONS, dict(statuses)
