"""Following a run to its end on the screen, here or at a service."""

import time
from collections.abc import Mapping
from typing import Any, cast, get_args

from optim.jobs.driver import RunEnd
from optim.jobs.progress import Progress
from optim.jobs.session import StopReason
from optim.service import documents
from optim.service.errors import ServiceError
from optim.service.progress_view import ProgressView
from optim.service.remote.store import RemoteStore
from optim.service.running import RunResult
from optim.service.screen import Screen
from optim.service.watching import Watcher
from optim.service.wording import count_text
from optim.store.contract import RunRecord

_WATCH_SECONDS = 0.5


def follow(
    watcher: Watcher, screen: Screen, *, is_told: bool = False, is_once: bool = False
) -> Progress:
    """Show a run until it is over; return how far it came.

    Parameters
    ----------
    watcher : Watcher
        Of the run.
    screen : Screen
        Where to.
    is_told : bool
        Whether each look is printed as a document instead of drawn.
    is_once : bool
        Whether to stop after the first look.
    """
    quiet = is_told or is_once or screen.is_quiet
    with ProgressView(watcher.study, watcher.run_id, console=screen.err, is_quiet=quiet) as view:
        while True:
            progress = watcher.look()
            if is_told:
                content = documents.progress_document(watcher.run_id, watcher.state, progress)
                screen.show_document(content, is_line=True)
            view.note = watcher.note
            view(progress, watcher.observer)
            if is_once or watcher.is_over:
                return progress
            time.sleep(_WATCH_SECONDS)


def rerun_there(
    service: RemoteStore, parent: RunRecord, asked: Mapping[str, Any], *, screen: Screen
) -> RunResult:
    """Hand a rerun to a service and follow it; Ctrl-C ends the following alone.

    Parameters
    ----------
    service : RemoteStore
        The service.
    parent : RunRecord
        The run to follow.
    asked : mapping
        Changes as the service's route takes them.
    screen : Screen
        Where to.

    Raises
    ------
    ServiceError
        If the run failed there.
    """
    made = service.connection.post("runs", parent.run_id, "rerun", body=asked)
    run_id = made["run"]
    screen.say(f"run {run_id}: {count_text(made['budget'])} evaluations at "
               f"{service.connection.url}; Ctrl-C leaves it running there")  # fmt: skip
    watcher = Watcher(service, service.run(run_id), is_supervised=True)
    try:
        progress = follow(watcher, screen)
    except KeyboardInterrupt:
        screen.say(f"it goes on: paretorque watch {run_id} --to {service.connection.url}")
        raise
    record = service.run(run_id)
    if record.state == "failed":
        status = service.connection.get("runs", run_id)
        raise ServiceError(
            f"run {run_id} failed at the service: {status['reason']}; 'paretorque job log {run_id} "
            f"--to {service.connection.url}' tells more"
        )
    state = "interrupted" if record.state == "paused" else record.state
    reason = record.reason if record.reason in get_args(StopReason) else "interrupted"
    end = RunEnd(state, cast(StopReason, reason), progress)
    return RunResult(run_id, end, watcher.front(), has_failed_too_often=False)
