"""The driver of one job as a process of its own, a child of the supervisor.

It reads its order as one line of JSON: database, run, and where the workers are. Everything it
finds goes into the database; its exit code says how it ended, its last line of output why.
"""

import json
import logging
import os
import sys
import threading
import time
from contextlib import suppress
from functools import partial
from typing import Any

from optim.jobs.dask_dispatcher import ClusterSettings
from optim.jobs.errors import DispatchError, UnreachableError
from optim.jobs.interruption import Interruption, by_signals
from optim.jobs.progress import Progress
from optim.jobs.tether import Tether, read_order
from optim.service.job_ends import CRASHED, ENDED, FAILED, UNREACHABLE
from optim.service.job_log import writing_to_log
from optim.service.observer import FrontObserver
from optim.service.progress_text import progress_to_text
from optim.service.run_store import study_of
from optim.service.running import RunResult, compile_models, drive_run
from optim.store.errors import RunHeldError, StoreBusyError, StoreError
from optim.store.opening import open_database
from optim.store.queue_contract import JobStore

PATIENCE_SECONDS = 20.0
"""How long to finish what workers are busy with, once the supervisor is gone [s]."""
_REPORT_SECONDS = 0.5

logger = logging.getLogger(__name__)


def main() -> int:
    """Drive the job of the order; return the exit code."""
    order = json.loads(read_order() or "{}")
    if not order:
        return CRASHED
    interruption = Interruption()
    tether = Tether(lambda: _leave(interruption))
    try:
        with (
            open_database(order["database"], is_checked=False) as store,
            writing_to_log(order["database"], order["run_id"]),
            by_signals(interruption),
        ):
            return _drive(store, order, interruption, tether)
    except StoreError as error:
        return _end(UNREACHABLE, str(error))


def _drive(
    store: JobStore, order: dict[str, Any], interruption: Interruption, tether: Tether
) -> int:
    run_id = order["run_id"]
    try:
        record = store.run(run_id)
        if order["is_embedded"]:
            compile_models(study_of(record))
        if tether.has_ended:
            return _end(CRASHED, "the supervisor went before the run began")
        result = drive_run(
            store,
            record,
            cluster=ClusterSettings(**order["cluster"]),
            listen=_Reporter(store, run_id),
            interruption=interruption,
            sharing=order["sharing"],
        )
    except (StoreBusyError, UnreachableError) as error:
        logger.warning("%s", error)
        return _end(UNREACHABLE, str(error))
    except (RunHeldError, StoreError, DispatchError) as error:
        logger.warning("%s: %s", type(error).__name__, error)
        return _end(CRASHED, f"{type(error).__name__}: {error}")
    except Exception as error:  # an error of the program: it is told, and would come again
        logger.exception("the driver failed")
        return _end(FAILED, f"{type(error).__name__}: {error}")
    store.report_progress(run_id, progress_to_text(result.end.progress))
    if result.has_failed_too_often:
        return _end(FAILED, _failures(result))
    return _end(ENDED, result.end.reason)


class _Reporter:
    """Writes progress into the database, not oftener than people can read."""

    def __init__(self, store: JobStore, run_id: str) -> None:
        self._store, self._run_id = store, run_id
        self._next = 0.0

    def __call__(self, progress: Progress, observer: FrontObserver) -> None:
        now = time.monotonic()
        if now >= self._next:
            self._next = now + _REPORT_SECONDS
            self._store.report_progress(self._run_id, progress_to_text(progress))


def _failures(result: RunResult) -> str:
    counts = result.front.counts
    reasons = ", ".join(f"{reason} ({n})" for reason, n in counts.reasons.items())
    return f"{counts.failed} of {counts.total} evaluations failed: {reasons}"


def _leave(interruption: Interruption) -> None:
    interruption.request()
    # The second request stops at once; where even that is not heard, because workers are waited
    # for that are gone too, what is committed is all there is.
    for seconds, action in (
        (PATIENCE_SECONDS, interruption.request),
        (PATIENCE_SECONDS + 5.0, partial(os._exit, CRASHED)),
    ):
        timer = threading.Timer(seconds, action)
        timer.daemon = True
        timer.start()


def _end(code: int, reason: str) -> int:
    with suppress(OSError):  # the supervisor that would read it may be gone
        print(json.dumps({"reason": reason}), flush=True)
    return code


if __name__ == "__main__":
    sys.exit(main())
