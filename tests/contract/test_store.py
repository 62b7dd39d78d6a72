"""What every store promises, run over each backend."""

import multiprocessing
import sys

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.evaluation import Evaluation
from optim.store.contract import AskRecord, EvaluationRow
from optim.store.errors import RunHeldError, StaleStateError, StoreError, UnknownRunError
from optim.store.opening import open_database


@pytest.fixture
def opened(store_address):
    stores = []

    def open_again():
        stores.append(open_database(store_address))
        return stores[-1]

    yield open_again
    for store in stores:
        store.close()


@pytest.fixture
def store(opened):
    made = opened()
    made.create_run("hill-start", "[study]", run_id="r1")
    return made


def row(number, *, key="", status="ok", **changes):
    metrics = {"peak_torque": 300.0 + number} if status == "ok" else {}
    given = {
        "number": number,
        "key": key or f"key{number}",
        "vector": np.array([0.1 * number, -0.0, 1e-300]),
        "parameters": {"stack_length": 0.1 + number, "slots": 48, "magnet": "grade-a"},
        "evaluation": Evaluation(status, "circuit", metrics, "" if status == "ok" else "why", ""),
        "seconds": 0.25,
        "worker": "host:1",
    }
    return EvaluationRow(**{**given, **changes})


def numbers(rows):
    return [r.number for r in rows]


def test_a_new_run_is_queued_with_what_was_given(opened):
    store = opened()
    run = store.create_run("hill-start", "text", settings={"lag": 8, "seed": 3}, parent="old")
    again = opened().run(run.run_id)
    assert again == run
    assert (run.state, run.study_name, run.study_text, run.parent) == (
        "queued", "hill-start", "text", "old",
    )  # fmt: skip
    assert dict(run.settings) == {"lag": 8, "seed": 3}
    assert run.created > 0.0
    assert run.run_id.startswith("hill-start-")


def test_runs_are_listed_oldest_first_and_unknown_ones_named(store):
    store.create_run("b", "", run_id="r2")
    store.create_run("a", "", run_id="r0")
    assert [run.run_id for run in store.runs()] == ["r1", "r2", "r0"]
    with pytest.raises(UnknownRunError, match="'nope'"):
        store.run("nope")
    with pytest.raises(StoreError, match="taken"):
        store.create_run("b", "", run_id="r2")


@pytest.mark.parametrize("run_id", ["../up", "a/b", "a b", ".", "é\n"])
def test_ids_that_are_no_folder_names_are_refused(store, run_id):
    with pytest.raises(StoreError, match="allowed"):
        store.create_run("b", "", run_id=run_id)


def test_rows_come_back_bit_by_bit(store, opened):
    given = row(
        0,
        vector=np.array([0.1 + 0.2, -0.0, 5e-324, np.nextafter(1.0, 2.0)]),
        parameters={"stack_length": 0.1 + 0.2, "slots": 48, "magnet": "größe-å"},
        evaluation=Evaluation("ok", "field", {"peak_torque": 1 / 3, "magnet_mass": 1e-17}),
    )
    store.append("r1", [given])
    (back,) = opened().rows("r1")
    assert back.vector.tobytes() == given.vector.tobytes()
    assert dict(back.parameters) == given.parameters
    assert [type(v) for v in back.parameters.values()] == [float, int, str]
    assert dict(back.evaluation.metrics) == given.evaluation.metrics
    for name in ("number", "key", "seconds", "worker", "origin"):
        assert getattr(back, name) == getattr(given, name)
    for name in ("status", "model", "reason", "message"):
        assert getattr(back.evaluation, name) == getattr(given.evaluation, name)


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    values=st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=6),
    text=st.text(max_size=20),
)
def test_any_finite_numbers_and_any_text_come_back(store, values, text):
    number = store.count("r1")
    text = text.encode("utf-8", "ignore").decode()  # lone surrogates are no text
    metrics = {f"m{i}": v for i, v in enumerate(values)}
    store.append(
        "r1",
        [row(number, vector=np.array(values),
             evaluation=Evaluation("ok", "circuit", metrics, "", text))],
    )  # fmt: skip
    (back,) = store.rows("r1", since=number)
    assert back.vector.tobytes() == np.array(values).tobytes()
    assert np.array(list(back.evaluation.metrics.values())).tobytes() == np.array(values).tobytes()
    assert back.evaluation.message == text


def test_numpy_numbers_are_stored_as_numbers(store):
    metrics = {"peak_torque": np.float64(300.5)}
    store.append(
        "r1",
        [row(0, parameters={"slots": np.int64(48)},
             evaluation=Evaluation("ok", "circuit", metrics))],
    )  # fmt: skip
    (back,) = store.rows("r1")
    assert back.parameters["slots"] == 48
    assert back.evaluation.metrics["peak_torque"] == 300.5


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_is_refused(store, value):
    with pytest.raises(StoreError, match="finite"):
        store.append("r1", [row(0, evaluation=Evaluation("ok", "circuit", {"a": value}))])
    assert store.count("r1") == 0


def test_rows_by_number_and_by_commit(store):
    store.append("r1", [row(2), row(0)])
    store.append("r1", [row(1)])
    store.append("r1", [])
    assert numbers(store.rows("r1")) == [0, 1, 2]
    assert numbers(store.rows("r1", since=1)) == [1, 2]
    committed = list(store.rows_after("r1", 0))
    assert numbers(committed) == [2, 0, 1]
    assert numbers(store.rows_after("r1", committed[1].sequence)) == [1]
    assert store.numbers("r1") == {0, 1, 2}
    assert store.count("r1") == 3


def test_many_rows_are_read_in_portions_without_loss(store):
    store.append("r1", [row(n) for n in reversed(range(1001))])
    assert numbers(store.rows("r1")) == list(range(1001))
    assert numbers(store.rows_after("r1", 0)) == list(reversed(range(1001)))


def test_a_reader_sees_each_row_once_while_rows_are_added(store):
    seen, last = [], 0
    for group in ([4, 2], [0], [3, 1]):
        store.append("r1", [row(n) for n in group])
        for new in store.rows_after("r1", last):
            seen.append(new.number)
            last = new.sequence
    assert seen == [4, 2, 0, 3, 1]


def test_a_candidate_counts_once_and_a_refused_group_leaves_nothing(store):
    store.append("r1", [row(0)])
    with pytest.raises(StoreError, match="once"):
        store.append("r1", [row(1), row(0)])
    assert numbers(store.rows("r1")) == [0]


def test_rows_need_a_run(store):
    with pytest.raises(StoreError, match="run"):
        store.append("nope", [row(0)])


def test_order_of_asking_is_kept_with_its_rows(store):
    store.append("r1", [row(0)], asks=[AskRecord(0, 0), AskRecord(1, 0)])
    with pytest.raises(StoreError):
        store.append("r1", [row(0)], asks=[AskRecord(2, 1)])
    store.append("r1", [row(1)], asks=[AskRecord(2, 1)])
    assert list(store.asks("r1")) == [AskRecord(0, 0), AskRecord(1, 0), AskRecord(2, 1)]


def test_known_designs_are_found_across_runs(store):
    store.create_run("again", "", run_id="r2")
    store.append("r1", [row(0, key="k"), row(1, key="bad", status="infeasible")])
    known = store.find("k", run_id="r2")
    assert not known.is_own
    assert dict(known.evaluation.metrics) == {"peak_torque": 300.0}
    assert store.find("k", run_id="r1").is_own
    assert store.find("bad", run_id="r2").evaluation.reason == "why"
    assert store.find("new", run_id="r1") is None


def test_what_failed_in_another_run_is_tried_again_but_not_within_the_run(store):
    store.create_run("again", "", run_id="r2")
    store.append("r1", [row(0, key="k", status="failed")])
    assert store.find("k", run_id="r2") is None
    assert store.find("k", run_id="r1").evaluation.status == "failed"
    store.append("r2", [row(0, key="k")])
    # The run's own outcome comes first although another run did better.
    assert store.find("k", run_id="r1").evaluation.status == "failed"


def test_state_changes_only_from_the_expected_state(store, opened):
    store.request_stop("r1", "cancel")
    store.change_state("r1", "queued", "running", reason="begun")
    assert (opened().run("r1").state, opened().run("r1").reason) == ("running", "begun")
    assert store.run("r1").stop_request == ""
    with pytest.raises(StaleStateError, match="is running"):
        store.change_state("r1", "queued", "cancelled")
    with pytest.raises(UnknownRunError):
        store.change_state("nope", "queued", "running")


def test_heartbeat_brings_requests_from_elsewhere(store, opened):
    assert store.heartbeat("r1", elapsed=1.5) == ""
    opened().request_stop("r1", "interrupt")
    assert store.heartbeat("r1", elapsed=2.5) == "interrupt"
    run = store.run("r1")
    assert run.elapsed == 2.5
    assert run.heartbeat >= run.created


def test_notes_are_kept_and_replaced(store):
    store.note("r1", "order", "free")
    store.note("r1", "picked", 3)
    store.note("r1", "order", "ordered")
    assert dict(store.run("r1").notes) == {"order": "ordered", "picked": 3}
    with pytest.raises(UnknownRunError):
        store.note("nope", "order", "free")


def test_only_one_may_hold_a_run(store, opened):
    other = opened()
    store.create_run("b", "", run_id="r2")
    with store.hold("r1"):
        with pytest.raises(RunHeldError, match="another process"), other.hold("r1"):
            pass
        with other.hold("r2"):
            pass
    with other.hold("r1"):
        pass


def _hold_and_die(address, pipe):
    store = open_database(address)
    with store.hold("r1"):
        pipe.send("held")
        pipe.recv()
        sys.stdout.flush()
        import os
        import signal

        os.kill(os.getpid(), signal.SIGKILL)


def test_a_hold_ends_with_its_process(store, store_address):
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_hold_and_die, args=(store_address, theirs))
    process.start()
    assert ours.recv() == "held"
    with pytest.raises(RunHeldError), store.hold("r1"):
        pass
    ours.send("die")
    process.join(10.0)
    assert process.exitcode == -9
    process.close()
    with store.hold("r1"):
        pass


def test_errors_are_also_built_in_errors():
    assert issubclass(StoreError, OSError)
    assert issubclass(UnknownRunError, LookupError)
