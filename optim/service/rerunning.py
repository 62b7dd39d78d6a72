"""Running a study again under other aims: what is known is judged anew before anything is run."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from optim.ranking.binding import least_infeasible
from optim.ranking.front import Entry
from optim.service.errors import RequestError
from optim.service.results import FrontResult, front_result
from optim.service.run_store import study_of
from optim.service.running import begin, with_search
from optim.store.contract import RunRecord, Store
from optim.store.errors import UnknownRunError
from optim.study.change import with_changes
from optim.study.judge import judge
from optim.study.model import Study


@dataclass(frozen=True, eq=False)
class RerunPlan:
    """A rerun before it begins.

    Attributes
    ----------
    parent : RunRecord
        The run it follows.
    study : Study
        With the changed aims; its budget counts the designs to begin with on top.
    known : FrontResult
        Front of all earlier evaluations under the changed aims.
    sources : mapping of int to (str, int)
        Run and candidate number behind each number in `known`.
    starts : mapping of run id to candidate numbers
        Designs that the rerun begins with; none is evaluated again.
    """

    parent: RunRecord
    study: Study
    known: FrontResult
    sources: Mapping[int, tuple[str, int]]
    starts: Mapping[str, tuple[int, ...]]

    @property
    def start_count(self) -> int:
        """How many designs the rerun begins with."""
        return sum(len(numbers) for numbers in self.starts.values())


def plan_rerun(
    store: Store,
    parent: RunRecord,
    *,
    limits: Sequence[str] = (),
    objectives: Sequence[str] = (),
    prices: Mapping[str, float] | None = None,
    budget: int | None = None,
    seed: int | None = None,
    allow_looser: bool = False,
) -> RerunPlan:
    """Judge all earlier evaluations of a run and its ancestors by changed aims.

    Parameters
    ----------
    store : Store
        Holds the runs.
    parent : RunRecord
        The run to follow.
    limits, objectives, prices, allow_looser
        See `optim.study.change.with_changes`.
    budget, seed : int or None
        New evaluations to make and random seed; None for those of the study.

    Returns
    -------
    RerunPlan
        Nothing has been stored or evaluated yet.

    Raises
    ------
    StudyError, RequestError
        For changes that are not allowed, or none.
    """
    if not (limits or objectives or prices or budget is not None or seed is not None):
        raise RequestError(
            "rerun: given no change; allowed: at least one of --limit, --objective, --price, "
            "--budget, --seed"
        )
    old = study_of(parent)
    changed = with_changes(
        old, limits=limits, objectives=objectives, prices=prices, allow_looser=allow_looser
    )
    # The text holds the study file's own search settings, the run may have begun with others.
    study = replace(changed, search=replace(old.search, budget=_own_budget(parent, old)))
    study = with_search(study, seed=seed, budget=budget)
    entries, sources = known_entries(store, parent)
    known = front_result(parent, study, entries)
    starts = _starts(study, entries, sources, known)
    total = study.search.budget + sum(len(numbers) for numbers in starts.values())
    study = replace(study, search=replace(study.search, budget=total))
    return RerunPlan(parent, study, known, sources, starts)


def begin_rerun(store: Store, plan: RerunPlan) -> RunRecord:
    """Add the rerun to the store."""
    return begin(store, plan.study, parent=plan.parent.run_id, starts=plan.starts)


def known_entries(
    store: Store, record: RunRecord
) -> tuple[list[Entry], dict[int, tuple[str, int]]]:
    """Return every different design of a run and its ancestors with its source.

    Designs of the run itself keep their numbers, those of ancestors get numbers above them.
    """
    entries: list[Entry] = []
    sources: dict[int, tuple[str, int]] = {}
    keys: set[str] = set()
    for run in _lineage(store, record):
        above = max(sources, default=-1) + 1
        for row in store.rows(run.run_id):
            if row.key in keys or row.evaluation.status == "failed":
                continue
            keys.add(row.key)
            number = row.number if run is record else above + row.number
            entries.append(Entry(number, row.parameters, row.evaluation))
            sources[number] = (run.run_id, row.number)
    return entries, sources


def _lineage(store: Store, record: RunRecord) -> list[RunRecord]:
    line = [record]
    while line[-1].parent:
        try:
            line.append(store.run(line[-1].parent))
        except UnknownRunError:
            break
    return line


def _own_budget(parent: RunRecord, study: Study) -> int:
    """Return the parent's budget without the designs that it began with itself."""
    text = str(parent.settings.get("starts") or "")
    started = sum(len(part.partition(":")[2].split(",")) for part in text.split(";")) if text else 0
    return max(4, study.search.budget - started)


def _starts(
    study: Study,
    entries: Sequence[Entry],
    sources: Mapping[int, tuple[str, int]],
    known: FrontResult,
) -> dict[str, tuple[int, ...]]:
    """Choose what to begin with: the whole front, filled up to a population.

    Dominated feasible designs come next, then the least infeasible.
    """
    chosen = [c.number for c in known.candidates]
    wanted = study.search.population
    if len(chosen) < wanted:
        taken = set(chosen)
        others = [
            (e.number, judge(study, e.evaluation, e.parameters))
            for e in entries
            if e.number not in taken
        ]
        chosen += least_infeasible(others, count=wanted - len(chosen))
    by_run: dict[str, list[int]] = {}
    for number in chosen:
        run_id, own = sources[number]
        by_run.setdefault(run_id, []).append(own)
    return {run_id: tuple(sorted(numbers)) for run_id, numbers in by_run.items()}


def source_counts(plan: RerunPlan) -> Counter[str]:
    """Return how many of the known designs come from which run."""
    return Counter(run_id for run_id, _ in plan.sources.values())
