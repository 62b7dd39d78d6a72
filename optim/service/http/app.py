"""The application: parts put together, routes, errors in one shape."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

from models.errors import ModelError
from optim.errors import OptimError
from optim.export.context import program_version
from optim.service.http import (
    heavy,
    routes_candidates,
    routes_front,
    routes_pages,
    routes_runs,
    routes_studies,
)
from optim.service.http.context import Health, Service
from optim.service.http.feed import FeedShelf
from optim.service.http.gate import Gate
from optim.service.http.hub import Hub
from optim.service.http.logs import LOGGER
from optim.service.http.measures import Measures
from optim.service.http.pool import HeavyPool
from optim.service.http.problems import (
    MEDIA_TYPE,
    answer_error,
    answer_http,
    answer_validation,
)
from optim.service.http.settings import ServiceSettings
from optim.service.http.tokens import TokenFile
from optim.service.job_desk import JobDesk
from optim.store.queue_contract import JobStore

_PROBLEM = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "instance", "problems"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "problems": {"type": "array", "items": {"type": "object"}},
    },
}
_REFUSALS = {
    400: "the request cannot be read",
    401: "no token, or one that is not known",
    404: "not there, or somebody else's",
    409: "the run's state does not allow it",
    413: "too large",
    415: "another kind of content is wanted",
    422: "a mistake in study, query or body",
    429: "too many requests or runs",
    503: "the store cannot be reached, or too much is being computed",
}
DESCRIPTION = """Studies of traction motors as jobs: submit, watch the front grow, rank, look,
export. Documents are those of the command line's `--json`; errors are problem details (RFC 9457).
"""


def make_service(store: JobStore, settings: ServiceSettings, *, health: Health = dict) -> Service:
    """Return the parts of a service over an open store."""
    desk = JobDesk(store)
    shelf = FeedShelf(store)
    return Service(
        settings=settings,
        store=store,
        desk=desk,
        tokens=TokenFile(settings.tokens),
        shelf=shelf,
        hub=Hub(desk, shelf),
        pool=HeavyPool(settings.pool),
        health=health,
    )


def make_app(service: Service, *, is_warmed: bool = False) -> FastAPI:
    """Return the application of a service, its pool at work from the start if wanted."""

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        if is_warmed:
            warming = asyncio.create_task(service.pool.call(heavy.get_ready, key=""))
            warming.add_done_callback(_note_failure)
        yield
        await service.hub.close()
        await service.pool.close()

    content = {MEDIA_TYPE: {"schema": _PROBLEM}}
    refusals: dict[int | str, dict[str, Any]] = {
        status: {"description": words, "content": content} for status, words in _REFUSALS.items()
    }
    app = FastAPI(
        title="Paretorque",
        version=program_version(),
        description=DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=lifespan,
        responses=refusals,
    )
    app.state.service = service
    app.state.measures = Measures(service.desk, lambda: service.hub.watchers, service.health)
    for routes in (routes_pages, routes_studies, routes_runs, routes_front, routes_candidates):
        app.include_router(routes.router)
    for kind in (OptimError, ModelError):
        app.add_exception_handler(kind, answer_error)
    app.add_exception_handler(RequestValidationError, answer_validation)
    app.add_exception_handler(HTTPException, answer_http)
    app.add_middleware(
        Gate,
        tokens=service.tokens,
        allowance=service.settings.allowance,
        is_secure=service.settings.certificate is not None,
        measures=app.state.measures,
    )
    return app


def _note_failure(task: asyncio.Task[Any]) -> None:
    if not task.cancelled() and task.exception() is not None:
        LOGGER.warning("the pool could not be made ready: %s", task.exception())
