"""Everything of a service on one machine: store, supervisor, workers, HTTP interface."""

from collections.abc import Callable, Mapping
from typing import Any

from optim.service.http.app import make_app, make_service
from optim.service.http.logs import start_logging
from optim.service.http.server import Server, check_listening
from optim.service.http.settings import ServiceSettings
from optim.service.http.tokens import TokenFile
from optim.service.run_store import open_store
from optim.service.supervisor import Supervisor, SupervisorSettings


def serve(
    settings: ServiceSettings,
    supervision: SupervisorSettings,
    *,
    on_started: Callable[[str], None],
) -> None:
    """Serve until a signal ends it; jobs that run then go on at the next start.

    Parameters
    ----------
    settings : ServiceSettings
        Where to listen and what to work with.
    supervision : SupervisorSettings
        Workers and jobs at a time.
    on_started : callable
        Called with the URL once requests are answered.

    Raises
    ------
    RequestError, TokenFileError
        When it may not listen there.
    StoreError
        When the store cannot be opened.
    """
    check_listening(settings, TokenFile(settings.tokens))
    with open_store(settings.database, is_new_allowed=True) as store:
        supervisor = Supervisor(settings.database, supervision)
        service = make_service(store, settings, health=lambda: health_of(supervisor, supervision))
        start_logging()
        supervisor.start()
        try:
            app = make_app(service, is_warmed=True)
            Server(app, settings, on_started=on_started, on_stopping=service.hub.close).run()
        finally:
            supervisor.stop()


def health_of(supervisor: Supervisor, supervision: SupervisorSettings) -> Mapping[str, Any]:
    """Return what a supervisor says of itself as entries of the health document."""
    found = supervisor.health()
    # What exactly is for the log: health is told to everybody.
    faults = ["the supervisor cannot work; the log says why"] if found.trouble else []
    if not found.is_alive:
        faults.append("the supervisor is not running")
    elif not (found.has_workers or found.trouble):
        faults.append("the workers are starting")
    # With a scheduler of somebody else its workers are not ours to count.
    workers = {} if supervision.scheduler else {"workers": supervision.workers}
    return {"faults": faults, "is_supervising": found.is_supervising, **workers}
