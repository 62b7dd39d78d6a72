"""Whatever happens outside, the search sees one fixed sequence."""

from hypothesis import given
from hypothesis import strategies as st

from optim.jobs.ordered import Ask, FreeSchedule, OrderedSchedule, Tell


def expected_sequence(lag, budget):
    """The fixed sequence written down from its definition, not from the schedule."""
    steps = []
    told = 0
    for number in range(budget):
        while told <= number - lag:
            steps.append(Tell(told))
            told += 1
        steps.append(Ask(number))
    return steps + [Tell(number) for number in range(told, budget)]


@given(
    lag=st.integers(1, 12),
    budget=st.integers(0, 40),
    workers=st.integers(1, 9),
    stored=st.integers(0, 2**40 - 1),
    data=st.data(),
)
def test_any_arrival_order_any_workers_any_resume_point_gives_one_sequence(
    lag, budget, workers, stored, data
):
    # Bits of `stored` say which results an earlier session has left behind, with gaps.
    schedule = OrderedSchedule(lag=lag, budget=budget)
    steps, waiting, running = [], [], []
    while not schedule.is_finished:
        step = schedule.next_step()
        if step is not None:
            steps.append(step)
            if isinstance(step, Ask):
                if stored >> step.number & 1:
                    schedule.arrive(step.number)
                else:
                    waiting.append(step.number)
            continue
        while waiting and len(running) < workers:
            running.append(waiting.pop(0))
        # Nothing may wait for ever: without a step there is always something running.
        index = data.draw(st.integers(0, len(running) - 1))
        schedule.arrive(running.pop(index))
    assert steps == expected_sequence(lag, budget)


@given(room=st.integers(1, 8), budget=st.integers(0, 30), cut=st.integers(0, 60), data=st.data())
def test_a_cut_free_run_replays_to_the_same_calls(room, budget, cut, data):
    schedule = FreeSchedule(room=room, budget=budget)
    calls, asks, tells, running = [], [], [], []
    while not schedule.is_finished and len(calls) < cut:
        step = schedule.next_step()
        if isinstance(step, Ask):
            asks.append((step.number, schedule.told))
            running.append(step.number)
        elif isinstance(step, Tell):
            tells.append(step.number)
        else:
            index = data.draw(st.integers(0, len(running) - 1))
            schedule.arrive(running.pop(index))
            continue
        calls.append(step)

    replay = FreeSchedule(room=1, budget=budget, past=asks)
    again, left = [], list(tells)
    while replay.is_replaying or left:
        step = replay.next_step()
        if step is not None:
            again.append(step)
        else:
            replay.arrive(left.pop(0))
    while len(again) < len(calls):
        again.append(replay.next_step())
    assert again[: len(calls)] == calls
