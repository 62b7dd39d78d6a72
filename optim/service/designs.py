"""One design: of a run, of a design file or of a study, and its metrics."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from models.cost import CostBreakdown, price
from models.evaluate import evaluate
from models.evaluation import Evaluation
from models.geometry.build import complete
from models.machine import ParameterValue
from models.nomenclature import METRICS
from optim.export.design_file import DesignRecord, read_design
from optim.ranking.binding import Margin, what_binds
from optim.ranking.front import Candidate
from optim.service.errors import RequestError, SelectionError
from optim.service.results import FrontResult, pick, read_front
from optim.service.run_store import find_run, study_of
from optim.store.contract import Store
from optim.study.families import family_of, family_spaces, own_parameters
from optim.study.identity import design_key, duty_digest
from optim.study.judge import priced_metrics
from optim.study.model import FamilySpace, Study
from optim.study.parameters import read_settings
from optim.study.space import FAMILY

LARGEST_DESIGN_FILE = 1_000_000
"""Longest design file [bytes]."""


@dataclass(frozen=True, eq=False)
class Design:
    """A design and where it comes from.

    Attributes
    ----------
    label : str
        Name for people: `RUN:CANDIDATE`, or the file.
    family, model : str
        Rotor family, and the model to evaluate with.
    parameters : mapping
        Full parameter table (SI).
    study : Study or None
        The study that it belongs to; None for a file whose run is not in the store.
    run_id : str
        Its run, or empty.
    number, rank : int or None
        Candidate number and rank in its run.
    """

    label: str
    family: str
    model: str
    parameters: Mapping[str, ParameterValue]
    study: Study | None = None
    run_id: str = ""
    number: int | None = None
    rank: int | None = None


@dataclass(frozen=True, eq=False)
class Assessment:
    """A design under a study's duty, limits and prices.

    Attributes
    ----------
    design : Design
        The design.
    evaluation : Evaluation
        Outcome of the model.
    metrics : mapping of str to float
        SI, cost included; empty unless ok.
    margins : tuple of Margin
        To each limit, tightest first; empty unless ok.
    cost : CostBreakdown or None
        By item; None unless ok.
    """

    design: Design
    evaluation: Evaluation
    metrics: Mapping[str, float]
    margins: tuple[Margin, ...]
    cost: CostBreakdown | None


def candidate_design(store: Store, run: str, number: int | None = None) -> Design:
    """Return a candidate of a run's front, the best ranked if no number is given.

    Raises
    ------
    SelectionError
        If there is no such run or candidate.
    """
    record = find_run(store, run)
    study = study_of(record)
    front = read_front(store, record, study)
    return front_design(front, pick(front, number))


def front_design(front: FrontResult, chosen: Candidate) -> Design:
    """Return a candidate of a front as a design."""
    study = front.study
    family = family_of(study, chosen.parameters)
    return Design(
        label=f"{front.run_id}:{chosen.number}",
        family=family,
        model=study.model,
        parameters=complete(own_parameters(chosen.parameters), family=family),
        study=study,
        run_id=front.run_id,
        number=chosen.number,
        rank=chosen.rank,
    )


def named_design(store: Store | None, name: str) -> Design:
    """Return the design that RUN, RUN:CANDIDATE or the path of a design file means.

    Raises
    ------
    SelectionError, DesignFileError
        If there is no such design.
    """
    if Path(name).suffix in (".toml", ".json") or Path(name).is_file():
        return file_design(Path(name), store)
    run, colon, number = name.partition(":")
    if colon and not number.isdecimal():
        raise SelectionError(f"{name!r}: allowed: RUN, RUN:CANDIDATE or a design file")
    if store is None:
        raise SelectionError(f"{name!r} is no design file, and there is no store of runs here")
    return candidate_design(store, run, int(number) if colon else None)


def file_design(path: Path, store: Store | None) -> Design:
    """Return the design of a file, with its study if the run it came from is in the store."""
    record = read_design_file(path)
    study = None
    if store is not None and record.run_id:
        known = [run for run in store.runs() if run.run_id == record.run_id]
        study = study_of(known[0]) if known else None
    if study is not None and record.duty_digest not in ("", duty_digest(study.duty)):
        study = None
    return Design(
        label=path.name,
        family=record.family,
        model=record.model,
        parameters=complete(record.parameters, family=record.family),
        study=study,
        run_id=record.run_id,
        number=record.candidate,
    )


def read_design_file(path: Path) -> DesignRecord:
    """Read a design file.

    Raises
    ------
    SelectionError
        If it cannot be read.
    DesignFileError
        With every mistake in it.
    """
    try:
        if path.stat().st_size > LARGEST_DESIGN_FILE:
            raise SelectionError(f"{path}: allowed: a design file of at most 1 MB")
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "no text in UTF-8"
        raise SelectionError(f"{path}: cannot be read ({reason}); name a design file") from error
    return read_design(text, source=path.name)


def study_design(study: Study, settings: Sequence[str] = (), *, model: str = "") -> Design:
    """Return a study's baseline with parameters changed as NAME=VALUE.

    Of a study of several families it is that of the first, or of the one in `family=NAME`.

    Raises
    ------
    StudyError
        With every mistake in the settings.
    """
    space = family_spaces(study)[0]
    for text in settings:
        key, _, value = (part.strip() for part in text.partition("="))
        if key == FAMILY and study.spaces:
            space = _space_named(study, value.strip("'\""))
    rest = [s for s in settings if not (study.spaces and s.partition("=")[0].strip() == FAMILY)]
    given = read_settings(rest, family=space.family)
    named = [space.family] if study.spaces else []
    return Design(
        label=", ".join([study.name, *named, "baseline"])
        + (f" with {', '.join(given)} changed" if given else ""),
        family=space.family,
        model=model or study.model,
        parameters={**complete(space.baseline, family=space.family), **given},
        study=study,
    )


def _space_named(study: Study, name: str) -> FamilySpace:
    for space in study.spaces:
        if space.family == name:
            return space
    raise SelectionError(
        f"family={name}: the study's families are {', '.join(study.families)}; take one of them"
    )


def with_settings(design: Design, settings: Sequence[str]) -> Design:
    """Return a design with parameters changed as NAME=VALUE."""
    given = read_settings(settings, family=design.family)
    if not given:
        return design
    return replace(
        design,
        label=f"{design.label} with {', '.join(given)} changed",
        parameters={**design.parameters, **given},
    )


def assess(design: Design, study: Study, store: Store | None = None) -> Assessment:
    """Evaluate a design at a study's duty and judge it by the study's limits and prices.

    A design that the store knows under the same duty is not evaluated again.
    """
    evaluation = known_evaluation(design, study, store) if store is not None else None
    if evaluation is None:
        evaluation = evaluate(
            design.parameters, study.duty, family=design.family, model=design.model
        )
    return judged(design, evaluation, study)


def known_evaluation(design: Design, study: Study, store: Store) -> Evaluation | None:
    """Return the stored evaluation of a design at a study's duty, None where it is to be made."""
    key = design_key(design.family, design.parameters, duty=study.duty, model=design.model)
    known = store.find(key, run_id=design.run_id)
    return known.evaluation if known is not None and known.evaluation.status != "failed" else None


def judged(design: Design, evaluation: Evaluation, study: Study) -> Assessment:
    """Judge an evaluation of a design by a study's limits and prices."""
    if evaluation.status != "ok":
        return Assessment(design, evaluation, {}, (), None)
    metrics = priced_metrics(study, evaluation, design.parameters)
    ordered = {name: metrics[name] for name in METRICS if name in metrics}
    return Assessment(
        design=design,
        evaluation=evaluation,
        metrics=ordered,
        margins=what_binds(study, ordered),
        cost=price(evaluation.metrics, design.parameters, study.prices),
    )


def study_for(design: Design) -> Study:
    """Return the study that a design belongs to.

    Raises
    ------
    RequestError
        For a design file whose run is not in the store: duty and prices are not known then.
    """
    if design.study is None:
        raise RequestError(
            f"{design.label}: the study it came from is not in the store, so supply, cooling and "
            "prices are not known; give the study with --study FILE"
        )
    return design.study
