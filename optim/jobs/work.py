"""What a worker does: evaluate a batch of designs and send plain values back.

Nothing here needs a cluster; the in-process dispatcher uses the same code.
"""

import math
import os
import pickle
import platform
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from models import PHYSICS_VERSION
from models.evaluation import Evaluation
from models.machine import ParameterValue

Evaluate = Callable[[Mapping[str, ParameterValue]], Evaluation]


@dataclass(frozen=True)
class Outcome:
    """What came of one submitted design.

    Attributes
    ----------
    number : int
        Number under which the design was submitted.
    evaluation : Evaluation
        The outcome; an error or a lost worker is a `failed` one.
    seconds : float
        Time on the worker [s].
    worker : str
        Name of the worker.
    """

    number: int
    evaluation: Evaluation
    seconds: float
    worker: str


@dataclass(frozen=True)
class PlainOutcome:
    """An outcome in plain types, as it travels."""

    number: int
    status: Any
    model: str
    metrics: dict[str, float]
    reason: str
    message: str
    seconds: float
    worker: str

    def outcome(self) -> Outcome:
        """Return the outcome for use."""
        metrics = MappingProxyType(self.metrics)
        evaluation = Evaluation(self.status, self.model, metrics, self.reason, self.message)
        return Outcome(self.number, evaluation, self.seconds, self.worker)


def failed(reason: str, message: str) -> Evaluation:
    """Return a failed evaluation for which no model can speak."""
    return Evaluation(status="failed", model="", reason=reason, message=message)


def evaluate_one(
    evaluate: Evaluate, number: int, parameters: Mapping[str, ParameterValue]
) -> PlainOutcome:
    """Evaluate one design; an error becomes a `failed` outcome with its text.

    An outcome that is `ok` but holds a number that is not finite is `failed` with reason
    `non_finite_metric`: such a number must reach neither the store nor the search.
    """
    begin = time.perf_counter()
    try:
        evaluation = evaluate(parameters)
        metrics = {name: float(value) for name, value in evaluation.metrics.items()}
    except MemoryError as error:
        evaluation, metrics = failed("out_of_memory", str(error) or "memory ran out"), {}
    except (Exception, SystemExit) as error:  # every error of a model is a row with its reason
        evaluation, metrics = failed("error", f"{type(error).__name__}: {error}"), {}
    bad = [name for name, value in metrics.items() if not math.isfinite(value)]
    if bad:
        evaluation = failed("non_finite_metric", f"not finite: {', '.join(sorted(bad))}")
        metrics = {}
    return PlainOutcome(
        number=number,
        status=evaluation.status,
        model=evaluation.model,
        metrics=metrics,
        reason=evaluation.reason,
        message=evaluation.message,
        seconds=time.perf_counter() - begin,
        worker=f"{platform.node()}:{os.getpid()}",
    )


def evaluate_batch(
    packed: bytes, batch: Sequence[tuple[int, Mapping[str, ParameterValue]]], physics: int
) -> list[PlainOutcome]:
    """Evaluate designs one after another with a pickled evaluation function.

    Raises
    ------
    RuntimeError
        If the worker has another version of the physics than the driver: its metrics would be
        stored under keys that are not theirs.
    """
    if physics != PHYSICS_VERSION:
        raise RuntimeError(f"physics version {PHYSICS_VERSION} here, {physics} at the driver")
    evaluate = _unpacked(packed)
    return [evaluate_one(evaluate, number, parameters) for number, parameters in batch]


@lru_cache(maxsize=4)
def _unpacked(packed: bytes) -> Evaluate:
    # A worker meets the same function in every batch; unpickling a study each time costs more
    # than the batch's transport.
    evaluate: Evaluate = pickle.loads(packed)
    return evaluate
