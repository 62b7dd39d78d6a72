"""Driving a run through its states.

Store first, tell second: a result is committed before the search sees it, so a run that ends in
any way goes on from its rows. Resume is replay: the loop is the same, with stored rows in place of
evaluations, and because a search is a function of its calls it comes to the identical state.
"""

import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass

from optim.jobs.dispatcher import Dispatcher
from optim.jobs.errors import DispatchError, ReplayError
from optim.jobs.interruption import Interruption
from optim.jobs.plan import DesignFunctions, Plan, Searcher
from optim.jobs.progress import Observe, Progress
from optim.jobs.session import Session, StopReason
from optim.jobs.states import Event, next_state
from optim.store.contract import Store
from optim.store.errors import StoreError

_EVENT: Mapping[StopReason, Event] = {
    "budget": "finish",
    "stall": "finish",
    "wall_time": "finish",
    "interrupted": "interrupt",
    "cancelled": "cancel",
}


@dataclass(frozen=True)
class RunEnd:
    """How a session of driving ended.

    Attributes
    ----------
    state : str
        State of the run now.
    reason : {"budget", "stall", "wall_time", "interrupted", "cancelled"}
        What ended it.
    progress : Progress
        The last moment.
    """

    state: str
    reason: StopReason
    progress: Progress


def drive(
    run_id: str,
    searcher: Searcher,
    dispatcher: Dispatcher,
    store: Store,
    *,
    functions: DesignFunctions,
    plan: Plan,
    observe: Observe | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    interruption: Interruption | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> RunEnd:
    """Drive a run from where it stands to its end or to an interruption.

    Parameters
    ----------
    run_id : str
        A run of the store that is queued, interrupted or failed, or was left running by a driver
        that died.
    searcher : Searcher
        In its initial state also on resume.
    dispatcher : Dispatcher
        Evaluates; is not closed here.
    store : Store
        Keeps every row.
    functions : DesignFunctions
        Of the study.
    plan : Plan
        Order and end; lag and order must be those the run began with.
    observe : callable or None
        Keeps the front; needed for the stall rule.
    on_progress : callable or None
        Called a few times per second and once at the end.
    interruption : Interruption or None
        Requests to stop by hand.
    clock : callable
        Rising time [s].

    Returns
    -------
    RunEnd
        The state reached and why.

    Raises
    ------
    RunHeldError
        If another process is driving the run.
    RunStateError
        If the run's state does not allow it.
    StoreError, DispatchError
        If store or workers fail; the run is left resumable.
    ReplayError
        If the stored rows do not fit the search.
    """
    with store.hold(run_id):
        record = store.run(run_id)
        order = record.notes.get("order", plan.order)
        if order != plan.order:
            raise ReplayError(
                f"run {run_id!r} was begun {order}, given {plan.order}; resume it as it was begun"
            )
        state = record.state
        if state == "running":
            # Nobody holds it, so its driver died.
            state = _change(store, run_id, state, "interrupt", "the driver ended unexpectedly")
        _change(store, run_id, state, "start", "")
        store.note(run_id, "order", plan.order)
        session = Session(
            record,
            searcher,
            dispatcher,
            store,
            functions=functions,
            plan=plan,
            observe=observe,
            on_progress=on_progress,
            interruption=interruption or Interruption(),
            clock=clock,
        )
        try:
            reason = session.go()
        except BaseException as error:
            is_passing = isinstance(error, (StoreError, DispatchError)) or not isinstance(
                error, Exception
            )
            with suppress(StoreError):  # the first error tells more than that it was not noted
                text = f"{type(error).__name__}: {error}"
                _change(store, run_id, "running", "interrupt" if is_passing else "fail", text)
            raise
        end = _change(store, run_id, "running", _EVENT[reason], reason)
        return RunEnd(end, reason, session.progress())


def _change(store: Store, run_id: str, state: str, event: Event, reason: str) -> str:
    after = next_state(state, event)
    store.change_state(run_id, state, after, reason=reason)
    return after
