"""What the routes share: the parts of a running service, and who asks."""

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, cast

from fastapi import Depends, Path, Request
from fastapi.responses import Response

from optim.service.documents import Document, line_of
from optim.service.errors import SelectionError
from optim.service.http.feed import FeedShelf, RunFeed
from optim.service.http.hub import Hub
from optim.service.http.pool import HeavyPool
from optim.service.http.settings import ServiceSettings
from optim.service.http.tokens import TokenFile
from optim.service.job_desk import JobDesk, JobView, Person
from optim.store.contract import Store

Health = Callable[[], Mapping[str, Any]]


@dataclass(frozen=True, eq=False)
class Service:
    """The parts of a running service.

    Attributes
    ----------
    settings : ServiceSettings
        What it was started with.
    store : Store
        Runs and evaluations.
    desk : JobDesk
        Jobs; every call takes who asks.
    tokens : TokenFile
        Who may ask.
    shelf, hub, pool
        Runs in memory, event streams, processes for what takes long.
    health : callable
        What the supervisor says of itself.
    """

    settings: ServiceSettings
    store: Store
    desk: JobDesk
    tokens: TokenFile
    shelf: FeedShelf
    hub: Hub
    pool: HeavyPool
    health: Health = field(default=dict)


def _service(request: Request) -> Service:
    return cast(Service, request.app.state.service)


def _person(request: Request) -> Person:
    return cast(Person, request.state.person)


Parts = Annotated[Service, Depends(_service)]
Asker = Annotated[Person, Depends(_person)]
RunId = Annotated[
    str, Path(max_length=100, description="Id of a run, the beginning of one, or `last`.")
]
CandidateId = Annotated[
    str, Path(max_length=20, description="Number of an evaluated design, or `best`.")
]


class DocumentResponse(Response):
    """A document as JSON; a number that is not finite becomes null."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        """Return the text."""
        return line_of(content).encode("utf-8", "replace")


def seen_run(service: Service, run: str, asker: Person) -> tuple[JobView, RunFeed]:
    """Return a run that the asker may see, its evaluations up to date.

    Raises
    ------
    UnknownRunError
        If there is none, or it is somebody else's.
    """
    view = service.desk.status(run, asker)
    feed = service.shelf.feed(view.record)
    feed.refresh(view.record)
    return view, feed


async def seen_run_async(service: Service, run: str, asker: Person) -> tuple[JobView, RunFeed]:
    """Return the same from the event loop."""
    return await asyncio.to_thread(seen_run, service, run, asker)


def candidate_number(feed: RunFeed, candidate: str) -> int:
    """Return the number that a path names.

    Raises
    ------
    SelectionError
        If there is no such design.
    """
    if candidate == "best":
        front = feed.front()
        if not front.candidates:
            raise SelectionError(f"run {feed.record.run_id} has no feasible design")
        return front.candidates[0].number
    if not (candidate.isascii() and candidate.isdecimal()):
        raise SelectionError("candidate: allowed: a number, or 'best'")
    return int(candidate)


def answered(content: Document, status: int = 200, **headers: str) -> DocumentResponse:
    """Return a document as an answer."""
    return DocumentResponse(content, status_code=status, headers=headers or None)
