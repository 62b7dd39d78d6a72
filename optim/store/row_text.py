"""Rows as columns of text, numbers and bytes, and back, without losing a bit."""

import json
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, cast

import numpy as np

from models.evaluation import Evaluation, Status
from models.machine import ParameterValue
from optim.store.contract import EvaluationRow, Note, Origin
from optim.store.errors import StoreDamagedError

COLUMNS = (
    "number",
    "key",
    "vector",
    "parameters",
    "status",
    "model",
    "reason",
    "message",
    "metrics",
    "seconds",
    "worker",
    "origin",
)

EVALUATION_COLUMNS = COLUMNS[4:9]


def to_json(values: Mapping[str, Any]) -> str:
    """Return a mapping as JSON text with shortest round-trip floats.

    Raises
    ------
    ValueError
        If a number is not finite: nothing of the kind may reach the store.
    """
    return json.dumps(
        {name: plain(value) for name, value in values.items()},
        allow_nan=False,
        separators=(",", ":"),
        ensure_ascii=False,
    )


def plain(value: Any) -> Any:
    """Return a NumPy scalar as the Python number it holds, anything else as it is."""
    return value.item() if isinstance(value, np.generic) else value


def to_columns(row: EvaluationRow) -> tuple[Any, ...]:
    """Return a row's values in the order of `COLUMNS`."""
    evaluation = row.evaluation
    return (
        int(row.number),
        row.key,
        np.ascontiguousarray(row.vector, dtype="<f8").tobytes(),
        to_json(row.parameters),
        evaluation.status,
        evaluation.model,
        evaluation.reason,
        evaluation.message,
        to_json(evaluation.metrics),
        float(row.seconds),
        row.worker,
        row.origin,
    )


def from_columns(values: tuple[Any, ...], sequence: int) -> EvaluationRow:
    """Return the row that `to_columns` wrote.

    Raises
    ------
    StoreDamagedError
        If the values do not form a row.
    """
    number, key, vector, parameters = values[:4]
    seconds, worker, origin = values[9:]
    evaluation = evaluation_from_columns(values[4:9])
    try:
        table: Mapping[str, ParameterValue] = MappingProxyType(json.loads(parameters))
        array = np.frombuffer(vector, dtype="<f8").astype(np.float64)
    except (TypeError, ValueError) as error:
        raise StoreDamagedError(
            f"row of candidate {number}: its columns cannot be read ({error}); restore the store "
            "from a copy, or start the run anew"
        ) from error
    return EvaluationRow(
        number=number,
        key=key,
        vector=array,
        parameters=table,
        evaluation=evaluation,
        seconds=seconds,
        worker=worker,
        origin=cast(Origin, origin),
        sequence=sequence,
    )


def evaluation_from_columns(values: tuple[Any, ...]) -> Evaluation:
    """Return the evaluation in the columns of `EVALUATION_COLUMNS`.

    Raises
    ------
    StoreDamagedError
        If the values do not form an evaluation.
    """
    status, model, reason, message, metrics = values
    try:
        table = MappingProxyType(json.loads(metrics))
    except (TypeError, ValueError) as error:
        raise StoreDamagedError(
            f"metrics of an evaluation cannot be read ({error}); restore the store from a copy"
        ) from error
    return Evaluation(cast(Status, status), model, table, reason, message)


def notes_from_json(text: str) -> Mapping[str, Note]:
    """Return settings or notes from their JSON text."""
    return MappingProxyType(json.loads(text))
