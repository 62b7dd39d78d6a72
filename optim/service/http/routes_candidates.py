"""Routes on single designs of a run: in full, drawn, as a pack, side by side."""

import asyncio
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response

from optim.service import documents
from optim.service.comparing import comparison
from optim.service.designs import Assessment, Design
from optim.service.http import heavy
from optim.service.http.candidates import assessed, candidate_design, design_order
from optim.service.http.context import (
    Asker,
    CandidateId,
    DocumentResponse,
    Parts,
    RunId,
    Service,
    answered,
    seen_run_async,
)
from optim.service.http.feed import RunFeed
from optim.service.job_desk import JobView
from optim.service.verified import read_verification
from optim.service.verify_view import member_entries

router = APIRouter(prefix="/api/v1", tags=["candidates"])
_PLACE = "/runs/{run}/candidates/{candidate}"
Pair = Annotated[
    str, Query(max_length=130, pattern=r"^[^:]*(:\d{1,18})?$", description="RUN or RUN:CANDIDATE")
]


@router.get(_PLACE)
async def candidate(
    run: RunId, candidate: CandidateId, service: Parts, asker: Asker
) -> DocumentResponse:
    """One design in full: parameters, metrics, margins, what binds, cost by item."""
    view, feed = await seen_run_async(service, run, asker)
    design = await asyncio.to_thread(candidate_design, feed, candidate)
    result = await assessed(service, design, feed)
    return answered(await asyncio.to_thread(_in_full, service, view, feed, result))


def _in_full(
    service: Service, view: JobView, feed: RunFeed, result: Assessment
) -> documents.Document:
    front = feed.front()
    number = result.design.number
    chosen = next((c for c in front.candidates if c.number == number), None)
    if chosen is not None:
        content = documents.candidate_document(front, chosen, result)
        member = read_verification(service.store, view.record, front).member(chosen.number)
    else:
        member = None
        content = documents.document(
            "candidate", run=front.run_id, candidate=number, rank=None,
            of=len(front.candidates), ranked_by=front.method, pseudo_weights={},
            **documents.assessment_entries(result),
        )  # fmt: skip
    return content | {"verification": member_entries(member)}


@router.get(_PLACE + "/details")
async def details(
    run: RunId, candidate: CandidateId, service: Parts, asker: Asker
) -> DocumentResponse:
    """What is drawn of a design, as numbers."""
    order = await _order(service, run, candidate, asker)
    return answered(await service.pool.call(heavy.details, order, key=_key(order)))


@router.get(_PLACE + "/explanation")
async def explanation(
    run: RunId, candidate: CandidateId, service: Parts, asker: Asker
) -> DocumentResponse:
    """Where a design's numbers come from and what one step away changes; evaluates neighbours."""
    order = await _order(service, run, candidate, asker)
    return answered(await service.pool.call(heavy.explanation, order, key=_key(order)))


@router.get(_PLACE + "/section.svg")
async def section(
    run: RunId, candidate: CandidateId, service: Parts, asker: Asker, annotated: bool = True
) -> Response:
    """The drawing of one sector."""
    order = await _order(service, run, candidate, asker)
    text = await service.pool.call(heavy.section, order, annotated, key=(_key(order), annotated))
    return Response(text, media_type="image/svg+xml")


@router.get(_PLACE + "/pack.zip")
async def pack(run: RunId, candidate: CandidateId, service: Parts, asker: Asker) -> Response:
    """The hand-over pack of a design."""
    order = await _order(service, run, candidate, asker)
    content = await service.pool.call(
        heavy.pack, service.settings.database, order, key=_key(order), is_kept=False
    )
    name = f'attachment; filename="{order.run_id}-{order.number}.zip"'
    return Response(content, media_type="application/zip", headers={"content-disposition": name})


@router.get("/compare")
async def compare(
    service: Parts, asker: Asker, first: Pair = "last", second: Pair = "last"
) -> DocumentResponse:
    """Two designs side by side at the first one's duty, supply, cooling and prices."""
    (a, feed), (b, _) = await _named(service, first, asker), await _named(service, second, asker)
    result = comparison(
        await assessed(service, a, feed), await assessed(service, b, feed), study=feed.study
    )
    return answered(documents.comparison_document(result))


async def _named(service: Service, name: str, asker: Asker) -> tuple[Design, RunFeed]:
    run, colon, number = name.partition(":")
    _, feed = await seen_run_async(service, run, asker)
    return await asyncio.to_thread(candidate_design, feed, number if colon else "best"), feed


async def _order(service: Service, run: str, candidate: str, asker: Asker) -> heavy.DesignOrder:
    _, feed = await seen_run_async(service, run, asker)
    return await asyncio.to_thread(design_order, feed, candidate)


def _key(order: heavy.DesignOrder) -> tuple[object, ...]:
    # A design's rank changes while its run grows, and stands in its drawing.
    return order.run_id, order.number, order.rank, order.model
