"""Routes on runs: submit, list, status, pause, resume, cancel, delete, log, rerun."""

import asyncio
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from optim.service.documents import document, front_document, front_entries
from optim.service.http.context import (
    Asker,
    DocumentResponse,
    Parts,
    RunId,
    Service,
    answered,
    seen_run,
)
from optim.service.http.problems import ApiError
from optim.service.http.requests import (
    Number,
    PriorityBody,
    RerunBody,
    SubmitBody,
    check_size,
    check_text,
    read_study,
    study_content,
)
from optim.service.http.status import run_entries, status_document
from optim.service.http.study_documents import study_entries
from optim.service.job_desk import JobView, Person
from optim.service.options import read_prices
from optim.service.rerunning import RerunPlan, plan_rerun

router = APIRouter(prefix="/api/v1/runs", tags=["runs"])
_OPEN = ("queued", "running", "paused")


@router.get("")
def runs(
    service: Parts,
    asker: Asker,
    limit: Annotated[int, Query(ge=1, le=500)] = 50,
    offset: Annotated[int, Query(ge=0, le=10**9)] = 0,
) -> DocumentResponse:
    """The runs that the asker may see, newest first."""
    views = service.desk.jobs(asker)
    listed = [
        run_entries(view, service.store.count(view.record.run_id))
        for view in views[offset : offset + limit]
    ]
    return answered(document("runs", runs=listed, total=len(views)))


@router.post("", status_code=201, openapi_extra=study_content(SubmitBody))
async def submit(request: Request, service: Parts, asker: Asker) -> DocumentResponse:
    """Put a study into the queue. Nothing is stored unless all of it is right."""
    body: SubmitBody = await read_study(request, SubmitBody)
    return await asyncio.to_thread(_submit, body, service, asker)


def _submit(body: SubmitBody, service: Service, asker: Person) -> DocumentResponse:
    allowance = service.settings.allowance
    check_text(body.study, allowance)
    check_size(service.desk.validate(body.study), allowance, budget=body.budget)
    _check_room(service, asker)
    view = service.desk.submit(
        body.study, asker, priority=body.priority, budget=body.budget, seed=body.seed
    )
    return _created(service, view)


@router.get("/{run}")
def status(run: RunId, service: Parts, asker: Asker) -> DocumentResponse:
    """How a run stands and what may be done with it."""
    return answered(status_document(*seen_run(service, run, asker)))


@router.patch("/{run}")
def change(run: RunId, body: PriorityBody, service: Parts, asker: Asker) -> DocumentResponse:
    """Change a run's place in the queue."""
    view = service.desk.set_priority(run, asker, priority=body.priority)
    return _status(service, view)


@router.delete("/{run}", status_code=204)
def delete(run: RunId, service: Parts, asker: Asker) -> Response:
    """Remove a run that is not running, with everything evaluated in it."""
    run_id = service.desk.status(run, asker).record.run_id
    service.desk.delete(run_id, asker)
    service.shelf.forget(run_id)
    return Response(status_code=204)


@router.post("/{run}/pause", status_code=202)
def pause(run: RunId, service: Parts, asker: Asker) -> DocumentResponse:
    """Let a run rest; what its workers are busy with is kept."""
    return _status(service, service.desk.pause(run, asker), 202)


@router.post("/{run}/resume", status_code=202)
def resume(run: RunId, service: Parts, asker: Asker) -> DocumentResponse:
    """Let a paused or failed run go on."""
    return _status(service, service.desk.resume(run, asker), 202)


@router.post("/{run}/cancel", status_code=202)
def cancel(run: RunId, service: Parts, asker: Asker) -> DocumentResponse:
    """End a run for good; what was evaluated stays."""
    return _status(service, service.desk.cancel(run, asker), 202)


@router.get("/{run}/study")
def study(run: RunId, service: Parts, asker: Asker) -> DocumentResponse:
    """The study of a run: its text, and what a page needs of it."""
    view, feed = seen_run(service, run, asker)
    return answered(
        document("study", run=view.record.run_id, text=view.record.study_text,
                 study=study_entries(feed.study))
    )  # fmt: skip


@router.get("/{run}/log")
def log(run: RunId, service: Parts, asker: Asker, after: Number = 0) -> DocumentResponse:
    """The log of a run, oldest line first."""
    run_id = service.desk.status(run, asker).record.run_id
    lines = [
        {"number": line.sequence, "unix_s": line.moment, "level": line.level, "text": line.text}
        for line in service.desk.logs(run_id, asker, after=after)
    ]
    return answered(document("log", run=run_id, lines=lines))


@router.post("/{run}/rerun", status_code=201)
def rerun(run: RunId, body: RerunBody, service: Parts, asker: Asker) -> DocumentResponse:
    """Run a study again under other aims; all earlier evaluations are judged anew first."""
    view = service.desk.status(run, asker)
    prices = read_prices([f"{key}={price!r}" for key, price in body.prices.items()])
    changes: dict[str, Any] = {
        "limits": body.limits, "objectives": body.objectives, "prices": prices,
        "budget": body.budget, "seed": body.seed, "allow_looser": body.allow_looser,
    }  # fmt: skip
    plan: RerunPlan = plan_rerun(service.store, view.record, **changes)
    if body.dry_run:
        return answered(front_document(plan.known, kind="known_front"))
    check_size(plan.study, service.settings.allowance)
    _check_room(service, asker)
    made = service.desk.rerun(view.record.run_id, asker, priority=body.priority, **changes)
    return _created(service, made, known=front_entries(plan.known))


def _check_room(service: Service, asker: Person) -> None:
    most = service.settings.allowance.runs_waiting
    mine = [v for v in service.desk.jobs(asker, states=_OPEN) if v.job.owner == asker.name]
    if len(mine) >= most:
        raise ApiError(
            429, f"{asker.name} has {len(mine)} runs that wait or run; allowed: {most}; cancel one "
            "or wait", headers={"retry-after": "60"},
        )  # fmt: skip


def _created(service: Service, view: JobView, **more: Any) -> DocumentResponse:
    feed = service.shelf.feed(view.record)
    feed.refresh(view.record)
    content = status_document(view, feed, **more)
    return answered(content, 201, location=f"/api/v1/runs/{view.record.run_id}")


def _status(service: Service, view: JobView, code: int = 200) -> DocumentResponse:
    feed = service.shelf.feed(view.record)
    feed.refresh(view.record)
    return answered(status_document(view, feed), code)
