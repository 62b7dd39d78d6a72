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

STUDY = Path(__file__).parents[2] / "studies" / "island-post-van.toml"
SECTIONS, EVALUATIONS = 2000, 40
SHAPES = ("round", "drop", "rectangular", "deep")


@pytest.fixture(scope="module")
def duty() -> Duty:
    return load(STUDY).duty


def random_design(rng: np.random.Generator) -> dict[str, float | int | str]:
    poles = int(rng.choice([4, 6, 8]))
    return {
        "poles": poles,
        "slots": poles * 3 * int(rng.integers(2, 5)),
        "parallel_paths": int(rng.choice([1, 2])),
        "turns_per_coil": int(rng.integers(2, 5)),
        "stack_length": rng.uniform(0.08, 0.2),
        "bore_ratio": rng.uniform(0.5, 0.72),
        "slot_depth_ratio": rng.uniform(0.4, 0.65),
        "tooth_width_ratio": rng.uniform(0.42, 0.6),
        "air_gap": rng.uniform(0.4e-3, 1.0e-3),
        "shaft_ratio": rng.uniform(0.25, 0.45),
        "bars": int(rng.integers(20, 90)),
        "bar_shape": SHAPES[int(rng.integers(4))],
        "bar_width_ratio": rng.uniform(0.3, 0.65),
        "bar_depth_ratio": rng.uniform(0.15, 0.5),
        "rotor_slot_opening": float(rng.choice([0.0, 1.0, 2.0])) * 1e-3,
        "rotor_bridge_height": rng.uniform(0.4e-3, 1.5e-3),
        "ring_width": rng.uniform(5e-3, 25e-3),
        "skew_slots": float(rng.choice([0.0, 1.0])),
        "cage_material": str(rng.choice(["copper", "aluminium"])),
    }


def test_cage_sections_are_valid_or_named() -> None:
    """Every one of 2,000 random vectors (99.5 % are asked)."""
    rng = np.random.default_rng(40)
    outcomes: Counter[str] = Counter()
    for _ in range(SECTIONS):
        try:
            machine = build(random_design(rng), family="cage")
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
        parameters = random_design(rng)
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
