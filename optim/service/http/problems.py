"""Errors as problem details (RFC 9457): one shape, and which error gives which status."""

import re
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from models.errors import InfeasibleDesignError, InvalidInputError
from optim.errors import OptimError, Problem, StudyError
from optim.jobs.errors import RunStateError
from optim.service.errors import RequestError, SelectionError
from optim.service.failures import USAGE, exit_code, problems_of
from optim.service.http.tokens import TokenFileError
from optim.store.errors import RunHeldError, StaleStateError, StoreError, UnknownRunError

MEDIA_TYPE = "application/problem+json"
_NEAREST = re.compile(r"Did you mean '([^']+)'")
_LONGEST = 2000
# As RFC 9110 calls them now.
_TITLES = {413: "Content Too Large", 422: "Unprocessable Content"}

# First match counts.
_STATUS: tuple[tuple[type[Exception], int], ...] = (
    (UnknownRunError, 404),
    (SelectionError, 404),
    (TokenFileError, 503),
    (RunStateError, 409),
    (StaleStateError, 409),
    (RunHeldError, 409),
    (StudyError, 422),
    (RequestError, 422),
    (InvalidInputError, 422),
    (InfeasibleDesignError, 422),
    (StoreError, 503),
)


class ApiError(OptimError):
    """An answer with a status of its own.

    Parameters
    ----------
    status : int
        HTTP status.
    detail : str
        Where, what was given, what is allowed, what to do.
    headers : mapping, optional
        Further headers of the answer.
    """

    def __init__(
        self, status: int, detail: str, *, headers: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(detail)
        self.status = status
        self.headers = dict(headers or {})


def status_of(error: Exception) -> int:
    """Return the HTTP status that an error is answered with."""
    if isinstance(error, ApiError):
        return error.status
    for kind, status in _STATUS:
        if isinstance(error, kind):
            return status
    return 422 if exit_code(error) == USAGE else 500


def problem_entries(problem: Problem) -> dict[str, Any]:
    """Return one mistake as entries of a document."""
    nearest = _NEAREST.search(problem.hint)
    return {
        "line": problem.line,
        "where": clean(problem.where),
        "given": clean(problem.given),
        "allowed": clean(problem.allowed),
        "hint": clean(problem.hint),
        "nearest": clean(nearest[1]) if nearest else "",
    }


def problem_document(
    status: int, detail: str, instance: str, problems: Sequence[Problem] = ()
) -> dict[str, Any]:
    """Return the problem details of an error."""
    return {
        "type": "about:blank",
        "title": _TITLES.get(status) or HTTPStatus(status).phrase,
        "status": status,
        "detail": clean(detail)[:_LONGEST],
        "instance": clean(instance)[:_LONGEST],
        "problems": [problem_entries(problem) for problem in problems],
    }


def answer(request: Request, error: Exception) -> JSONResponse:
    """Return the answer to a request that an error ended."""
    status = status_of(error)
    is_ours = status == 500
    # What went wrong inside is for the log: it may tell paths and addresses.
    detail = "an error of the service; its log has the report" if is_ours else str(error)
    problems = () if is_ours else problems_of(error)
    if problems:
        detail = detail.split("\n", 1)[0]
    content = problem_document(status, detail, request.url.path, problems)
    headers = error.headers if isinstance(error, ApiError) else None
    return JSONResponse(content, status_code=status, media_type=MEDIA_TYPE, headers=headers)


async def answer_error(request: Request, error: Exception) -> JSONResponse:
    """Answer a request that an error of ours ended."""
    return answer(request, error)


async def answer_validation(request: Request, error: Exception) -> JSONResponse:
    """Answer a request whose query, path or body has another shape than described."""
    assert isinstance(error, RequestValidationError)
    found = [
        Problem(
            where=".".join(str(part) for part in item["loc"])[:200],
            given=repr(item.get("input"))[:80],
            allowed=str(item["msg"])[:300],
        )
        for item in error.errors()[:50]
    ]
    is_text = any(item["type"] == "json_invalid" for item in error.errors())
    status = 400 if is_text else 422
    detail = "the body is no JSON" if is_text else f"request: {len(found)} mistake(s)"
    content = problem_document(status, detail, request.url.path, found)
    return JSONResponse(content, status_code=status, media_type=MEDIA_TYPE)


async def answer_http(request: Request, error: Exception) -> JSONResponse:
    """Answer what the framework refuses (no such route, wrong method)."""
    assert isinstance(error, HTTPException)
    words = {
        404: "there is nothing here; GET /openapi.json lists what there is",
        405: f"{request.method} is not allowed here; the header Allow says what is",
        400: "the body cannot be read",
    }
    detail = words.get(error.status_code, str(error.detail))
    content = problem_document(error.status_code, detail, request.url.path)
    return JSONResponse(
        content, status_code=error.status_code, media_type=MEDIA_TYPE, headers=error.headers
    )


def clean(text: str) -> str:
    """Return text that can be sent: lone surrogates replaced."""
    return text.encode("utf-8", "replace").decode("utf-8")
