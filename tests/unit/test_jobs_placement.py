import pytest

from optim.jobs.placement import Placement, PlacementSettings


def placement(*workers, numbers=(), **settings):
    made = Placement(PlacementSettings(**settings))
    greet(made, *workers)
    for number in numbers:
        made.submit(number)
    return made


def greet(made, *workers, now=0.0):
    """Let workers appear and load the program."""
    made.see_workers(workers, now)
    for batch in made.place(now):
        assert batch.numbers == ()
        made.finish(batch.serial, 0.0, now)


def put(made, now=0.0):
    return {batch.worker: batch for batch in made.place(now)}


def test_oldest_designs_go_first_one_per_worker_while_times_are_unknown():
    made = placement("a", "b", numbers=[3, 1, 2])
    batches = put(made)
    assert {b.numbers for b in batches.values()} == {(1,), (2,)}
    assert made.in_flight == 3


def test_batches_grow_to_the_wanted_time():
    made = placement("a", numbers=range(500), batch_seconds=0.05)
    made.finish(put(made)["a"].serial, 0.005, 0.1)
    # 50 ms in evaluations of 5 ms, and a second batch to hide the round trip.
    assert [len(b.numbers) for b in made.place(0.1)] == [10, 10]


def test_batches_never_starve_a_worker():
    made = placement("a", "b", "c", numbers=range(9))
    first = put(made)
    for batch in first.values():
        made.finish(batch.serial, 1e-4, 0.1)
    # 500 would fit into one batch; six designs are left for three workers.
    assert [len(b.numbers) for b in made.place(0.1)] == [2, 2, 2]


def test_long_evaluations_do_not_wait_behind_another():
    made = placement("a", numbers=range(10))
    made.finish(put(made)["a"].serial, 5.0, 5.0)
    assert [len(b.numbers) for b in made.place(5.0)] == [1]


def test_a_poisonous_design_falls_alone():
    made = placement("a", numbers=[1, 2, 3], batch=3)
    poison = 2
    finished, given_up, worker = set(), set(), 0
    for _ in range(20):
        for batch in made.place(0.0):
            if poison in batch.numbers:
                given_up |= set(made.lose_worker(batch.worker))
                worker += 1
                made.see_workers([f"w{worker}"], 0.0)
            else:
                finished |= set(made.finish(batch.serial, 0.1, 0.0))
    assert finished == {1, 3}
    assert given_up == {2}
    assert worker == 3  # once in company, twice alone
    assert made.in_flight == 0


def test_suspects_share_a_worker_with_nothing():
    made = placement("a", "b", numbers=range(4), batch=2)
    batches = put(made)
    made.lose_worker("a")
    made.submit(10)
    greet(made, "b", "c")
    alone = put(made)["c"]
    assert alone.is_alone
    assert alone.numbers == (batches["a"].numbers[0],)
    assert all(batch.worker != "c" for batch in made.place(0.0))


def test_one_lost_worker_is_no_reason_to_give_a_design_up():
    made = placement("a", numbers=[7])
    put(made)
    assert made.lose_worker("a") == ()
    greet(made, "b")
    batch = put(made)["b"]
    assert made.finish(batch.serial, 0.1, 0.1) == (7,)


def test_late_results_of_a_lost_worker_are_ignored():
    made = placement("a", numbers=[7])
    serial = put(made)["a"].serial
    made.lose_worker("a")
    assert made.finish(serial, 0.1, 0.1) == ()
    assert made.in_flight == 1


def test_time_limit_counts_from_the_start_on_the_worker():
    made = placement("a", numbers=range(3), time_limit=10.0, start_grace=5.0)
    first = put(made)["a"]
    assert made.overdue(14.9) == ()
    assert made.overdue(15.1) == (first,)
    made.finish(first.serial, 14.95, 14.95)
    second = put(made, 14.95)["a"]
    assert made.overdue(24.9) == ()
    assert made.overdue(25.0) == (second,)
    assert made.expire(second) == second.numbers
    assert made.in_flight == 1


def test_an_overdue_batch_is_tried_one_by_one():
    made = placement("a", numbers=[1, 2], batch=2, time_limit=1.0, start_grace=0.0)
    batch = put(made)["a"]
    assert made.expire(batch) == ()
    greet(made, "b", now=2.0)
    alone = put(made, 2.0)["b"]
    assert alone.numbers == (1,)
    assert alone.is_alone
    assert made.expire(alone) == (1,)


def test_what_waited_behind_an_overdue_batch_is_not_suspect():
    made = placement("a", numbers=range(200), time_limit=1.0)
    made.finish(put(made)["a"].serial, 0.005, 0.0)
    running, behind = made.place(0.0)
    made.expire(running)
    greet(made, "b", now=2.0)
    alone, together = set(), set()
    while made.in_flight:
        for batch in made.place(2.0):
            (alone if batch.is_alone else together).update(batch.numbers)
            made.finish(batch.serial, 0.005 * len(batch.numbers), 2.0)
    assert alone == set(running.numbers)
    assert set(behind.numbers) <= together


def test_withdrawing_leaves_only_what_is_on_workers():
    made = placement("a", numbers=[1, 2, 3])
    batch = put(made)["a"]
    assert made.withdraw() == (2, 3)
    assert made.in_flight == 1
    made.finish(batch.serial, 0.1, 0.1)
    assert made.in_flight == 0


def test_a_worker_that_has_not_loaded_the_program_is_given_no_design():
    made = Placement(PlacementSettings(time_limit=10.0, start_grace=5.0))
    made.submit(0)
    made.see_workers(["a"], 0.0)
    (loading,) = made.place(0.0)
    assert loading.numbers == ()
    assert made.place(1.0) == ()
    assert made.overdue(14.0) == ()
    assert made.overdue(15.5) == (loading,)
    assert made.expire(loading) == ()
    greet(made, "b", now=16.0)
    assert put(made, 16.0)["b"].numbers == (0,)


def test_time_for_compiling_is_given_once_per_host():
    made = placement("h:1", "g:1", numbers=range(4), time_limit=10.0, start_grace=5.0)
    batches = put(made)
    made.finish(batches["h:1"].serial, 12.0, 12.0)
    put(made, 12.0)
    assert made.overdue(14.9) == ()  # nothing has finished on host g yet
    assert {batch.worker for batch in made.overdue(15.1)} == {"g:1"}
    assert {batch.worker for batch in made.overdue(22.5)} == {"g:1", "h:1"}


def test_a_lost_scheduler_blames_no_design():
    made = placement("a", numbers=[1, 2], batch=2)
    for _ in range(5):
        assert put(made)["a"].numbers == (1, 2)
        made.forget_workers()
        greet(made, "a")
    assert made.in_flight == 2


@pytest.mark.parametrize("batch", [1, 3, 7])
def test_a_given_batch_size_is_kept(batch):
    made = placement("a", numbers=range(30), batch=batch)
    assert len(put(made)["a"].numbers) == batch


def test_on_shared_workers_other_runs_batches_are_waited_for_before_a_design_is_overdue():
    settings = PlacementSettings(time_limit=60.0, start_grace=0.0).shared(3)
    made = Placement(settings)
    greet(made, "a")
    made.submit(1)
    put(made)
    # Two other runs may have two batches each on the worker, each as long as an evaluation may be.
    assert made.overdue(60.0 + 2 * 2 * 60.0) == ()
    assert [batch.numbers for batch in made.overdue(60.1 + 2 * 2 * 60.0)] == [(1,)]


def test_on_shared_workers_a_design_is_not_blamed_for_two_losses():
    settings = PlacementSettings()
    assert settings.shared(1) == settings
    assert settings.shared(2).max_losses > settings.max_losses
