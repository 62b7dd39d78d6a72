"""One session of driving a run: the loop of asking, evaluating, committing and telling."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from models.evaluation import Evaluation
from models.machine import ParameterValue
from optim.jobs.dispatcher import Dispatcher
from optim.jobs.errors import ReplayError
from optim.jobs.interruption import Interruption
from optim.jobs.ordered import Ask, FreeSchedule, InFlight, OrderedSchedule, Tell
from optim.jobs.plan import DesignFunctions, Plan, Searcher, Vector
from optim.jobs.progress import Observe, Progress, Tally
from optim.jobs.work import Outcome
from optim.store.contract import AskRecord, EvaluationRow, Origin, RunRecord, Store

StopReason = Literal["budget", "stall", "wall_time", "interrupted", "cancelled"]
_HEARTBEAT_SECONDS = 2.0
_PROGRESS_SECONDS = 0.2
_WAIT_SECONDS = 0.2


@dataclass(frozen=True, eq=False)
class _Candidate:
    """A candidate between ask and tell."""

    vector: Vector
    parameters: Mapping[str, ParameterValue]
    key: str


class Session:
    """The loop with all its state; `optim.jobs.driver.drive` says what the arguments are."""

    def __init__(
        self,
        run: RunRecord,
        searcher: Searcher,
        dispatcher: Dispatcher,
        store: Store,
        *,
        functions: DesignFunctions,
        plan: Plan,
        observe: Observe | None,
        on_progress: Callable[[Progress], None] | None,
        interruption: Interruption,
        clock: Callable[[], float],
    ) -> None:
        self._run_id = run.run_id
        self._searcher = searcher
        self._dispatcher = dispatcher
        self._store = store
        self._functions = functions
        self._plan = plan
        self._on_progress = on_progress
        self._interruption = interruption
        self._clock = clock
        self._tally = Tally(budget=plan.budget, observe=observe)
        self._past = _Past(store, run.run_id, is_ordered=plan.is_ordered)
        self._schedule = _schedule(store, run.run_id, plan)
        self._candidates: dict[int, _Candidate] = {}
        self._evaluations: dict[int, Evaluation] = {}
        self._flight = InFlight()
        self._ready: dict[str, list[EvaluationRow]] = {}
        self._new_asks: list[AskRecord] = []
        self._stop: StopReason | None = None
        self._begin = clock()
        self._elapsed_before = run.elapsed
        self._next_heartbeat = self._next_progress = self._begin

    def go(self) -> StopReason:
        """Drive until the run is finished or stopped; return why."""
        schedule = self._schedule
        while not schedule.is_finished and self._stop in (None, "stall"):
            step = schedule.next_step()
            if isinstance(step, Ask):
                self._ask(step.number)
            elif isinstance(step, Tell):
                self._tell(step.number)
            elif not self._feed_past() and not self._flush():
                self._land(self._dispatcher.collect(_WAIT_SECONDS))
            self._look_after()
        if self._stop in ("wall_time", "interrupted", "cancelled"):
            self._wind_down()
        self._store.heartbeat(self._run_id, elapsed=self._elapsed())
        self._report()
        return self._stop or "budget"

    def progress(self) -> Progress:
        """Return how far the run is."""
        return self._tally.progress(asked=self._schedule.asked, elapsed=self._elapsed())

    # Asking

    def _ask(self, number: int) -> None:
        vector = self._searcher.ask(number)
        parameters = self._functions.decode(vector)
        candidate = _Candidate(vector, parameters, self._functions.key(parameters))
        self._candidates[number] = candidate
        if isinstance(self._schedule, FreeSchedule):
            self._schedule.room = min(self._plan.lag, self._dispatcher.appetite)
            if number >= self._past.asks:
                self._new_asks.append(AskRecord(number, self._schedule.told))
        if number not in self._past.numbers:
            self._find_or_submit(number, candidate)

    def _find_or_submit(self, number: int, candidate: _Candidate) -> None:
        key = candidate.key
        if key in self._ready:
            evaluation = self._ready[key][0].evaluation
            self._make_ready(number, candidate, evaluation, "repeated")
            return
        known = self._store.find(key, run_id=self._run_id)
        if known is not None:
            origin: Origin = "repeated" if known.is_own else "reused"
            self._make_ready(number, candidate, known.evaluation, origin)
        elif self._flight.add(number, key):
            self._dispatcher.submit(number, candidate.parameters)

    def _make_ready(
        self, number: int, candidate: _Candidate, evaluation: Evaluation, origin: Origin
    ) -> None:
        row = _row(number, candidate, evaluation, origin)
        self._ready.setdefault(candidate.key, []).append(row)

    # Results

    def _feed_past(self) -> bool:
        row = self._past.next_row(below=self._schedule.asked)
        if row is None:
            return False
        candidate = self._candidates[row.number]
        if row.key != candidate.key or row.vector.tobytes() != candidate.vector.tobytes():
            raise ReplayError(
                f"candidate {row.number} of run {self._run_id!r} was stored as design "
                f"{row.key[:12]}, the search now asks for {candidate.key[:12]}: study, search or "
                "program have changed; start a rerun, which reuses what is known"
            )
        self._arrive(row)
        return True

    def _flush(self) -> bool:
        rows = sorted((r for rows in self._ready.values() for r in rows), key=lambda r: r.number)
        self._ready.clear()
        self._commit(rows)
        return bool(rows)

    def _land(self, outcomes: Sequence[Outcome]) -> None:
        rows = []
        for outcome in outcomes:
            first, *others = self._flight.land(self._candidates[outcome.number].key)
            rows.append(
                _row(first, self._candidates[first], outcome.evaluation, "evaluated", outcome)
            )
            rows += [
                _row(number, self._candidates[number], outcome.evaluation, "repeated")
                for number in others
            ]
        self._commit(rows)

    def _commit(self, rows: Sequence[EvaluationRow]) -> None:
        if not rows:
            return
        self._store.append(self._run_id, rows, asks=self._new_asks)
        self._new_asks = []
        for row in rows:
            self._arrive(row)

    def _arrive(self, row: EvaluationRow) -> None:
        self._evaluations[row.number] = row.evaluation
        self._schedule.arrive(row.number)

    def _tell(self, number: int) -> None:
        candidate = self._candidates.pop(number)
        evaluation = self._evaluations.pop(number)
        judgement = self._functions.judge(evaluation, candidate.parameters)
        self._searcher.tell(number, candidate.vector, judgement)
        self._tally.tell(number, judgement)
        plan = self._plan
        if self._tally.has_stalled(plan.stall_evaluations, plan.stall_growth):
            # What has been asked is still evaluated and told, so the rows are the same however
            # the run went.
            self._schedule.stop_asking()
            self._stop = "stall"

    # Stopping and reporting

    def _look_after(self) -> None:
        now = self._clock()
        if self._interruption.is_requested and self._stop != "cancelled":
            self._stop = "interrupted"
        elif self._stop in (None, "stall") and 0.0 < self._plan.wall_time <= self._elapsed():
            self._stop = "wall_time"
        if now >= self._next_heartbeat:
            self._next_heartbeat = now + _HEARTBEAT_SECONDS
            wish = self._store.heartbeat(self._run_id, elapsed=self._elapsed())
            if wish:
                self._stop = "cancelled" if wish == "cancel" else "interrupted"
        if now >= self._next_progress:
            self._next_progress = now + _PROGRESS_SECONDS
            self._report()

    def _wind_down(self) -> None:
        """Commit what workers are busy with; what has not begun is asked again on resume."""
        self._dispatcher.withdraw()
        self._flush()
        while self._dispatcher.in_flight:
            is_urgent = self._interruption.is_urgent or self._stop == "cancelled"
            self._land(self._dispatcher.collect(0.0 if is_urgent else _WAIT_SECONDS))
            if is_urgent:
                return
            self._look_after()

    def _report(self) -> None:
        self._tally.mark(self._clock())
        if self._on_progress is not None:
            self._on_progress(self.progress())

    def _elapsed(self) -> float:
        return self._elapsed_before + self._clock() - self._begin


class _Past:
    """Stored rows of the run, handed out in the order in which they are to arrive again."""

    def __init__(self, store: Store, run_id: str, *, is_ordered: bool) -> None:
        self.numbers = store.numbers(run_id)
        self.asks = 0 if is_ordered else sum(1 for _ in store.asks(run_id))
        self._rows: Iterator[EvaluationRow]
        self._rows = store.rows(run_id) if is_ordered else store.rows_after(run_id, 0)
        self._left = len(self.numbers)
        self._next: EvaluationRow | None = None

    def next_row(self, *, below: int) -> EvaluationRow | None:
        """Return the next row if its number is `below`, else None."""
        # Counted, because the iterator would go on to rows that this session has added.
        if self._next is None and self._left:
            self._left -= 1
            self._next = next(self._rows)
        if self._next is None or self._next.number >= below:
            return None
        row, self._next = self._next, None
        return row


def _schedule(store: Store, run_id: str, plan: Plan) -> OrderedSchedule | FreeSchedule:
    if plan.is_ordered:
        return OrderedSchedule(lag=plan.lag, budget=plan.budget)
    past = ((ask.number, ask.told) for ask in store.asks(run_id))
    return FreeSchedule(room=plan.lag, budget=plan.budget, past=past)


def _row(
    number: int,
    candidate: _Candidate,
    evaluation: Evaluation,
    origin: Origin,
    outcome: Outcome | None = None,
) -> EvaluationRow:
    return EvaluationRow(
        number=number,
        key=candidate.key,
        vector=candidate.vector,
        parameters=candidate.parameters,
        evaluation=evaluation,
        seconds=outcome.seconds if outcome else 0.0,
        worker=outcome.worker if outcome else "",
        origin=origin,
    )
