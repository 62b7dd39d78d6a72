"""Random rotors with layers of barriers: valid, or impossible for a named reason."""

from collections import Counter

import numpy as np
import pytest

from models.errors import InfeasibleDesignError
from models.evaluate import evaluate
from models.field.domain import mesh_section
from models.geometry.build import build, section
from tests.export_case import DUTY
from tests.layered_designs import KINDS, design_of

SECTIONS = 250
MESHED = 12
EVALUATED = 12


@pytest.mark.parametrize("kind", KINDS)
def test_sections_are_valid_or_named(kind: str) -> None:
    generator = np.random.default_rng(77)
    outcomes: Counter[str] = Counter()
    for _ in range(SECTIONS):
        family, parameters = design_of(kind, generator)
        try:
            machine = build(parameters, family=family)
        except InfeasibleDesignError as error:
            outcomes[error.reason] += 1
            continue
        one_pole = section(machine)
        assert all(r.area() > 0.0 for r in (*one_pole.rotor, *one_pole.stator))
        if outcomes["valid"] < MESHED:
            mesh_section(one_pole)  # raises where edges cross, overlap or leave a hole
        outcomes["valid"] += 1
    assert sum(outcomes.values()) == SECTIONS
    assert outcomes["valid"] > 0.5 * SECTIONS, dict(outcomes)


@pytest.mark.parametrize("kind", KINDS)
def test_evaluations_are_complete(kind: str) -> None:
    generator = np.random.default_rng(78)
    statuses: Counter[str] = Counter()
    for _ in range(EVALUATED):
        family, parameters = design_of(kind, generator)
        outcome = evaluate(parameters, DUTY, family=family)
        statuses[outcome.status] += 1
        assert outcome.status != "failed", outcome.message
        if outcome.status == "infeasible":
            assert outcome.reason
            continue
        assert all(np.isfinite(v) for v in outcome.metrics.values())
        has_magnets = outcome.metrics["magnet_mass"] > 0.0
        assert has_magnets == (kind != "reluctance")
        assert (outcome.metrics["back_emf_line_peak"] > 0.0) == has_magnets
    assert statuses["ok"] > 0.5 * EVALUATED, dict(statuses)
