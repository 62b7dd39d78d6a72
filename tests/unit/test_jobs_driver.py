"""The loop itself, with dispatchers in this process: quick, and every disorder can be made."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.jobs.errors import DispatchError, ReplayError, RunStateError
from optim.jobs.interruption import Interruption
from optim.jobs.plan import Plan
from optim.jobs.work import evaluate_one
from optim.store.errors import RunHeldError
from optim.store.sqlite import SqliteStore
from optim.study.model import SearchSettings
from tests.fault.toy_search import FUNCTIONS, ToySearcher, contents, evaluate, front, key

PLAN = Plan(budget=150, lag=12)


class ShuffledDispatcher:
    """Returns results in a random order, a few at a time; may break at a given moment."""

    def __init__(self, seed, *, workers=5, breaks_after=None, on_collect=None):
        self.rng = np.random.default_rng(seed)
        self.workers = workers
        self.waiting = []
        self.evaluated = []
        self.breaks_after = breaks_after
        self.on_collect = on_collect

    @property
    def in_flight(self):
        return len(self.waiting)

    @property
    def appetite(self):
        return self.workers

    def submit(self, number, parameters):
        self.waiting.append((number, parameters))

    def collect(self, timeout):
        if self.breaks_after is not None and len(self.evaluated) >= self.breaks_after:
            raise DispatchError("gone")
        if self.on_collect is not None:
            self.on_collect(self)
        outcomes = []
        for _ in range(int(self.rng.integers(1, 4))):
            if self.waiting:
                index = int(self.rng.integers(min(self.workers, len(self.waiting))))
                number, parameters = self.waiting.pop(index)
                self.evaluated.append(key(parameters))
                outcomes.append(evaluate_one(evaluate, number, parameters).outcome())
        return outcomes

    def withdraw(self):
        numbers = tuple(number for number, _ in self.waiting[self.workers :])
        del self.waiting[self.workers :]
        return numbers

    def close(self, *, is_immediate=False):
        pass


@pytest.fixture
def store(tmp_path):
    with SqliteStore(tmp_path / "paretorque.sqlite") as made:
        yield made


def go(store, run_id="r", *, dispatcher=None, searcher=None, plan=PLAN, **more):
    if run_id not in {run.run_id for run in store.runs()}:
        store.create_run("toy", "", run_id=run_id)
    return drive(
        run_id,
        searcher or ToySearcher(),
        dispatcher or SerialDispatcher(evaluate),
        store,
        functions=FUNCTIONS,
        plan=plan,
        **more,
    )


@pytest.fixture(scope="module")
def reference(tmp_path_factory):
    with SqliteStore(tmp_path_factory.mktemp("reference") / "s.sqlite") as store:
        searcher = ToySearcher()
        go(store, searcher=searcher)
        return contents(store, "r"), front(store, "r"), searcher.calls, searcher.digest


def test_a_run_is_done_with_all_rows(store, reference):
    end = go(store)
    assert (end.state, end.reason) == ("done", "budget")
    assert store.run("r").state == "done"
    assert store.count("r") == 150
    progress = end.progress
    assert (progress.told, progress.asked, progress.budget) == (150, 150, 150)
    assert progress.feasible + progress.infeasible + progress.failed == 150
    statuses = Counter(row.evaluation.status for row in store.rows("r"))
    assert progress.failed == statuses["failed"] > 0
    assert statuses["infeasible"] > 0


def test_equal_designs_are_evaluated_once(store, reference):
    dispatcher = ShuffledDispatcher(1)
    go(store, dispatcher=dispatcher)
    assert max(Counter(dispatcher.evaluated).values()) == 1
    origins = Counter(row.origin for row in store.rows("r"))
    assert origins["repeated"] > 3
    assert origins["evaluated"] == len(dispatcher.evaluated)


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 10**6), workers=st.integers(1, 12), cuts=st.lists(st.integers(0, 60)))
def test_any_arrival_order_and_any_breaks_give_the_same_run(
    tmp_path_factory, reference, seed, workers, cuts
):
    with SqliteStore(tmp_path_factory.mktemp("any") / "s.sqlite", is_checked=False) as store:
        store.create_run("toy", "", run_id="r")
        evaluated = []
        for cut in cuts[:4]:
            dispatcher = ShuffledDispatcher(seed, workers=workers, breaks_after=cut)
            if store.run("r").state == "done":
                break
            try:
                go(store, dispatcher=dispatcher)
            except DispatchError:
                assert store.run("r").state == "interrupted"
            evaluated += dispatcher.evaluated
        searcher = ToySearcher()
        if store.run("r").state != "done":
            last = ShuffledDispatcher(seed + 1, workers=workers)
            go(store, dispatcher=last, searcher=searcher)
            evaluated += last.evaluated
            assert searcher.calls == reference[2]
            assert searcher.digest == reference[3]
        assert contents(store, "r") == reference[0]
        assert front(store, "r") == reference[1]
        assert max(Counter(evaluated).values()) == 1


def test_free_order_resumes_by_its_record(store):
    plan = replace(PLAN, is_ordered=False)
    store.create_run("toy", "", run_id="r")
    first = ToySearcher()
    with pytest.raises(DispatchError):
        go(store, dispatcher=ShuffledDispatcher(3, breaks_after=40), searcher=first, plan=plan)
    stored = contents(store, "r")
    recorded = [ask.number for ask in store.asks("r")]
    second = ToySearcher()
    go(store, dispatcher=ShuffledDispatcher(4), searcher=second, plan=plan)
    after = contents(store, "r")
    assert len(after) == 150
    assert set(stored) <= set(after)
    # What was asked after the last commit has left no trace and may be asked at another moment.
    until = first.calls.index(("ask", recorded[-1])) + 1
    assert until > 40
    assert second.calls[:until] == first.calls[:until]
    # The order of commits is the order of telling.
    committed = [row.number for row in store.rows_after("r", 0)]
    assert [number for what, number in second.calls if what == "tell"] == committed
    # And a third look replays the whole of it.
    asks = {ask.number: ask.told for ask in store.asks("r")}
    counted = 0
    for what, number in second.calls:
        if what == "ask":
            assert asks[number] == counted
        counted += what == "tell"


def test_a_rerun_evaluates_only_what_failed(store, reference):
    go(store)
    dispatcher = ShuffledDispatcher(1)
    store.create_run("toy", "", run_id="again", parent="r")
    go(store, "again", dispatcher=dispatcher)
    failed = {row.key for row in store.rows("r") if row.evaluation.status == "failed"}
    assert set(dispatcher.evaluated) == failed
    assert [row[:8] for row in contents(store, "again")] == [row[:8] for row in reference[0]]
    assert {row.origin for row in store.rows("again")} == {"evaluated", "repeated", "reused"}


def test_origin_does_not_depend_on_what_is_committed_when(store):
    go(store)
    runs = []
    for index, dispatcher in enumerate((SerialDispatcher(evaluate), ShuffledDispatcher(9))):
        go(store, f"again{index}", dispatcher=dispatcher)
        runs.append(contents(store, f"again{index}"))
    assert runs[0] == runs[1]


def test_stall_stops_at_the_same_place_however_results_arrive(tmp_path):
    found = []
    for seed in range(3):
        with SqliteStore(tmp_path / f"{seed}.sqlite") as store:
            # A made-up hypervolume that grows for 40 results and then by less than asked for.
            told = []

            def observe(number, judgement, told=told):
                told.append(number)
                return 1, min(len(told), 40) * (1.0 + 1e-6 * len(told))

            end = go(
                store, dispatcher=ShuffledDispatcher(seed), observe=observe,
                plan=replace(PLAN, stall_evaluations=25),
            )  # fmt: skip
            assert (end.state, end.reason) == ("done", "stall")
            found.append(contents(store, "r"))
    # 40 growing, 25 without growth, and the 11 asked for by then: by hand.
    assert [len(rows) for rows in found] == [76, 76, 76]
    assert found[0] == found[1] == found[2]


def test_nothing_feasible_never_stalls(store):
    end = go(store, observe=lambda n, j: (0, 0.0), plan=replace(PLAN, stall_evaluations=5))
    assert end.reason == "budget"


def test_first_request_finishes_what_runs_and_the_run_resumes(store, reference):
    interruption = Interruption()

    def request(dispatcher):
        if len(dispatcher.evaluated) > 30 and not interruption.is_requested:
            interruption.request()

    dispatcher = ShuffledDispatcher(2, on_collect=request)
    end = go(store, dispatcher=dispatcher, interruption=interruption)
    assert (end.state, end.reason) == ("interrupted", "interrupted")
    assert dispatcher.in_flight == 0
    evaluated = {row.key for row in store.rows("r") if row.origin == "evaluated"}
    assert evaluated == set(dispatcher.evaluated)  # nothing that ran was thrown away
    assert go(store).state == "done"
    assert contents(store, "r") == reference[0]


def test_second_request_stops_at_once(store, reference):
    interruption = Interruption()

    def request(dispatcher):
        if len(dispatcher.evaluated) > 30:
            interruption.request()
            interruption.request()

    dispatcher = ShuffledDispatcher(2, workers=8, on_collect=request)
    end = go(store, dispatcher=dispatcher, interruption=interruption)
    assert end.state == "interrupted"
    assert dispatcher.in_flight > 0
    go(store)
    assert contents(store, "r") == reference[0]


def test_another_process_may_cancel(store):
    now = iter(np.arange(0.0, 1e6, 0.5))
    dispatcher = ShuffledDispatcher(
        2, on_collect=lambda d: len(d.evaluated) > 20 and store.request_stop("r", "cancel")
    )
    end = go(store, dispatcher=dispatcher, clock=lambda: float(next(now)))
    assert end.state == "cancelled"
    with pytest.raises(RunStateError, match="cancelled"):
        go(store)


def test_wall_time_counts_over_sessions(store):
    now = iter(np.arange(0.0, 1e6, 0.1))
    interruption = Interruption()

    def request(dispatcher):
        if len(dispatcher.evaluated) > 10:
            interruption.request()

    plan = replace(PLAN, wall_time=25.0)
    first = go(
        store, dispatcher=ShuffledDispatcher(1, on_collect=request), plan=plan,
        clock=lambda: float(next(now)), interruption=interruption,
    )  # fmt: skip
    assert first.state == "interrupted"
    assert 0.0 < store.run("r").elapsed < 25.0
    end = go(store, dispatcher=ShuffledDispatcher(1), plan=plan, clock=lambda: float(next(now)))
    assert (end.state, end.reason) == ("done", "wall_time")
    assert 25.0 <= end.progress.elapsed < 35.0


def test_an_error_of_the_search_fails_the_run_with_its_text(store):
    class Broken(ToySearcher):
        def tell(self, number, vector, judgement):
            if number == 30:
                raise ArithmeticError("broken at 30")
            super().tell(number, vector, judgement)

    with pytest.raises(ArithmeticError):
        go(store, searcher=Broken())
    run = store.run("r")
    assert (run.state, run.reason) == ("failed", "ArithmeticError: broken at 30")
    assert store.count("r") > 30  # committed before it was told
    assert go(store).state == "done"


def test_rows_of_another_search_are_refused(store):
    with pytest.raises(DispatchError):
        go(store, dispatcher=ShuffledDispatcher(1, breaks_after=30))
    with pytest.raises(ReplayError, match="rerun"):
        go(store, searcher=ToySearcher(seed=2))


def test_another_lag_is_refused_on_resume(store):
    with pytest.raises(DispatchError):
        go(store, dispatcher=ShuffledDispatcher(1, breaks_after=30))
    with pytest.raises(ReplayError, match="lag 12"):
        go(store, plan=replace(PLAN, lag=13))
    assert store.run("r").state == "interrupted"


def test_a_run_is_driven_by_one_only(store):
    store.create_run("toy", "", run_id="r")
    with store.hold("r"), pytest.raises(RunHeldError):
        go(store)
    assert store.run("r").state == "queued"


def test_progress_is_reported_and_grows(store):
    seen = []
    go(store, on_progress=seen.append, dispatcher=ShuffledDispatcher(1))
    assert seen[-1].told == 150
    assert [p.told for p in seen] == sorted(p.told for p in seen)


def test_a_plan_takes_the_settings_of_a_study():
    search = SearchSettings(budget=7, lag=3, wall_time=2.0, stall_evaluations=5, is_ordered=False)
    assert Plan.of(search) == Plan(7, 3, False, 2.0, 5)
