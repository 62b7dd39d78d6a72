"""Rows and runs as plain data for sending, to the last bit, and back."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from models.evaluation import Evaluation
from optim.store.contract import EvaluationRow, RunRecord
from optim.store.errors import StoreDamagedError
from optim.store.row_text import plain


def row_entries(row: EvaluationRow) -> dict[str, Any]:
    """Return a row as entries of a document; floats keep every bit in shortest decimal form."""
    evaluation = row.evaluation
    return {
        "number": int(row.number),
        "key": row.key,
        "vector": np.ascontiguousarray(row.vector, dtype="<f8").tobytes().hex(),
        "parameters": {name: plain(value) for name, value in row.parameters.items()},
        "status": evaluation.status,
        "model": evaluation.model,
        "reason": evaluation.reason,
        "message": evaluation.message,
        "metrics": {name: plain(value) for name, value in evaluation.metrics.items()},
        "seconds": float(row.seconds),
        "worker": row.worker,
        "origin": row.origin,
        "sequence": row.sequence,
    }


def row_from_entries(entries: Mapping[str, Any]) -> EvaluationRow:
    """Return the row that `row_entries` wrote.

    Raises
    ------
    StoreDamagedError
        If the entries do not form a row.
    """
    try:
        return EvaluationRow(
            number=int(entries["number"]),
            key=str(entries["key"]),
            vector=np.frombuffer(bytes.fromhex(entries["vector"]), dtype="<f8").astype(np.float64),
            parameters=dict(entries["parameters"]),
            evaluation=Evaluation(
                entries["status"],
                str(entries["model"]),
                dict(entries["metrics"]),
                str(entries["reason"]),
                str(entries["message"]),
            ),
            seconds=float(entries["seconds"]),
            worker=str(entries["worker"]),
            origin=entries["origin"],
            sequence=int(entries["sequence"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise StoreDamagedError(
            f"a row as sent cannot be read ({type(error).__name__}: {error}); are both ends of "
            "the same version?"
        ) from error


def run_entries(record: RunRecord) -> dict[str, Any]:
    """Return a run as entries of a document."""
    entries = {field.name: getattr(record, field.name) for field in fields(record)}
    return {**entries, "settings": dict(record.settings), "notes": dict(record.notes)}


def run_from_entries(entries: Mapping[str, Any]) -> RunRecord:
    """Return the run that `run_entries` wrote; entries of later versions are left out.

    Raises
    ------
    StoreDamagedError
        If the entries do not form a run.
    """
    names = {field.name for field in fields(RunRecord)}
    try:
        return RunRecord(**{name: entries[name] for name in names & entries.keys()})
    except TypeError as error:
        raise StoreDamagedError(f"a run as sent cannot be read ({error})") from error
