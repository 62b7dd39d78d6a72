"""Opening the store and finding runs and their studies in it."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from optim.errors import StudyError
from optim.service.errors import SelectionError
from optim.store.contract import RunRecord, Store
from optim.store.opening import is_url, open_database
from optim.store.sql_store import SqlStore
from optim.store.sqlite import DEFAULT_PATH
from optim.study.change import self_contained
from optim.study.load import loads
from optim.study.model import SearchSettings, Study

LAST = "last"
"""Stands for the newest run."""
VERIFIES = "verifies"
"""Setting of a record that only holds the verification of the run that it names."""
SEARCH_KEYS = tuple(SearchSettings.__dataclass_fields__)


def open_store(path: Path | str | None = None, *, is_new_allowed: bool = False) -> SqlStore:
    """Open the store of runs.

    Parameters
    ----------
    path : Path, str or None
        The store's file, or the URL of a database (`postgresql://...`); None for the default
        file in the working folder.
    is_new_allowed : bool
        Whether a store may be made where there is none.

    Raises
    ------
    SelectionError
        If there is no store and none may be made.
    StoreError
        If it cannot be opened.
    """
    if path is not None and is_url(path):
        return open_database(path, is_new_allowed=is_new_allowed)
    file = Path(path) if path is not None else DEFAULT_PATH
    if not is_new_allowed and not file.exists():
        raise SelectionError(
            f"no store at {file}: run a study first, or name the store's file with --store"
        )
    # A run checks the file for damage first; reading commands stay quick.
    return open_database(file, is_checked=is_new_allowed)


def searches(store: Store) -> tuple[RunRecord, ...]:
    """Return the runs that search, oldest first: not the records of verifications."""
    return tuple(run for run in store.runs() if not run.settings.get(VERIFIES))


def find_run(store: Store, name: str) -> RunRecord:
    """Return the run that a name means.

    Parameters
    ----------
    store : Store
        Where to look.
    name : str
        A run id, the beginning of one that no other run shares, or `last`.

    Raises
    ------
    SelectionError
        If no run or several fit.
    """
    runs = searches(store)
    if not runs:
        raise SelectionError("the store holds no run yet: start one with 'paretorque run STUDY'")
    fitting = [run for run in runs if run.run_id == name]
    fitting = fitting or [run for run in runs if name and run.run_id.startswith(name)]
    if name == LAST:
        fitting = [runs[-1]]
    if len(fitting) == 1:
        # A list of a service leaves the study texts out.
        return store.run(fitting[0].run_id)
    if not fitting:
        raise SelectionError(
            f"run {name!r} is not in the store; allowed: {_listed(runs)}, or '{LAST}'"
        )
    raise SelectionError(
        f"{name!r} fits {len(fitting)} runs: {_listed(fitting)}; give more of the name"
    )


def study_of(record: RunRecord) -> Study:
    """Return the study of a run, with the search settings that the run began with.

    Raises
    ------
    StudyError
        If the stored study cannot be read.
    """
    study = loads(record.study_text, source=f"study of run {record.run_id}")
    return replace(study, search=_search_of(record, study.search))


def keepable_text(study: Study) -> str:
    """Return the study's text in a form that reads without the files beside it."""
    try:
        loads(study.text)
    except StudyError:
        return self_contained(study)
    return study.text


def _search_of(record: RunRecord, search: SearchSettings) -> SearchSettings:
    kept: dict[str, Any] = {key: record.settings[key] for key in SEARCH_KEYS
                            if key in record.settings}  # fmt: skip
    return replace(search, **kept)


def _listed(runs: Sequence[RunRecord]) -> str:
    names = [run.run_id for run in runs[-6:]]
    return ", ".join(names) + (" and older ones" if len(runs) > len(names) else "")
