import pytest

from optim.jobs.errors import ScheduleError
from optim.jobs.ordered import Ask, FreeSchedule, InFlight, OrderedSchedule, Tell


def steps_available(schedule):
    steps = []
    while (step := schedule.next_step()) is not None:
        steps.append(step)
    return steps


def test_candidate_n_is_asked_when_exactly_the_results_up_to_n_minus_lag_are_told():
    schedule = OrderedSchedule(lag=3, budget=6)
    assert steps_available(schedule) == [Ask(0), Ask(1), Ask(2)]
    schedule.arrive(1)
    schedule.arrive(2)
    assert steps_available(schedule) == []
    schedule.arrive(0)
    # By hand: after tell 0 candidate 3 is due, after tell 1 candidate 4, after tell 2 the last.
    assert steps_available(schedule) == [Tell(0), Ask(3), Tell(1), Ask(4), Tell(2), Ask(5)]
    for number in (5, 4, 3):
        schedule.arrive(number)
    assert steps_available(schedule) == [Tell(3), Tell(4), Tell(5)]
    assert schedule.is_finished


def test_lag_of_one_is_one_after_another():
    schedule = OrderedSchedule(lag=1, budget=2)
    assert steps_available(schedule) == [Ask(0)]
    schedule.arrive(0)
    assert steps_available(schedule) == [Tell(0), Ask(1)]


def test_a_budget_smaller_than_the_lag():
    schedule = OrderedSchedule(lag=10, budget=2)
    assert steps_available(schedule) == [Ask(0), Ask(1)]
    schedule.arrive(1)
    schedule.arrive(0)
    assert steps_available(schedule) == [Tell(0), Tell(1)]
    assert schedule.is_finished


def test_a_budget_of_nothing_is_finished():
    assert OrderedSchedule(lag=5, budget=0).is_finished


def test_after_stopping_what_was_asked_is_still_told():
    schedule = OrderedSchedule(lag=2, budget=100)
    steps_available(schedule)
    schedule.stop_asking()
    assert not schedule.is_finished
    schedule.arrive(0)
    schedule.arrive(1)
    assert steps_available(schedule) == [Tell(0), Tell(1)]
    assert schedule.is_finished


@pytest.mark.parametrize("number", [-1, 0, 2, 5])
def test_an_arrival_out_of_place_is_refused(number):
    schedule = OrderedSchedule(lag=2, budget=10)
    steps_available(schedule)
    schedule.arrive(0)
    steps_available(schedule)  # tells 0, asks 2
    schedule.arrive(2)
    with pytest.raises(ScheduleError, match=f"candidate {number}"):
        schedule.arrive(number)


@pytest.mark.parametrize(("lag", "budget"), [(0, 5), (-1, 5), (1, -1)])
def test_senseless_counts_are_refused(lag, budget):
    with pytest.raises(ScheduleError, match="allowed"):
        OrderedSchedule(lag=lag, budget=budget)
    with pytest.raises(ScheduleError, match="allowed"):
        FreeSchedule(room=lag, budget=budget)


def test_free_order_tells_as_results_come():
    schedule = FreeSchedule(room=2, budget=4)
    assert steps_available(schedule) == [Ask(0), Ask(1)]
    schedule.arrive(1)
    assert steps_available(schedule) == [Tell(1), Ask(2)]
    schedule.arrive(2)
    schedule.arrive(0)
    assert steps_available(schedule) == [Tell(2), Tell(0), Ask(3)]


def test_free_order_replays_its_record():
    # The session of the test above, ended before candidate 3 came back.
    past = [(0, 0), (1, 0), (2, 1), (3, 3)]
    schedule = FreeSchedule(room=1, budget=4, past=past)
    steps = steps_available(schedule)
    for number in (1, 2, 0):
        schedule.arrive(number)
        steps += steps_available(schedule)
    assert steps == [Ask(0), Ask(1), Tell(1), Ask(2), Tell(2), Tell(0), Ask(3)]
    assert not schedule.is_replaying
    assert not schedule.is_finished


def test_a_record_that_makes_no_sense_is_refused():
    schedule = FreeSchedule(room=1, budget=4, past=[(1, 0)])
    with pytest.raises(ScheduleError, match="recorded ask 1"):
        schedule.next_step()


def test_equal_designs_wait_for_one_evaluation():
    flight = InFlight()
    assert flight.add(3, "a")
    assert flight.add(4, "b")
    assert not flight.add(5, "a")
    assert len(flight) == 3
    assert flight.land("a") == (3, 5)
    assert flight.add(6, "a")
