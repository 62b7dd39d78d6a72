"""Routes on studies and single designs: validate, check, evaluate; and what words mean."""

import asyncio
import hashlib
from importlib.resources import files
from typing import Any

from fastapi import APIRouter, Request

from models import PHYSICS_VERSION
from models.geometry.build import complete
from optim.errors import StudyError
from optim.export.context import program_version
from optim.service.documents import document
from optim.service.errors import RequestError
from optim.service.http import heavy
from optim.service.http.candidates import design_order
from optim.service.http.context import (
    Asker,
    DocumentResponse,
    Parts,
    answered,
    seen_run_async,
)
from optim.service.http.problems import problem_entries
from optim.service.http.requests import (
    EvaluateBody,
    StudyBody,
    check_size,
    check_text,
    read_study,
    study_content,
)
from optim.service.http.study_documents import nomenclature_document, study_entries
from optim.service.running import core_count
from optim.study.families import family_spaces
from optim.study.json_schema import json_schema
from optim.study.load import loads
from optim.study.model import Study

router = APIRouter(prefix="/api/v1", tags=["studies"])


@router.get("/session")
def session(service: Parts, asker: Asker) -> DocumentResponse:
    """Who asks, and how much they may ask for."""
    allowance = service.settings.allowance
    return answered(
        document(
            "session",
            owner=asker.name,
            is_admin=asker.is_admin,
            needs_token=bool(service.tokens.entries()),
            version=program_version(),
            physics_version=PHYSICS_VERSION,
            limits={
                "study_bytes": allowance.study_bytes,
                "variables": allowance.variables,
                "budget": allowance.budget,
                "requests_per_second": allowance.requests_per_second,
            },
        )
    )


@router.get("/nomenclature")
def nomenclature() -> DocumentResponse:
    """Every metric and parameter with key, unit, definition and range."""
    return answered(nomenclature_document())


@router.get("/study-schema")
def study_schema() -> DocumentResponse:
    """The study file as JSON Schema."""
    return answered(json_schema())


@router.get("/study-template")
def study_template() -> DocumentResponse:
    """A commented study to start from."""
    text = files("optim.service.http").joinpath("study-template.toml").read_text(encoding="utf-8")
    return answered(document("template", text=text))


@router.post("/studies/validate", openapi_extra=study_content(StudyBody))
async def validate(request: Request, service: Parts) -> DocumentResponse:
    """Say every mistake of a study with its line; quick, for an editor."""
    body = await read_study(request, StudyBody)
    try:
        study = await asyncio.to_thread(_read, body.study, service)
    except StudyError as error:
        problems = [problem_entries(problem) for problem in error.problems]
        return answered(document("validation", is_valid=False, problems=problems, study=None))
    return answered(document("validation", is_valid=True, problems=[], study=study_entries(study)))


@router.post("/studies/check", openapi_extra=study_content(StudyBody))
async def check(request: Request, service: Parts) -> DocumentResponse:
    """Validate a study, evaluate its baseline, estimate the time of a run."""
    body = await read_study(request, StudyBody)
    await asyncio.to_thread(_read, body.study, service)
    key = hashlib.sha256(body.study.encode()).hexdigest()
    return answered(await service.pool.call(heavy.check_study, body.study, core_count(), key=key))


@router.post("/designs/evaluate")
async def evaluate(body: EvaluateBody, service: Parts, asker: Asker) -> DocumentResponse:
    """Put one design through a model: a study's baseline or a run's candidate, changed as told."""
    if bool(body.study) == bool(body.run):
        raise RequestError("study, run: allowed: either the text of a study or a run")
    if body.candidate is not None and not body.run:
        raise RequestError("candidate: allowed only with a run")
    if body.run:
        _, feed = await seen_run_async(service, body.run, asker)
        if body.candidate is None:
            order = _baseline(feed.study, body.model)
        else:
            order = await asyncio.to_thread(
                design_order, feed, str(body.candidate), model=body.model
            )
    else:
        order = _baseline(await asyncio.to_thread(_read, body.study, service), body.model)
    arguments: tuple[Any, ...] = (order, tuple(body.settings))
    key = hashlib.sha256(repr(arguments).encode("utf-8", "replace")).hexdigest()
    return answered(await service.pool.call(heavy.evaluate_design, *arguments, key=key))


def _baseline(study: Study, model: str) -> heavy.DesignOrder:
    first = family_spaces(study)[0]
    return heavy.DesignOrder(
        study_text=study.text,
        label=f"{study.name}, baseline",
        family=first.family,
        model=model or study.model,
        parameters=dict(complete(first.baseline, family=first.family)),
    )


def _read(text: str, service: Parts) -> Study:
    allowance = service.settings.allowance
    check_text(text, allowance)
    study = loads(text)
    check_size(study, allowance)
    return study
