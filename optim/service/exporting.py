"""The hand-over pack of a design."""

import io
import zipfile
import zlib
from pathlib import Path

from models.cost import price_rows
from models.evaluate import perform_design
from optim.export.context import PackContext, program_version
from optim.export.errors import PackError
from optim.export.pack import check_place, place_pack, write_pack
from optim.export.plots.front import FrontPicture, FrontPoint, Outcome, front_data
from optim.ranking.front import Entry, ranked_front
from optim.service.designs import Design, study_for
from optim.service.remote.connection import Connection
from optim.service.results import entry_of
from optim.service.verified import FIELD, field_evaluation
from optim.store.contract import Store
from optim.study.families import family_of
from optim.study.judge import judge, priced_metrics
from optim.study.model import Study


def export_design(
    design: Design,
    folder: Path,
    *,
    store: Store | None = None,
    is_overwriting: bool = False,
) -> list[str]:
    """Write a design's hand-over pack.

    Parameters
    ----------
    design : Design
        With its study.
    folder : Path
        Where to; made if it is not there.
    store : Store or None
        Holds the design's run, for a picture of its front.
    is_overwriting : bool
        Whether a folder that holds files may be replaced.

    Returns
    -------
    list of str
        Names of the files.
    """
    study = study_for(design)
    performance = perform_design(
        design.parameters, study.duty, family=design.family, model=design.model
    )
    folder.parent.mkdir(parents=True, exist_ok=True)
    context = pack_context(design, study)
    picture = None if store is None or not design.run_id else front_picture(store, design, study)
    known = None if store is None else field_evaluation(store, study, design.parameters)
    field_values = (
        None if known is None or known.status != "ok" or design.model == FIELD
        else priced_metrics(study, known, design.parameters)
    )  # fmt: skip
    files = write_pack(
        folder, performance, context, front=picture, field_values=field_values,
        is_replacing=is_overwriting,
    )  # fmt: skip
    return [file.relative_to(folder.absolute()).as_posix() for file in files]


def fetch_pack(
    connection: Connection, design: Design, folder: Path, *, is_overwriting: bool = False
) -> list[str]:
    """Have a service make a design's hand-over pack and put it into a folder.

    Returns
    -------
    list of str
        Names of the files.

    Raises
    ------
    PackError
        If the folder may not be written, or what came is no pack.
    """
    check_place(folder, is_replacing=is_overwriting)
    assert design.number is not None
    sent = connection.content("runs", design.run_id, "candidates", design.number, "pack.zip")
    try:
        with zipfile.ZipFile(io.BytesIO(sent)) as archive:
            contents = {name: archive.read(name) for name in archive.namelist()}
    except (zipfile.BadZipFile, zlib.error) as error:
        raise PackError(f"{design.label}: what the service sent is no pack ({error})") from error
    folder.parent.mkdir(parents=True, exist_ok=True)
    files = place_pack(folder, contents, is_replacing=is_overwriting)
    return [file.relative_to(folder.absolute()).as_posix() for file in files]


def pack_context(design: Design, study: Study) -> PackContext:
    """Return the provenance that every file about a design carries."""
    return PackContext(
        study_name=study.name,
        study_title=study.title,
        run_id=design.run_id,
        candidate=design.number,
        rank=design.rank,
        seed=study.search.seed,
        limits=study.limits,
        prices=study.prices,
        price_date=_price_date(),
        version=program_version(),
    )


def front_picture(store: Store, design: Design, study: Study) -> FrontPicture | None:
    """Return everything a design's run evaluated, the design ringed; None for one objective."""
    names = [objective.metric for objective in study.objectives]
    if len(names) < 2:
        return None
    entries = [entry_of(row) for row in store.rows(design.run_id)]
    members = {c.number for c in ranked_front(study, entries)}
    points = [_point(study, entry, members) for entry in entries]
    return front_data(points, names, picked=design.number)


def _point(study: Study, entry: Entry, members: set[int]) -> FrontPoint:
    judgement = judge(study, entry.evaluation, entry.parameters)
    family = family_of(study, entry.parameters) if study.spaces else ""
    if judgement.objectives is None:
        outcome: Outcome = "failed" if judgement.status == "failed" else "infeasible"
        return FrontPoint(entry.number, outcome, {}, family)
    values = priced_metrics(study, entry.evaluation, entry.parameters)
    if entry.number in members:
        outcome = "front"
    else:
        outcome = "feasible" if judgement.is_feasible else "infeasible"
    found = {o.metric: values[o.metric] for o in study.objectives}
    return FrontPoint(entry.number, outcome, found, family)


def _price_date() -> str:
    """Return the date of the newest price in the default list, which a study may change."""
    return max(row.date for row in price_rows().values())
