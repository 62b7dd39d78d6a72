"""What takes long about one design, made in a process of the pool: plain data in, documents out."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory

from models.evaluate import MODELS, evaluate, perform_design
from models.evaluation import Evaluation
from models.machine import ParameterValue
from models.nomenclature import nearest
from models.performance.summary import Performance
from models.performance.summary import metrics as all_metrics
from optim.export.context import footer
from optim.export.data_sheet import CAUTIONS
from optim.export.drawing_svg import section_svg
from optim.export.notation import metric_text, name_text
from optim.export.outlines import drawn_poles
from optim.export.pictures import picture_data
from optim.export.requirements import dangers, implausible
from optim.export.section_view import section_view
from optim.service.checking import check
from optim.service.designs import Design, assess, study_design, with_settings
from optim.service.documents import Document, check_document, document, evaluation_document
from optim.service.errors import RequestError
from optim.service.explain_view import explanation_entries
from optim.service.explaining import explain
from optim.service.exporting import export_design, pack_context
from optim.service.http.curves import curves
from optim.service.run_store import open_store, study_of
from optim.service.wording import in_words
from optim.study.load import loads
from optim.study.model import Study

_EPOCH = (1980, 1, 1, 0, 0, 0)
"""Date of every entry of an archive: one design gives the same bytes at any time."""


@dataclass(frozen=True)
class DesignOrder:
    """A design as plain data that any process can take.

    Attributes
    ----------
    study_text : str
        Study that it belongs to.
    label, family, model : str
        As of `Design`.
    parameters : mapping
        Full parameter table (SI).
    run_id : str
        Its run, or empty.
    number, rank : int or None
        Candidate number and rank.
    seed : int or None
        Seed of its run.
    """

    study_text: str
    label: str
    family: str
    model: str
    parameters: Mapping[str, ParameterValue]
    run_id: str = ""
    number: int | None = None
    rank: int | None = None
    seed: int | None = None


def get_ready() -> None:
    """Load and run everything once, so that the first person does not wait for it."""
    study = loads(files("optim.service.http").joinpath("study-template.toml").read_text("utf-8"))
    design = study_design(study)
    picture_data(_performance(design, study), pack_context(design, study))


def check_study(text: str, workers: int) -> Document:
    """Return the document of `check` for a study."""
    return check_document(check(loads(text), workers=workers))


def evaluate_design(order: DesignOrder, settings: Sequence[str]) -> Document:
    """Return the document of `evaluate` for a design with some parameters changed."""
    if order.model not in MODELS:
        hint = nearest(order.model, MODELS)
        raise RequestError(
            f"model: given {order.model[:80]!r}; allowed: {', '.join(MODELS)}"
            + (f". Did you mean {hint!r}?" if hint else "")
        )
    design, study = _read(order)
    design = with_settings(design, settings)
    return evaluation_document(assess(design, study))


def evaluation(order: DesignOrder) -> Evaluation:
    """Return the evaluation of a design at its study's duty."""
    _, study = _read(order)
    return evaluate(order.parameters, study.duty, family=order.family, model=order.model)


def details(order: DesignOrder) -> Document:
    """Return what is drawn of a design, as numbers in the units of their keys."""
    design, study = _read(order)
    performance = _performance(design, study)
    pictures = picture_data(performance, pack_context(design, study))
    values = all_metrics(performance)
    result = assess(design, study)
    return document(
        "details",
        run=order.run_id,
        candidate=order.number,
        model=performance.model.name,
        in_words=in_words(values, result.margins),
        cautions=list(CAUTIONS),
        attention=[
            f"{name_text(name)} is {metric_text(name, values[name], 3)}, outside the plausible "
            "range" for name in implausible(values)
        ],
        dangers=list(dangers(values)),
        **curves(pictures),
    )  # fmt: skip


def explanation(order: DesignOrder) -> Document:
    """Return where a design's numbers come from and what a step away changes."""
    design, study = _read(order)
    found = explain(assess(design, study), study)
    return document(
        "explanation",
        run=order.run_id,
        candidate=order.number,
        model=design.model,
        **explanation_entries(found, study),
    )


def section(order: DesignOrder, is_annotated: bool) -> str:
    """Return the drawing of one sector as SVG."""
    design, study = _read(order)
    performance = _performance(design, study)
    context = pack_context(design, study)
    return section_svg(
        section_view(performance),
        title=f"{drawn_poles(performance.machine).capitalize()} of {context.design_name}",
        foot=footer(context, model=performance.model.name),
        is_annotated=is_annotated,
    )


def pack(database: str, order: DesignOrder) -> bytes:
    """Return the hand-over pack of a design as a ZIP archive, the same bytes at any time."""
    with open_store(database) as store, TemporaryDirectory(prefix="pack-") as folder:
        design, _ = _read(order)
        design = replace(design, study=study_of(store.run(order.run_id)))
        target = Path(folder) / "pack"
        names = export_design(design, target, store=store)
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in names:
                entry = zipfile.ZipInfo(name, _EPOCH)
                entry.compress_type = zipfile.ZIP_DEFLATED
                entry.external_attr = 0o644 << 16
                archive.writestr(entry, (target / name).read_bytes())
    return stream.getvalue()


def _read(order: DesignOrder) -> tuple[Design, Study]:
    study = loads(order.study_text)
    if order.seed is not None:
        study = replace(study, search=replace(study.search, seed=order.seed))
    design = Design(
        label=order.label,
        family=order.family,
        model=order.model,
        parameters=order.parameters,
        study=study,
        run_id=order.run_id,
        number=order.number,
        rank=order.rank,
    )
    return design, study


def _performance(design: Design, study: Study) -> Performance:
    return perform_design(design.parameters, study.duty, family=design.family, model=design.model)
