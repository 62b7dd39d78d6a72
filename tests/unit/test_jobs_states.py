import pytest

from optim.jobs.errors import RunStateError
from optim.jobs.states import EVENTS, STATES, allowed_events, is_final, next_state


def test_the_usual_life_of_a_run():
    state = "queued"
    for event, after in [
        ("start", "running"),
        ("interrupt", "interrupted"),
        ("start", "running"),
        ("finish", "done"),
    ]:
        state = next_state(state, event)
        assert state == after
    assert is_final(state)


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("event", EVENTS)
def test_every_pair_is_either_allowed_or_refused_with_what_is_allowed(state, event):
    if event in allowed_events(state):
        assert next_state(state, event) in STATES
    else:
        with pytest.raises(RunStateError, match="allowed"):
            next_state(state, event)


def test_only_done_and_cancelled_are_final():
    assert {state for state in STATES if is_final(state)} == {"done", "cancelled"}


def test_every_state_that_is_not_final_can_be_cancelled_and_leads_to_an_end():
    for state in STATES:
        if not is_final(state):
            assert next_state(state, "cancel") == "cancelled"


def test_an_unknown_state_is_named():
    with pytest.raises(RunStateError, match="'asleep'"):
        allowed_events("asleep")
