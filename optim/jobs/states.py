"""States of a run and the events that change them, without any input or output."""

from typing import Literal, cast, get_args

from optim.jobs.errors import RunStateError

State = Literal["queued", "running", "interrupted", "done", "failed", "cancelled"]
Event = Literal["start", "finish", "interrupt", "fail", "cancel", "requeue"]

STATES: tuple[State, ...] = get_args(State)
EVENTS: tuple[Event, ...] = get_args(Event)

# Done and cancelled are final: more evaluations are another run, which reuses what is known.
# A failed run was stopped by an error of the program or of its surroundings; once that is
# repaired it may go on from its stored rows.
_NEXT: dict[tuple[State, Event], State] = {
    ("queued", "start"): "running",
    ("queued", "cancel"): "cancelled",
    ("running", "finish"): "done",
    ("running", "interrupt"): "interrupted",
    ("running", "fail"): "failed",
    ("running", "cancel"): "cancelled",
    ("interrupted", "start"): "running",
    ("interrupted", "requeue"): "queued",
    ("interrupted", "cancel"): "cancelled",
    ("failed", "start"): "running",
    ("failed", "requeue"): "queued",
    ("failed", "cancel"): "cancelled",
}


def next_state(state: str, event: Event) -> State:
    """Return the state that follows.

    Parameters
    ----------
    state : str
        Present state.
    event : {"start", "finish", "interrupt", "fail", "cancel", "requeue"}
        What happens.

    Raises
    ------
    RunStateError
        If the event is not allowed in the state.
    """
    found = _NEXT.get((cast(State, state), event))
    if found is None:
        allowed = ", ".join(allowed_events(state)) or "nothing, the state is final"
        raise RunStateError(f"a run that is {state} cannot {event}; allowed: {allowed}")
    return found


def allowed_events(state: str) -> tuple[Event, ...]:
    """Return the events that a state allows.

    Raises
    ------
    RunStateError
        If there is no such state.
    """
    if state not in STATES:
        raise RunStateError(f"given state {state!r}; allowed: {', '.join(STATES)}")
    return tuple(event for event in EVENTS if (state, event) in _NEXT)


def is_final(state: str) -> bool:
    """Return whether no event can change the state any more."""
    return not allowed_events(state)
