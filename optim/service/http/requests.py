"""What is sent to the service: bodies with their bounds, and studies as text or as JSON."""

import json
from typing import Annotated, Any

from fastapi import Request
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from optim.errors import Problem, StudyError
from optim.service.errors import RequestError
from optim.service.http.problems import ApiError
from optim.service.http.settings import Allowance
from optim.study.model import Study

Line = Annotated[str, Field(max_length=200)]
Lines = Annotated[list[Line], Field(max_length=100)]
Count = Annotated[int, Field(ge=0, le=10**9)]
Number = Annotated[int, Field(ge=0, le=2**63 - 1)]

_TEXT = ("application/toml", "text/plain")
_STUDY = {"type": "string", "description": "Text of a study file (TOML)."}


class _Body(BaseModel):
    """A body without unknown entries; numbers are not read out of texts."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class StudyBody(_Body):
    """A study by its text."""

    study: str


class SubmitBody(StudyBody):
    """A study to run."""

    budget: Count | None = None
    seed: Count | None = None
    priority: Annotated[int, Field(ge=-100, le=100)] = 0


class EvaluateBody(_Body):
    """One design: of a study's text, or of a run."""

    study: str = ""
    run: Annotated[str, Field(max_length=100)] = ""
    candidate: Number | None = None
    settings: Lines = []
    model: Annotated[str, Field(max_length=40)] = ""


class RerunBody(_Body):
    """Changed aims of a run."""

    limits: Lines = []
    objectives: Lines = []
    prices: Annotated[dict[Line, float], Field(max_length=200)] = {}
    budget: Count | None = None
    seed: Count | None = None
    allow_looser: bool = False
    dry_run: bool = False
    priority: Annotated[int, Field(ge=-100, le=100)] = 0


class PriorityBody(_Body):
    """Place in the queue."""

    priority: Annotated[int, Field(ge=-100, le=100)]


def study_content(body: type[StudyBody]) -> dict[str, Any]:
    """Return how a route that takes a study is described."""
    content: dict[str, Any] = {name: {"schema": _STUDY} for name in _TEXT}
    content["application/json"] = {"schema": body.model_json_schema()}
    return {"requestBody": {"required": True, "content": content}}


async def read_study(request: Request, body: type[StudyBody]) -> Any:
    """Return the study that a request carries: JSON, or the text with its options as query.

    Raises
    ------
    ApiError, StudyError
        400 for no text, 415 for another kind of content, 422 for wrong options.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    raw = await request.body()
    try:
        if kind == "application/json":
            given = json.loads(raw)
        elif kind in _TEXT:
            options = {name: _number(value) for name, value in request.query_params.items()}
            given = {**options, "study": raw.decode("utf-8-sig")}
        else:
            raise ApiError(
                415, f"content-type: given {kind[:80]!r}; allowed: application/json, "
                + ", ".join(_TEXT),
            )  # fmt: skip
    except UnicodeDecodeError as error:
        raise ApiError(400, f"the body is no text in UTF-8 (byte {error.start})") from error
    except (ValueError, RecursionError) as error:
        raise ApiError(400, f"the body is no JSON: {str(error)[:100]}") from error
    return read_body(body, given)


def read_body(body: type[_Body], given: object) -> Any:
    """Return a body as its model.

    Raises
    ------
    StudyError
        With every mistake.
    """
    try:
        return body.model_validate(given)
    except ValidationError as error:
        problems = [
            Problem(
                where=".".join(str(part) for part in item["loc"])[:200] or "body",
                given=repr(item.get("input"))[:80],
                allowed=item["msg"][:300],
            )
            for item in error.errors(include_url=False)[:50]
        ]
        raise StudyError(problems, source="request") from None


def check_text(text: str, allowance: Allowance) -> None:
    """Refuse a text that is too long or that could not be sent back.

    Raises
    ------
    ApiError, RequestError
    """
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError as error:
        raise RequestError("study: given half of a surrogate pair; allowed: text") from error
    if size > allowance.study_bytes:
        raise ApiError(413, f"study: given {size} bytes; allowed: at most {allowance.study_bytes}")


def check_size(study: Study, allowance: Allowance, *, budget: int | None = None) -> None:
    """Refuse a study that asks for more than one person may.

    Raises
    ------
    StudyError
    """
    problems = []
    count = len(study.variables)
    if count > allowance.variables:
        problems.append(
            Problem("variables", f"{count} variables", f"at most {allowance.variables} here")
        )
    wanted = study.search.budget if budget is None else budget
    if wanted > allowance.budget:
        problems.append(
            Problem("search.budget", str(wanted), f"at most {allowance.budget} evaluations here")
        )
    if problems:
        raise StudyError(problems, source="study")


def _number(text: str) -> object:
    try:
        return int(text)
    except ValueError:
        return text
