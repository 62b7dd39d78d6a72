"""How drivers end, as driver and supervisor both understand it."""

from contextlib import suppress

from optim.jobs.life_cycle import DriverEnd
from optim.jobs.states import allowed_events
from optim.store.contract import RunRecord
from optim.store.errors import StaleStateError
from optim.store.queue_contract import JobStore

ENDED, CRASHED, FAILED, UNREACHABLE = 0, 1, 2, 3
"""Exit codes of a driver.

The run's state says how it ended; it may be tried again; it would fail again; workers or database
are out of reach.
"""


def end_of(record: RunRecord, code: int) -> DriverEnd:
    """Return how a driver ended, by its run and its exit code."""
    if record.state in ("done", "cancelled"):
        return "done" if record.state == "done" else "cancelled"
    if code == FAILED:
        return "failed"
    if code == UNREACHABLE:
        return "unreachable"
    return "interrupted" if code == ENDED else "crashed"


def close_run(store: JobStore, run_id: str) -> None:
    """Let the run of a cancelled job be cancelled too, so that nobody resumes it by mistake."""
    record = store.run(run_id)
    if "cancel" in allowed_events(record.state):
        with suppress(StaleStateError):
            store.change_state(run_id, record.state, "cancelled", reason="its job was cancelled")
