"""Routes on single designs of a run: in full, drawn, as a pack, side by side."""

import asyncio
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response

from optim.service import documents
from optim.service.comparing import compare as compare_designs
from optim.service.designs import Design, assess
from optim.service.errors import RequestError
from optim.service.http import heavy
from optim.service.http.candidates import candidate_design, design_order
from optim.service.http.context import (
    Asker,
    CandidateId,
    DocumentResponse,
    Parts,
    RunId,
    Service,
    answered,
    seen_run,
    seen_run_async,
)
from optim.service.verified import read_verification
from optim.service.verify_view import member_entries

router = APIRouter(prefix="/api/v1", tags=["candidates"])
_PLACE = "/runs/{run}/candidates/{candidate}"
Pair = Annotated[
    str, Query(max_length=130, pattern=r"^[^:]*(:\d{1,18})?$", description="RUN or RUN:CANDIDATE")
]


@router.get(_PLACE)
def candidate(run: RunId, candidate: CandidateId, service: Parts, asker: Asker) -> DocumentResponse:
    """One design in full: parameters, metrics, margins, what binds, cost by item."""
    view, feed = seen_run(service, run, asker)
    design = candidate_design(feed, candidate)
    result = assess(design, feed.study, service.store)
    front = feed.front()
    chosen = next((c for c in front.candidates if c.number == design.number), None)
    if chosen is not None:
        content = documents.candidate_document(front, chosen, result)
        member = read_verification(service.store, view.record, front).member(chosen.number)
    else:
        member = None
        content = documents.document(
            "candidate", run=front.run_id, candidate=design.number, rank=None,
            of=len(front.candidates), ranked_by=front.method, pseudo_weights={},
            **documents.assessment_entries(result),
        )  # fmt: skip
    return answered(content | {"verification": member_entries(member)})


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
    """The drawing of one pole."""
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
def compare(
    service: Parts, asker: Asker, first: Pair = "last", second: Pair = "last"
) -> DocumentResponse:
    """Two designs side by side at the first one's duty, supply, cooling and prices."""
    a, b = _named(service, first, asker), _named(service, second, asker)
    if a.study is None:  # candidates of runs always have one
        raise RequestError(f"first: given {first!r}; allowed: a design with a study")
    result = compare_designs(a, b, study=a.study, store=service.store)
    return answered(documents.comparison_document(result))


def _named(service: Service, name: str, asker: Asker) -> Design:
    run, colon, number = name.partition(":")
    _, feed = seen_run(service, run, asker)
    return candidate_design(feed, number if colon else "best")


async def _order(service: Service, run: str, candidate: str, asker: Asker) -> heavy.DesignOrder:
    _, feed = await seen_run_async(service, run, asker)
    return await asyncio.to_thread(design_order, feed, candidate)


def _key(order: heavy.DesignOrder) -> tuple[object, ...]:
    # A design's rank changes while its run grows, and stands in its drawing.
    return order.run_id, order.number, order.rank, order.model
