"""What every store of runs and evaluations does, whatever it writes to.

A store keeps raw metrics, not limit violations: a tighter study judges the stored rows again and
evaluates nothing twice. Rows are only ever added.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from models.evaluation import Evaluation
from models.machine import ParameterValue

Origin = Literal["evaluated", "repeated", "reused"]
StopRequest = Literal["", "interrupt", "cancel"]
Note = str | int | float | bool | None


@dataclass(frozen=True, eq=False)
class EvaluationRow:
    """One candidate of a run with its outcome.

    Attributes
    ----------
    number : int
        Number of the candidate in its run, from 0.
    key : str
        Key of the design: equal keys give equal metrics.
    vector : ndarray, shape (n_variables,)
        Design vector, kept bit by bit.
    parameters : mapping
        Full parameter table (SI).
    evaluation : Evaluation
        Outcome with raw metrics (SI).
    seconds : float
        Time the evaluation took on its worker [s]; 0 unless evaluated for this row.
    worker : str
        Name of the worker, empty unless evaluated for this row.
    origin : {"evaluated", "repeated", "reused"}
        Evaluated for this row; repeats a design of this run; taken from an earlier run.
    sequence : int
        Place in the order of commits, given by the store, rising within a run. 0 before that.
    """

    number: int
    key: str
    vector: NDArray[np.float64]
    parameters: Mapping[str, ParameterValue]
    evaluation: Evaluation
    seconds: float = 0.0
    worker: str = ""
    origin: Origin = "evaluated"
    sequence: int = 0


@dataclass(frozen=True)
class KnownDesign:
    """What the store knows of a design: its outcome, and whether it is of the run that asks."""

    evaluation: Evaluation
    is_own: bool


@dataclass(frozen=True)
class AskRecord:
    """When a candidate was asked for: after how many results had been told (free order only)."""

    number: int
    told: int


@dataclass(frozen=True)
class RunRecord:
    """What the store knows of a run apart from its rows.

    Attributes
    ----------
    run_id : str
        Short unique id (letters, digits, hyphens).
    study_name : str
        Name of the study.
    study_text : str
        The study file as given.
    state : str
        State of `optim.jobs.states`.
    reason : str
        Why the run is in its state, one sentence; may be empty.
    created, heartbeat : float
        Unix times [s]; heartbeat is 0 until a driver has written one.
    elapsed : float
        Driving time so far over all sessions [s].
    stop_request : {"", "interrupt", "cancel"}
        What another process has asked the driver to do.
    parent : str
        Run of which this is a rerun, or empty.
    settings : mapping
        What the driver must find again on resume (lag, budget, seed, order).
    notes : mapping
        Free notes by name.
    """

    run_id: str
    study_name: str
    study_text: str
    state: str = "queued"
    reason: str = ""
    created: float = 0.0
    heartbeat: float = 0.0
    elapsed: float = 0.0
    stop_request: StopRequest = ""
    parent: str = ""
    settings: Mapping[str, Note] = field(default_factory=dict)
    notes: Mapping[str, Note] = field(default_factory=dict)


class Store(Protocol):
    """Runs and their rows. Every method may raise a `StoreError`."""

    def create_run(
        self,
        study_name: str,
        study_text: str,
        *,
        run_id: str = "",
        settings: Mapping[str, Note] | None = None,
        parent: str = "",
    ) -> RunRecord:
        """Add a run in state `queued`; an empty id is replaced by a new one."""

    def run(self, run_id: str) -> RunRecord:
        """Return a run. Raises `UnknownRunError`."""

    def runs(self) -> tuple[RunRecord, ...]:
        """Return all runs, oldest first."""

    def append(
        self, run_id: str, rows: Sequence[EvaluationRow], *, asks: Sequence[AskRecord] = ()
    ) -> None:
        """Commit rows, and the order of asking if it is recorded, all or none.

        When this returns the rows survive the end of the process. A number that the run has
        already is refused with a `StoreError`: each candidate counts once.
        """

    def rows(self, run_id: str, *, since: int = 0) -> Iterator[EvaluationRow]:
        """Yield the rows with number >= `since` by number, in small portions."""

    def rows_after(self, run_id: str, sequence: int) -> Iterator[EvaluationRow]:
        """Yield the rows committed after `sequence` in the order of commits."""

    def asks(self, run_id: str) -> Iterator[AskRecord]:
        """Yield the recorded order of asking by number."""

    def count(self, run_id: str) -> int:
        """Return how many rows the run has."""

    def numbers(self, run_id: str) -> frozenset[int]:
        """Return the numbers of the candidates that the run has."""

    def find(self, key: str, *, run_id: str) -> KnownDesign | None:
        """Return what is known of a design, or None.

        A row of the run itself comes first, whatever its status, so that a repeated design has
        one outcome within a run. Of other runs only `ok` and `infeasible` rows count: what
        failed there (a time limit, a lost worker) is tried again.
        """

    def change_state(self, run_id: str, before: str, after: str, *, reason: str = "") -> None:
        """Change the state if it is still `before`, and clear any request to stop.

        Raises `StaleStateError` otherwise.
        """

    def heartbeat(self, run_id: str, *, elapsed: float) -> StopRequest:
        """Record that the driver lives and its driving time [s]; return any request to stop."""

    def request_stop(self, run_id: str, wish: StopRequest) -> None:
        """Ask the driver of a run to stop, from any process."""

    def note(self, run_id: str, name: str, value: Note) -> None:
        """Keep a note with a run, replacing an earlier one of that name."""

    def hold(self, run_id: str) -> AbstractContextManager[None]:
        """Keep others from driving the run while the context lasts.

        The hold ends with the process, however it ends. Raises `RunHeldError` when another
        process has it.
        """

    def close(self) -> None:
        """Release the store."""
