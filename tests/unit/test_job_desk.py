"""The desk of a service: who sees what, what is allowed when, and that nothing wrong is stored."""

import numpy as np
import pytest

from models.evaluation import Evaluation
from optim.errors import StudyError
from optim.jobs.errors import RunStateError
from optim.jobs.life_cycle import start
from optim.service.errors import RequestError
from optim.service.job_desk import JobDesk, Person
from optim.service.progress_text import NO_PROGRESS, progress_from_text, progress_to_text
from optim.service.run_store import VERIFIES
from optim.store.contract import EvaluationRow
from optim.store.errors import UnknownRunError
from optim.store.opening import open_database
from tests.commands import DEMO

KIM, LEE, ADA = Person("kim"), Person("lee"), Person("ada", is_admin=True)
TEXT = DEMO.read_text(encoding="utf-8")


@pytest.fixture
def store(store_address):
    with open_database(store_address) as opened:
        yield opened


@pytest.fixture
def desk(store):
    return JobDesk(store)


def submit(desk, asker=KIM, **settings):
    return desk.submit(TEXT, asker, budget=50, **settings)


def begin(store, run_id):
    store.change_state(run_id, "queued", "running")
    return store.change_job(store.job(run_id), start(store.job(run_id), now=1.0, rows=0))


def row(number, key="k"):
    metrics = {"peak_torque": 250.0}
    return EvaluationRow(
        number, f"{key}{number}", np.zeros(2), {"a": 1.0}, Evaluation("ok", "circuit", metrics)
    )


def test_a_submitted_study_waits_in_the_queue(desk):
    view = submit(desk, seed=5, priority=2)
    assert (view.job.state, view.job.owner, view.job.priority) == ("queued", "kim", 2)
    assert view.position == 0
    assert view.allowed == ("pause", "cancel", "delete")
    assert view.record.settings["budget"] == 50
    assert view.record.settings["seed"] == 5
    assert view.progress == NO_PROGRESS
    assert submit(desk).position == 1
    assert desk.load().by_state["queued"] == 2


@pytest.mark.parametrize(
    ("text", "settings"),
    [("[nonsense", {}), ("", {}), (TEXT, {"budget": 1}), (TEXT, {"priority": 101}),
     (TEXT, {"seed": -1}), (TEXT + "\n# \ud800", {})],
)  # fmt: skip
def test_what_is_wrong_is_refused_and_nothing_is_stored(desk, store, text, settings):
    with pytest.raises((StudyError, RequestError)):
        desk.submit(text, KIM, **settings)
    assert store.runs() == ()


def test_somebody_elses_run_is_not_there_in_any_call(desk, store):
    run_id = submit(desk).record.run_id
    calls = [
        desk.status, desk.run, desk.events, desk.front, desk.pause, desk.resume, desk.cancel,
        desk.delete, desk.logs, lambda r, a: desk.set_priority(r, a, priority=1),
        lambda r, a: desk.rerun(r, a, budget=10),
    ]  # fmt: skip
    for call in calls:
        for name in (run_id, run_id[:-2]):
            with pytest.raises(UnknownRunError) as theirs:
                call(name, LEE)
            with pytest.raises(UnknownRunError) as none:
                call("x" * len(name), LEE)
            # Not even the words tell a run of somebody else from one that never was.
            assert str(theirs.value) == str(none.value).replace("x" * len(name), name)
    assert desk.jobs(LEE) == ()
    assert desk.status(run_id, ADA).record.run_id == run_id
    assert [v.record.run_id for v in desk.jobs(ADA)] == [run_id]
    assert store.job(run_id).state == "queued"
    assert len(store.runs()) == 1


def test_names_mean_the_newest_or_the_one_that_begins_so(desk, store):
    first, second = submit(desk).record.run_id, submit(desk).record.run_id
    submit(desk, LEE)
    assert desk.status("last", KIM).record.run_id == second
    assert desk.status(first[:-1], KIM).record.run_id == first
    with pytest.raises(UnknownRunError):
        desk.status("island", KIM)  # fits two
    with pytest.raises(UnknownRunError):
        desk.status("", KIM)


def test_waiting_jobs_change_at_once_and_running_ones_when_their_driver_has_left(desk, store):
    run_id = submit(desk).record.run_id
    assert desk.pause(run_id, KIM).job.state == "paused"
    with pytest.raises(RunStateError, match="allowed: resume, cancel, delete"):
        desk.pause(run_id, KIM)
    assert desk.resume(run_id, KIM).job.state == "queued"
    begin(store, run_id)
    view = desk.pause(run_id, KIM)
    assert (view.job.state, view.job.wish) == ("running", "pause")
    assert store.run(run_id).stop_request == "interrupt"
    desk.resume(run_id, KIM)
    assert store.run(run_id).stop_request == ""
    desk.cancel(run_id, KIM)
    assert store.run(run_id).stop_request == "cancel"
    with pytest.raises(RunStateError):
        desk.delete(run_id, KIM)


def test_a_cancelled_run_cannot_be_resumed_by_hand_either(desk, store):
    run_id = submit(desk).record.run_id
    assert desk.cancel(run_id, KIM).job.state == "cancelled"
    assert store.run(run_id).state == "cancelled"
    assert desk.status(run_id, KIM).allowed == ("delete",)


def test_priorities_change_the_place_in_the_queue(desk):
    names = [submit(desk).record.run_id for _ in range(3)]
    view = desk.set_priority(names[2], KIM, priority=7)
    assert view.position == 0
    assert desk.status(names[0], KIM).position == 1
    with pytest.raises(RequestError, match="-100 to 100"):
        desk.set_priority(names[2], KIM, priority=1000)


def test_events_come_in_portions_without_loss_or_repetition(desk, store):
    run_id = submit(desk).record.run_id
    store.append(run_id, [row(n) for n in (2, 0, 1)])
    first = desk.events(run_id, KIM, most=2)
    assert [r.number for r in first.rows] == [2, 0]
    store.append(run_id, [row(3)])
    second = desk.events(run_id, KIM, after=first.last)
    assert [r.number for r in second.rows] == [1, 3]
    third = desk.events(run_id, KIM, after=second.last)
    assert third.rows == ()
    assert third.last == second.last
    assert third.view.job.state == "queued"


def test_deleting_takes_the_verification_with_it_but_not_what_a_rerun_needs(desk, store):
    run_id = submit(desk).record.run_id
    store.create_run("v", "", run_id="verification", settings={VERIFIES: run_id})
    store.create_run("again", "", run_id="again", settings={"starts": f"{run_id}:0,1"})
    with pytest.raises(RunStateError, match="'again' begins with its designs"):
        desk.delete(run_id, KIM)
    store.change_state("again", "queued", "cancelled")
    desk.delete(run_id, KIM)
    assert [run.run_id for run in store.runs()] == ["again"]


def test_runs_from_the_command_line_are_an_admins_to_see_and_nobodys_to_steer(desk, store):
    store.create_run("toy", TEXT, run_id="by-hand")
    with pytest.raises(UnknownRunError):
        desk.status("by-hand", KIM)
    view = desk.status("by-hand", ADA)
    assert (view.job.owner, view.job.state, view.allowed) == ("", "queued", ())
    assert view.position is None
    with pytest.raises(RunStateError):
        desk.cancel("by-hand", ADA)


def test_an_owner_without_name_sees_nothing_that_is_nobodys(desk, store):
    store.create_run("toy", TEXT, run_id="by-hand")
    assert desk.jobs(Person("")) == ()
    with pytest.raises(UnknownRunError):
        desk.status("by-hand", Person(""))


def test_progress_comes_back_from_its_text():
    text = progress_to_text(NO_PROGRESS)
    assert "NaN" not in text
    assert repr(progress_from_text(text)) == repr(NO_PROGRESS)
    assert repr(progress_from_text("")) == repr(NO_PROGRESS)
