"""The hand-over pack of a design."""

from pathlib import Path

from models.cost import price_rows
from models.evaluate import perform_design
from optim.export.context import PackContext, program_version
from optim.export.pack import write_pack
from optim.service.designs import Design, study_for


def export_design(design: Design, folder: Path, *, is_overwriting: bool = False) -> list[str]:
    """Write a design's hand-over pack.

    Parameters
    ----------
    design : Design
        With its study.
    folder : Path
        Where to; made if it is not there.
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
    context = PackContext(
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
    files = write_pack(folder, performance, context, is_replacing=is_overwriting)
    return [file.relative_to(folder.absolute()).as_posix() for file in files]


def _price_date() -> str:
    """Return the date of the newest price in the default list, which a study may change."""
    return max(row.date for row in price_rows().values())
