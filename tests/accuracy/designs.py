"""Feasible designs of a study, from all that a search meets rather than from its front alone."""

from collections.abc import Mapping, Sequence
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from models.machine import ParameterValue
from optim.service.run_store import open_store
from optim.service.running import evaluator, run
from optim.store.contract import EvaluationRow
from optim.study.judge import judge
from optim.study.model import Study
from optim.study.space import bounds, canonical, decode

SEARCHED = 1500
"""Evaluations of the search whose feasible designs are drawn from."""
STEP = 0.05
"""Standard deviation of a perturbation in parts of a variable's range."""


def feasible_designs(
    study: Study, *, count: int, seed: int, searched: int = SEARCHED
) -> list[Mapping[str, ParameterValue]]:
    """Return designs that the circuit model calls feasible.

    Half are drawn without repeats from all feasible evaluations of a search of the study; the
    other half are such evaluations with every real variable moved at random, kept if the circuit
    model still calls them feasible.
    """
    generator = np.random.default_rng(seed)
    rows = _feasible_rows(study, searched)
    drawn = min(count // 2, len(rows))
    picked = generator.choice(len(rows), size=drawn, replace=False)
    out = [rows[k].parameters for k in picked]
    vectors = [row.vector for row in rows]
    return out + perturbed_designs(study, vectors, count=count - drawn, generator=generator)


def perturbed_designs(
    study: Study,
    parents: Sequence[NDArray[np.float64]],
    *,
    count: int,
    generator: np.random.Generator,
) -> list[Mapping[str, ParameterValue]]:
    """Return feasible designs beside randomly chosen parents: every real variable is moved."""
    out: list[Mapping[str, ParameterValue]] = []
    evaluate = evaluator(study)
    low, high = bounds(study)
    is_real = np.array([v.kind == "real" for v in study.variables])
    while len(out) < count:
        parent = parents[int(generator.integers(len(parents)))]
        step = np.where(is_real, STEP * (high - low) * generator.standard_normal(len(low)), 0.0)
        parameters = decode(study, canonical(study, parent + step))
        if judge(study, evaluate(parameters), parameters).is_feasible:
            out.append(parameters)
    return out


def _feasible_rows(study: Study, searched: int) -> list[EvaluationRow]:
    with TemporaryDirectory() as folder:
        path = f"{folder}/search.sqlite"
        # The rows do not depend on the number of workers.
        result = run(study, budget=searched, store=path)
        with open_store(path) as store:
            rows = [
                row for row in store.rows(result.run_id)
                if row.origin == "evaluated"
                and judge(study, row.evaluation, row.parameters).is_feasible
            ]  # fmt: skip
    if not rows:
        raise ValueError(f"a search of {searched} evaluations found nothing feasible; allow more")
    return rows
