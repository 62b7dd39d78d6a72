"""What is known of a run, read from the store once however many look at it."""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from models.nomenclature import METRICS
from optim.jobs.progress import Progress, Tally
from optim.ranking.archive import Archive
from optim.ranking.front import Entry
from optim.ranking.preferences import Method
from optim.service.documents import Document, document, metric_entries, parameter_shown
from optim.service.errors import RequestError
from optim.service.observer import FrontObserver
from optim.service.results import FrontResult, front_result
from optim.service.run_store import study_of
from optim.store.contract import RunRecord, Store
from optim.study.change import limit_text
from optim.study.families import family_of, varied_parameters
from optim.study.judge import Judgement, judge, needed_metrics, priced_metrics
from optim.study.model import Study

Outcome = Literal["feasible", "infeasible", "no_machine", "failed"]

KEPT_ROWS = 100_000
"""Rows of all runs together that are kept in memory; runs longest unseen go first."""
OBJECTIVES = "objectives"
"""Stands for the metrics of objectives and limits."""
EVERY = "all"
"""Stands for every metric."""


@dataclass(frozen=True, eq=False)
class Point:
    """One evaluated design, judged by its run's own study."""

    sequence: int
    entry: Entry
    judgement: Judgement

    @property
    def outcome(self) -> Outcome:
        """How it came out."""
        if self.judgement.status == "ok":
            return "feasible" if self.judgement.is_feasible else "infeasible"
        return "failed" if self.judgement.status == "failed" else "no_machine"


class RunFeed:
    """Reads what is new in a run each time it is asked; safe from several threads.

    Parameters
    ----------
    store : Store
        Holds the run.
    record : RunRecord
        The run.
    clock : callable
        Gives the Unix time [s].
    """

    def __init__(
        self, store: Store, record: RunRecord, *, clock: Callable[[], float] = time.time
    ) -> None:
        self._store = store
        self._clock = clock
        self._guard = threading.RLock()
        self.record = record
        self.study = study_of(record)
        self._points: list[Point] = []
        self._by_number: dict[int, Point] = {}
        self._archive = Archive(len(self.study.objectives))
        self._tally = Tally(budget=self.study.search.budget, observe=FrontObserver(self.study))
        self._front: tuple[int, FrontResult] | None = None

    @property
    def last(self) -> int:
        """Sequence of the newest evaluation known, 0 before there is any."""
        return self._points[-1].sequence if self._points else 0

    @property
    def total(self) -> int:
        """How many evaluations are known."""
        return len(self._points)

    def refresh(self, record: RunRecord | None = None) -> int:
        """Take in what is new; return the sequence of the newest evaluation.

        Parameters
        ----------
        record : RunRecord or None
            The run as just read, or None to read it.
        """
        with self._guard:
            self.record = record or self._store.run(self.record.run_id)
            for row in self._store.rows_after(self.record.run_id, self.last):
                judgement = judge(self.study, row.evaluation, row.parameters)
                entry = Entry(row.number, row.parameters, row.evaluation)
                point = Point(row.sequence, entry, judgement)
                self._points.append(point)
                self._by_number[row.number] = point
                self._archive.add(row.number, judgement)
                self._tally.tell(row.number, judgement)
            self._tally.mark(self._clock())
            return self.last

    def points(self, after: int, *, until: int | None = None, most: int) -> list[Point]:
        """Return points with `after` < sequence <= `until`, oldest first."""
        with self._guard:
            low, high = 0, len(self._points)
            while low < high:
                middle = (low + high) // 2
                if self._points[middle].sequence <= after:
                    low = middle + 1
                else:
                    high = middle
            found = self._points[low : low + most]
        return found if until is None else [p for p in found if p.sequence <= until]

    def point(self, number: int) -> Point | None:
        """Return the evaluation of a candidate, None for none."""
        return self._by_number.get(number)

    def front_numbers(self) -> list[int]:
        """Return the candidates on the front, ascending."""
        with self._guard:
            return [int(number) for number in self._archive.numbers]

    def progress(self) -> Progress:
        """Return how far the run is."""
        with self._guard:
            return self._tally.progress(asked=self._tally.told, elapsed=self.record.elapsed)

    def front(self, study: Study | None = None, method: Method | None = None) -> FrontResult:
        """Return the ranked front, under other aims if a study with them is given."""
        with self._guard:
            points = list(self._points)
            record = self.record
            kept = self._front
        is_own = study is None and method is None
        if is_own and kept is not None and kept[0] == len(points):
            return replace(kept[1], state=record.state)
        # By number, as a local reading gives them: what depends on order then comes out alike.
        entries = sorted((p.entry for p in points), key=lambda entry: entry.number)
        found = front_result(record, study or self.study, entries, method=method)
        if is_own:
            with self._guard:
                self._front = (len(points), found)
        return found


class FeedShelf:
    """The feeds of the runs looked at lately.

    Parameters
    ----------
    store : Store
        Holds the runs.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._guard = threading.Lock()
        self._feeds: OrderedDict[str, RunFeed] = OrderedDict()

    def feed(self, record: RunRecord) -> RunFeed:
        """Return the feed of a run; call `refresh` before reading."""
        with self._guard:
            feed = self._feeds.get(record.run_id)
            # A run deleted and made anew under the same id has another birthday.
            if feed is None or feed.record.created != record.created:
                feed = self._feeds[record.run_id] = RunFeed(self._store, record)
            self._feeds.move_to_end(record.run_id)
            while len(self._feeds) > 1 and sum(f.total for f in self._feeds.values()) > KEPT_ROWS:
                self._feeds.popitem(last=False)
            return feed

    def forget(self, run_id: str) -> None:
        """Drop the feed of a run that is no more."""
        with self._guard:
            self._feeds.pop(run_id, None)


def wanted_metrics(study: Study, text: str) -> tuple[str, ...]:
    """Return the metrics that a query names.

    Raises
    ------
    RequestError
        For a name that is none.
    """
    if text == EVERY:
        return tuple(METRICS)
    names = needed_metrics(study) if text in ("", OBJECTIVES) else tuple(text.split(","))
    for name in names:
        if name not in METRICS:
            raise RequestError(
                f"metrics: given {name[:80]!r}; allowed: '{OBJECTIVES}', '{EVERY}', or names of "
                "metrics apart by commas"
            )
    return names


def points_document(
    feed: RunFeed, points: Sequence[Point], *, metrics: Sequence[str], after: int, is_more: bool
) -> Document:
    """Return points with the front as it stands."""
    return document(
        "points",
        run=feed.record.run_id,
        state=feed.record.state,
        next=points[-1].sequence if points else after,
        more=is_more,
        total=feed.total,
        front=feed.front_numbers(),
        points=[_point_entries(feed.study, point, metrics) for point in points],
    )


def _point_entries(study: Study, point: Point, names: Sequence[str]) -> dict[str, Any]:
    entry, judgement = point.entry, point.judgement
    metrics: dict[str, float] = {}
    reason = entry.evaluation.reason
    if judgement.status == "ok":
        known = priced_metrics(study, entry.evaluation, entry.parameters)
        metrics = metric_entries({name: known[name] for name in names if name in known})
        if judgement.violations is not None:
            missed = [limit_text(limit) for limit, by in zip(study.limits, judgement.violations)
                      if by > 0.0]  # fmt: skip
            reason = "; ".join(missed)
    return {
        "sequence": point.sequence,
        "candidate": entry.number,
        "outcome": point.outcome,
        "reason": reason,
        "metrics": metrics,
        "parameters": parameter_shown(varied_parameters(study, entry.parameters)),
        "family": family_of(study, entry.parameters),
    }
