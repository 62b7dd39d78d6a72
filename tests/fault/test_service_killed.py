"""The service, a driver, a worker and the scheduler are killed in the middle of two jobs."""

import random
import time

import psutil
import pytest

from optim.service.running import compile_models
from optim.study.load import load
from tests.commands import DEMO
from tests.fault.service_case import KIM, REAL_DRIVER, service_case

# The driver last: the other job goes on meanwhile and may come to its end.
KINDS = ("worker", "scheduler", "service", "driver")


def kill(case, service, kind):
    """Kill a part and return the service that goes on."""
    case.wait_until(lambda: len(service.health["drivers"]) == 2 and service.health["has_workers"])
    getattr(service, f"kill_{kind}")()
    return case.start() if kind == "service" else service


def test_two_jobs_go_on_as_if_nothing_had_been_killed(store_address, tmp_path):
    with service_case(store_address, tmp_path, budget=160) as case:
        service = case.start()
        for kind in KINDS:
            case.wait_for_more(20)
            assert case.states() == ["running", "running"], case.story()
            service = kill(case, service, kind)
        case.wait_for_the_end()
        case.assert_as_undisturbed()
        # Only what a worker was busy with at a kill may have been evaluated again: two batches of
        # each driver, of at most five designs each.
        assert case.repeated_evaluations() <= (len(KINDS) - 1) * 2 * 2 * 5


@pytest.mark.slow
def test_a_killed_service_leaves_nothing_behind_and_nothing_is_evaluated_twice(tmp_path):
    with service_case(str(tmp_path / "s.sqlite"), tmp_path, budget=120) as case:
        service = case.start()
        case.wait_for_more(15)
        left = service.descendants()
        assert len(left) >= 4  # two drivers, the cluster, a worker
        service.kill_service()
        case.wait_until(lambda: not any(case.store.is_held(run_id) for run_id in case.runs))
        _, alive = psutil.wait_procs(left, timeout=30.0)
        assert not alive
        # Supervised no more, but what the workers were busy with has been committed.
        assert case.repeated_evaluations() <= 0
        assert case.states() == ["running", "running"]
        case.start()
        case.wait_for_the_end()
        case.assert_as_undisturbed()
        assert case.repeated_evaluations() <= 0


@pytest.mark.slow
def test_stop_lets_what_runs_finish_and_the_next_start_goes_on(store_address, tmp_path):
    with service_case(store_address, tmp_path, budget=100) as case:
        service = case.start()
        case.wait_for_more(10)
        left = service.descendants()
        service.stop()
        assert service.process.returncode == 0
        assert case.states() == ["queued", "queued"], case.story()
        assert [case.store.run(run_id).state for run_id in case.runs] == ["interrupted"] * 2
        _, alive = psutil.wait_procs(left, timeout=5.0)
        assert not alive
        case.start()
        case.wait_for_the_end()
        case.assert_as_undisturbed()


def test_pause_resume_cancel_and_delete_while_the_service_runs(tmp_path):
    with service_case(str(tmp_path / "s.sqlite"), tmp_path, budget=150) as case:
        case.start()
        first, second = case.runs
        case.wait_for_more(10)
        assert case.desk.pause(first, KIM).job.wish == "pause"
        case.desk.cancel(second, KIM)
        case.wait_until(lambda: case.states() == ["paused", "cancelled"])
        assert case.store.run(second).state == "cancelled"
        rows = case.store.count(first)
        time.sleep(1.0)
        assert case.store.count(first) == rows
        case.desk.delete(second, KIM)
        assert [view.record.run_id for view in case.desk.jobs(KIM)] == [first]
        case.desk.resume(first, KIM)
        case.runs = [first]
        case.wait_for_the_end()
        case.assert_as_undisturbed()


@pytest.mark.slow
def test_a_driver_that_dies_at_once_each_time_ends_its_job_not_the_others(tmp_path):
    with service_case(str(tmp_path / "s.sqlite"), tmp_path, budget=60) as case:
        # A study that another version wrote and this one cannot read.
        with case.store._database.writing() as transaction:
            transaction.run(
                "UPDATE runs SET study_text = ? WHERE run_id = ?", ("[nonsense", case.runs[0])
            )
        case.start()
        case.wait_for_the_end()
        bad, good = (case.store.job(run_id) for run_id in case.runs)
        assert (bad.state, good.state) == ("failed", "done"), case.story()
        assert "nonsense" in bad.reason or "StudyError" in bad.reason
        case.runs = case.runs[1:]
        case.assert_as_undisturbed()


@pytest.mark.slow
def test_a_second_service_waits_until_the_first_has_gone(tmp_path):
    with service_case(str(tmp_path / "s.sqlite"), tmp_path, budget=100) as case:
        first = case.start()
        case.wait_for_more(5)
        second = case.start()
        case.wait_until(lambda: "another service" in second.health.get("trouble", ""))
        assert second.health["drivers"] == {}
        first.kill_service()
        case.wait_for_the_end()
        case.assert_as_undisturbed()


# A thousand real evaluations with restarts between them, and once as many undisturbed.
@pytest.mark.timeout(2400)
@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("driver", [REAL_DRIVER], ids=["circuit-model"])
def test_kill_9_at_random_moments_with_the_real_model(store_address, tmp_path, kind, driver):
    compile_models(load(DEMO))  # may take minutes, which no test here is about
    pick = random.Random(f"{kind}")
    settings = {"budget": 500, "driver": driver, "workers": 2}
    with service_case(store_address, tmp_path, **settings) as case:
        service = case.start()
        for _ in range(3):
            case.wait_for_more(1)
            time.sleep(pick.uniform(0.0, 2.0))
            if case.states() != ["running", "running"]:
                break
            service = kill(case, service, kind)
        case.wait_until(lambda: not {"queued", "running"} & set(case.states()), 1200.0)
        case.assert_as_undisturbed()


@pytest.mark.slow
def test_a_killed_database_server_costs_nothing_that_was_committed(postgres_server, tmp_path):
    with service_case(postgres_server.new_database(), tmp_path, budget=160) as case:
        case.start()
        case.wait_for_more(20)
        counts = case.counts()
        postgres_server.stop()  # as a crash would: without waiting for its clients
        time.sleep(3.0)
        postgres_server.start()
        case.reopen()
        assert all(now >= then for now, then in zip(case.counts(), counts))
        case.wait_for_the_end()
        case.assert_as_undisturbed()
