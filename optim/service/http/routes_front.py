"""Routes on what a run has found: points, front, events; and raw rows for the command line."""

from dataclasses import replace
from itertools import islice
from typing import Annotated

from fastapi import APIRouter, Header, Query
from fastapi.responses import Response, StreamingResponse

from optim.service import options
from optim.service.documents import document, front_document
from optim.service.errors import RequestError
from optim.service.http.context import (
    Asker,
    DocumentResponse,
    Parts,
    RunId,
    Service,
    answered,
    seen_run,
    seen_run_async,
)
from optim.service.http.feed import (
    OBJECTIVES,
    RunFeed,
    points_document,
    wanted_metrics,
)
from optim.service.http.requests import Line, Number
from optim.service.results import FrontResult
from optim.service.run_store import VERIFIES
from optim.service.verified import FIELD, Verification, read_verification
from optim.service.verify_view import verification_entries
from optim.store.wire import row_entries, run_entries
from optim.study.change import with_changes

router = APIRouter(prefix="/api/v1/runs/{run}", tags=["results"])

By = Annotated[str, Query(max_length=40, description="compromise, goals or knee")]
Pairs = Annotated[str, Query(max_length=1000, description="NAME=VALUE, apart by commas")]
LimitTexts = Annotated[
    list[Line], Query(max_length=100, description="As in `magnet_mass <= 1.2 kg`; repeatable")
]


@router.get("/points")
def points(
    run: RunId,
    service: Parts,
    asker: Asker,
    after: Annotated[Number, Query()] = 0,
    limit: Annotated[int, Query(ge=1, le=5000)] = 2000,
    metrics: Annotated[str, Query(max_length=4000)] = OBJECTIVES,
) -> DocumentResponse:
    """Everything evaluated, in the order of commits, after a sequence number."""
    _, feed = seen_run(service, run, asker)
    names = wanted_metrics(feed.study, metrics)
    found = feed.points(after, most=limit)
    is_more = bool(found) and found[-1].sequence < feed.last
    content = points_document(feed, found, metrics=names, after=after, is_more=is_more)
    return answered(content)


@router.get("/front")
def front(
    run: RunId,
    service: Parts,
    asker: Asker,
    by: By = "",
    weights: Pairs = "",
    goals: Pairs = "",
    limit: LimitTexts = [],  # noqa: B006  (the framework copies it)
    verified: bool = False,
    top: Annotated[int | None, Query(ge=1, le=10**6)] = None,
) -> DocumentResponse:
    """The ranked front, under other weights, goals and limits for this look if given."""
    found, verification = _front(service, run, asker, by, weights, goals, limit, verified)
    content = front_document(found, top=top)
    content["model"] = FIELD if verified else found.study.model
    content["verification"] = verification_entries(verification)
    return answered(content)


@router.get("/front.csv")
def front_csv(
    run: RunId,
    service: Parts,
    asker: Asker,
    by: By = "",
    weights: Pairs = "",
    goals: Pairs = "",
    limit: LimitTexts = [],  # noqa: B006  (the framework copies it)
    verified: bool = False,
) -> Response:
    """The ranked front as a table."""
    found, _ = _front(service, run, asker, by, weights, goals, limit, verified)
    name = f'attachment; filename="{found.run_id}-front.csv"'
    return Response(
        found.table().to_csv(), media_type="text/csv", headers={"content-disposition": name}
    )


@router.get("/events")
async def events(
    run: RunId,
    service: Parts,
    asker: Asker,
    after: Annotated[Number, Query()] = 0,
    last_event_id: Annotated[str, Header(max_length=40)] = "",
) -> Response:
    """Evaluations and progress as they come, as server-sent events."""
    if last_event_id:
        if not (last_event_id.isascii() and last_event_id.isdecimal()):
            raise RequestError(f"Last-Event-ID: given {last_event_id!r}; allowed: a number")
        after = int(last_event_id)
    view, _ = await seen_run_async(service, run, asker)
    return StreamingResponse(
        service.hub.stream(view, after=after),
        media_type="text/event-stream",
        headers={"cache-control": "no-store", "x-accel-buffering": "no"},
    )


@router.get("/record", tags=["client"])
def record(run: RunId, service: Parts, asker: Asker) -> DocumentResponse:
    """A run as the store has it."""
    view = service.desk.status(run, asker)
    # The job's state: a run that waits to go on after a restart is not over.
    return answered(document("record", **run_entries(replace(view.record, state=view.job.state))))


@router.get("/rows", tags=["client"])
def rows(
    run: RunId,
    service: Parts,
    asker: Asker,
    after: Annotated[Number, Query()] = 0,
    limit: Annotated[int, Query(ge=1, le=5000)] = 1000,
    verifications: bool = False,
) -> DocumentResponse:
    """Evaluations to the last bit, of the run or of its verifications."""
    found = service.desk.status(run, asker).record
    if verifications:
        listed = [
            row_entries(row)
            for other in service.store.runs()
            if other.settings.get(VERIFIES) == found.run_id
            for row in service.store.rows(other.run_id)
        ]
        return answered(document("rows", next=0, more=False, rows=listed))
    taken = list(islice(service.store.rows_after(found.run_id, after), limit + 1))
    kept = taken[:limit]
    content = document(
        "rows",
        next=kept[-1].sequence if kept else after,
        more=len(taken) > limit,
        rows=[row_entries(row) for row in kept],
    )
    return answered(content)


def _front(
    service: Service,
    run: str,
    asker: Asker,
    by: str,
    weights: str,
    goals: str,
    limits: list[str],
    is_verified: bool,
) -> tuple[FrontResult, Verification]:
    view, feed = seen_run(service, run, asker)
    found = asked_front(feed, by=by, weights=weights, goals=goals, limits=limits)
    verification = read_verification(service.store, view.record, found)
    if is_verified:
        if not verification.verified:
            raise RequestError(
                f"verified: run {found.run_id} has no verified member; allowed: false"
            )
        found = verification.by_field
    return found, verification


def asked_front(
    feed: RunFeed, *, by: str, weights: str, goals: str, limits: list[str]
) -> FrontResult:
    """Return the front under the preferences of a query, as `front` ranks it."""
    method = options.method_of(by)
    if not (weights or goals or limits):
        return feed.front() if method is None else feed.front(feed.study, method)
    study = feed.study
    if limits:
        study = with_changes(study, limits=limits, allow_looser=True)
    study = options.with_preferences(study, weights=weights, goals=goals)
    if weights and method is None:
        method = "weights"
    return feed.front(study, method)
