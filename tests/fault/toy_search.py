"""A small search with controllable trouble, shared by the tests of store, dispatcher and driver."""

import os
import signal
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256
from pathlib import Path

import numpy as np

from models.evaluation import Evaluation
from optim.jobs.plan import DesignFunctions
from optim.store.contract import EvaluationRow
from optim.study.judge import Judgement

GRID = 120
N_VARIABLES = 3


@dataclass
class ToySearcher:
    """A steady-state search whose every vector depends on all it has been told before.

    Designs lie on a coarse grid, so that repeated designs occur.
    """

    seed: int = 1
    calls: list[tuple[str, int]] = field(default_factory=list)
    digest: bytes = b""
    parents: list[tuple[float, tuple[float, ...]]] = field(default_factory=list)

    def ask(self, number):
        self.calls.append(("ask", number))
        state = int.from_bytes(sha256(self.digest).digest()[:8], "little")
        rng = np.random.default_rng(
            np.random.SeedSequence(self.seed, spawn_key=(number, state % 2**32))
        )
        if len(self.parents) < 10:
            return np.round(rng.uniform(0.0, GRID, N_VARIABLES))
        parent = np.array(self.parents[int(rng.integers(10))][1])
        return np.clip(np.round(parent + rng.normal(0.0, 4.0, N_VARIABLES)), 0.0, GRID)

    def tell(self, number, vector, judgement):
        self.calls.append(("tell", number))
        objectives = judgement.objectives
        told = b"none" if objectives is None else objectives.tobytes()
        self.digest = sha256(self.digest + vector.tobytes() + told).digest()
        if objectives is not None:
            self.parents.append((float(objectives.sum()), tuple(vector)))
            self.parents = sorted(self.parents)[:30]


def decode(vector):
    return {f"x{i}": float(v) for i, v in enumerate(vector)}


def key(parameters):
    return sha256(repr(sorted(parameters.items())).encode()).hexdigest()


def judge(evaluation, parameters):
    if evaluation.status != "ok":
        return Judgement(None, None, False, evaluation.status)
    metrics = evaluation.metrics
    violation = max(0.0, metrics["magnet_mass"] - 1.8)
    return Judgement(
        np.array([metrics["magnet_mass"], -metrics["peak_torque"]]),
        np.array([violation]),
        violation == 0.0,
        "ok",
    )


FUNCTIONS = DesignFunctions(decode=decode, key=key, judge=judge)


def metrics_of(parameters: Mapping[str, float]) -> dict[str, float]:
    x = np.array([parameters[f"x{i}"] for i in range(N_VARIABLES)]) / GRID
    return {
        "magnet_mass": float(0.5 + x[0] ** 2 + x[1] / 3.0),
        "peak_torque": float(100.0 * x[0] + 70.0 * np.sqrt(x[1]) - 40.0 * (x[2] - 0.3) ** 2),
    }


def design_share(parameters: Mapping[str, float]) -> float:
    """A fixed number in [0, 1) for a design."""
    return int(key(parameters)[:8], 16) / 2**32


def evaluate(
    parameters: Mapping[str, float],
    *,
    mean_seconds: float = 0.0,
    poison: Callable[[Mapping[str, float]], bool] | None = None,
    hang: Callable[[Mapping[str, float]], bool] | None = None,
    log: str = "",
) -> Evaluation:
    """Some designs fail, some cannot exist, the rest have two metrics; takes its time."""
    if log:
        # One file per design and process: counts real evaluations without any locking.
        with Path(log, f"{key(parameters)[:16]}.{os.getpid()}").open("a") as file:
            file.write("x")
    share = design_share(parameters)
    if mean_seconds:
        time.sleep(mean_seconds * (0.2 + 1.6 * share))
    if poison is not None and poison(parameters):
        os.kill(os.getpid(), signal.SIGKILL)
    if hang is not None and hang(parameters):
        time.sleep(1000.0)
    if share < 0.05:
        raise ArithmeticError("no solution at this point")
    if share < 0.15:
        return Evaluation("infeasible", "circuit", reason="magnet_too_short", message="too short")
    return Evaluation("ok", "circuit", metrics_of(parameters))


def with_trouble(**trouble) -> Callable[[Mapping[str, float]], Evaluation]:
    return partial(evaluate, **trouble)


def share_between(low: float, high: float, parameters: Mapping[str, float]) -> bool:
    return low <= design_share(parameters) < high


def content(row: EvaluationRow) -> tuple:
    """What of a row must not depend on the machine or the course of the run."""
    outcome = row.evaluation
    return (
        row.number, row.key, row.vector.tobytes(), tuple(row.parameters.items()), outcome.status,
        outcome.model, outcome.reason, tuple(outcome.metrics.items()), row.origin,
    )  # fmt: skip


def contents(store, run_id: str) -> list[tuple]:
    return [content(row) for row in store.rows(run_id)]


def front(store, run_id: str) -> list[tuple[float, ...]]:
    """The non-dominated feasible objective vectors of the stored rows, by brute force."""
    points = []
    for row in store.rows(run_id):
        judgement = judge(row.evaluation, row.parameters)
        if judgement.is_feasible:
            points.append(tuple(judgement.objectives))
    unique = sorted(set(points))
    return [
        p for p in unique
        if not any(q != p and all(a <= b for a, b in zip(q, p)) for q in unique)
    ]  # fmt: skip
