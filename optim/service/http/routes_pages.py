"""Pages and what monitoring reads: the web page, the description of the interface, health."""

import asyncio
from importlib.resources import files
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from models import PHYSICS_VERSION
from optim.export.context import program_version
from optim.service.documents import document
from optim.service.http.context import DocumentResponse, Parts, answered
from optim.service.http.logs import LOGGER
from optim.service.http.problems import ApiError
from optim.store.errors import StoreError

router = APIRouter()
WEB = Path(str(files("optim.service"))) / "web"
PAGES = Path(str(files("optim.service.http"))) / "pages"
_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
    ".txt": "text/plain; charset=utf-8",
}


@router.get("/", include_in_schema=False)
def index() -> FileResponse:
    """The page."""
    return _file(WEB, "index.html")


@router.get("/web/{path:path}", include_in_schema=False)
def web(path: str) -> FileResponse:
    """A file of the page."""
    return _file(WEB, path)


@router.get("/docs", include_in_schema=False)
def docs() -> FileResponse:
    """The description of the interface for people."""
    return _file(PAGES, "docs.html")


@router.get("/docs/{path:path}", include_in_schema=False)
def docs_file(path: str) -> FileResponse:
    """A file of that description."""
    return _file(PAGES, path)


@router.get("/health", tags=["service"])
async def health(service: Parts) -> DocumentResponse:
    """Whether the service works: 200, or 503 with what does not."""
    faults: list[str] = []
    jobs: dict[str, int] = {}
    try:
        load = await asyncio.wait_for(asyncio.to_thread(service.desk.load), 5.0)
        jobs = dict(load.by_state)
    except (StoreError, TimeoutError):
        LOGGER.exception("store not reachable")
        faults.append("the store cannot be reached")
    parts = dict(service.health())
    faults += [str(fault) for fault in parts.pop("faults", ())]
    content = document(
        "health",
        status="unwell" if faults else "ok",
        faults=faults,
        version=program_version(),
        physics_version=PHYSICS_VERSION,
        jobs=jobs,
        watchers=service.hub.watchers,
        **parts,
    )
    return answered(content, 503 if faults else 200)


@router.get("/metrics", tags=["service"])
def metrics(request: Request) -> Response:
    """Jobs, evaluations per second, failures, workers, requests; Prometheus text."""
    text = generate_latest(request.app.state.measures.registry)
    return Response(text, media_type=CONTENT_TYPE_LATEST)


def _file(folder: Path, name: str) -> FileResponse:
    """Return a file of a folder, and of nowhere else."""
    refusal = ApiError(404, "there is no such file")
    if "\\" in name or "\0" in name or any(part in ("", ".", "..") for part in name.split("/")):
        raise refusal
    path = folder / name
    kind = _TYPES.get(path.suffix)
    try:
        is_there = path.resolve().is_relative_to(folder.resolve()) and path.is_file()
    except (OSError, ValueError):  # a name too long for the file system, say
        is_there = False
    if kind is None or not is_there:
        raise refusal
    return FileResponse(path, media_type=kind, headers={"cache-control": "no-cache"})
