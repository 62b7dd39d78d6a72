"""What a run has found so far, judged anew from the stored metrics."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from optim.ranking.binding import Stop, least_infeasible, what_stops
from optim.ranking.front import Candidate, Entry, front_table, ranked_front
from optim.ranking.preferences import Method
from optim.service.errors import SelectionError
from optim.store.contract import EvaluationRow, RunRecord, Store
from optim.study.judge import Judgement, judge
from optim.study.model import Study

LEAST_SHOWN = 5
"""Least infeasible designs kept when nothing is feasible."""


@dataclass(frozen=True)
class Counts:
    """How the evaluations of a run came out.

    Attributes
    ----------
    feasible, outside_limits, no_machine, failed : int
        Within every limit; a limit missed; no such machine; an error.
    reasons : mapping of str to int
        Named reasons of `no_machine` and `failed`, the most frequent first.
    """

    feasible: int
    outside_limits: int
    no_machine: int
    failed: int
    reasons: Mapping[str, int]

    @property
    def total(self) -> int:
        """All evaluations."""
        return self.feasible + self.outside_limits + self.no_machine + self.failed


@dataclass(frozen=True, eq=False)
class FrontResult:
    """The ranked front of a run under a study's aims.

    Attributes
    ----------
    run_id, state : str
        The run and its state.
    study : Study
        Aims that everything was judged by.
    method : {"weights", "goals", "knee"}
        How it is ranked.
    candidates : tuple of Candidate
        Best first; empty if nothing is feasible.
    counts : Counts
        How the evaluations came out.
    stops : tuple of Stop
        Which limits stop how many designs, the most stopping first.
    least : tuple of (Entry, Judgement)
        The least infeasible designs, only where nothing is feasible.
    """

    run_id: str
    state: str
    study: Study
    method: Method
    candidates: tuple[Candidate, ...]
    counts: Counts
    stops: tuple[Stop, ...]
    least: tuple[tuple[Entry, Judgement], ...]

    def table(self) -> pd.DataFrame:
        """Return the front as a table; see `optim.ranking.front.front_table`."""
        return front_table(self.study, self.candidates)


def entry_of(row: EvaluationRow) -> Entry:
    """Return a stored row as an entry of a front."""
    return Entry(row.number, row.parameters, row.evaluation)


def front_result(
    record: RunRecord, study: Study, entries: Iterable[Entry], *, method: Method | None = None
) -> FrontResult:
    """Judge and rank evaluated designs by a study.

    Parameters
    ----------
    record : RunRecord
        The run.
    study : Study
        Aims and preferences, which may differ from the run's own.
    entries : iterable of Entry
        Evaluated designs.
    method : {"weights", "goals", "knee"} or None
        How to rank; None takes goals if the study has some, else weights.
    """
    kept = tuple(entries)
    judged = [(e, judge(study, e.evaluation, e.parameters)) for e in kept]
    candidates = tuple(ranked_front(study, kept, method=method))
    least: tuple[tuple[Entry, Judgement], ...] = ()
    if not candidates:
        by_number = {e.number: (e, j) for e, j in judged}
        nearest = least_infeasible([(e.number, j) for e, j in judged], count=LEAST_SHOWN)
        least = tuple(by_number[number] for number in nearest)
    return FrontResult(
        run_id=record.run_id,
        state=record.state,
        study=study,
        method=method or ("goals" if study.preferences.goals else "weights"),
        candidates=candidates,
        counts=_counts(judged),
        stops=what_stops(study, [j for _, j in judged]),
        least=least,
    )


def read_front(
    store: Store, record: RunRecord, study: Study, *, method: Method | None = None
) -> FrontResult:
    """Return the ranked front of a stored run; see `front_result`."""
    rows = (entry_of(row) for row in store.rows(record.run_id))
    return front_result(record, study, rows, method=method)


def pick(front: FrontResult, number: int | None = None) -> Candidate:
    """Return a candidate of a front.

    Parameters
    ----------
    front : FrontResult
        The front.
    number : int or None
        Number of the candidate in its run; None for the best ranked.

    Raises
    ------
    SelectionError
        If the front is empty or does not hold that candidate.
    """
    if not front.candidates:
        raise SelectionError(
            f"run {front.run_id} has no feasible design, so nothing can be picked; "
            f"'paretorque front {front.run_id}' shows which limits stop it"
        )
    if number is None:
        return front.candidates[0]
    found = next((c for c in front.candidates if c.number == number), None)
    if found is None:
        best = ", ".join(str(c.number) for c in front.candidates[:8])
        raise SelectionError(
            f"candidate {number} is not on the front of run {front.run_id}; allowed: one of "
            f"{len(front.candidates)}, best first {best}"
        )
    return found


def _counts(judged: list[tuple[Entry, Judgement]]) -> Counts:
    statuses = Counter(j.status if j.status != "ok" else str(j.is_feasible) for _, j in judged)
    reasons = Counter(e.evaluation.reason for e, _ in judged if e.evaluation.status != "ok")
    return Counts(
        feasible=statuses["True"],
        outside_limits=statuses["False"],
        no_machine=statuses["infeasible"],
        failed=statuses["failed"],
        reasons=dict(reasons.most_common()),
    )
