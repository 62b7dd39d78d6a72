"""Starting, driving and resuming runs: what the command line and `optim.run` both call."""

import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.evaluate import evaluate
from models.evaluation import Evaluation
from models.machine import ParameterValue
from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.driver import RunEnd, drive
from optim.jobs.interruption import Interruption
from optim.jobs.placement import PlacementSettings
from optim.jobs.plan import DesignFunctions, Plan, Searcher
from optim.jobs.progress import Progress
from optim.search.factory import make_contest, make_searcher
from optim.service.errors import RequestError
from optim.service.observer import FrontObserver
from optim.service.results import FrontResult, read_front
from optim.service.run_store import find_run, keepable_text, open_store, study_of
from optim.store.contract import Note, RunRecord, Store
from optim.study.families import evaluate_design, family_spaces, study_key
from optim.study.judge import judge
from optim.study.load import load
from optim.study.model import Study
from optim.study.space import FAMILY, decode, encode

Vector = NDArray[np.float64]
Listen = Callable[[Progress, FrontObserver], None]

FAILED_SHARE = 0.20
"""A run stops when more than this share of its evaluations failed."""
FAILED_LEAST = 50
"""Evaluations before that share is looked at."""


@dataclass(frozen=True, eq=False)
class RunResult:
    """How driving a run ended and what it has found.

    Attributes
    ----------
    run_id : str
        The run.
    end : RunEnd
        State reached and why.
    front : FrontResult
        Ranked front.
    has_failed_too_often : bool
        Whether it was stopped because too many evaluations failed.
    """

    run_id: str
    end: RunEnd
    front: FrontResult
    has_failed_too_often: bool

    def table(self) -> pd.DataFrame:
        """Return the front as a table, best first."""
        return self.front.table()


def run(
    study: Study | Path | str,
    *,
    workers: int | None = None,
    scheduler: str = "",
    store: Path | str | None = None,
    seed: int | None = None,
    budget: int | None = None,
    resume: str = "",
) -> RunResult:
    """Run a study to its end on this machine or on a Dask scheduler.

    Parameters
    ----------
    study : Study, Path or str
        A study, or the path of a study file.
    workers : int or None
        Worker processes of the embedded cluster; None for one a core.
    scheduler : str
        Address of a running scheduler, instead of the embedded cluster.
    store : Path, str or None
        The store's file; None for the default in the working folder.
    seed, budget : int or None
        Instead of the study's.
    resume : str
        A run to go on with; the study is then the run's own.

    Returns
    -------
    RunResult
        With the ranked front. A script must call this under `if __name__ == "__main__"`, because
        worker processes import it.
    """
    read = study if isinstance(study, Study) else load(study)
    with open_store(store, is_new_allowed=True) as opened:
        if resume:
            record = find_run(opened, resume)
        else:
            record = begin(opened, with_search(read, seed=seed, budget=budget))
        cluster = cluster_settings(workers, scheduler)
        if not scheduler:
            compile_models(study_of(record))
        return drive_run(opened, record, cluster=cluster)


def with_search(study: Study, *, seed: int | None = None, budget: int | None = None) -> Study:
    """Return the study with another seed or budget.

    Raises
    ------
    RequestError
        For a seed or budget that is not allowed.
    """
    search = study.search
    if seed is not None:
        if seed < 0:
            raise RequestError(f"--seed: given {seed}; allowed: 0 or more")
        search = replace(search, seed=seed)
    if budget is not None:
        if budget < 4:
            raise RequestError(f"--budget: given {budget}; allowed: 4 evaluations or more")
        # A budget below the usual population is a quick look: the population shrinks with it.
        population = min(search.population, budget)
        lag = population if search.lag == search.population else search.lag
        search = replace(search, budget=budget, population=population, lag=lag)
    return replace(study, search=search)


def cluster_settings(workers: int | None = None, scheduler: str = "") -> ClusterSettings:
    """Return where the workers are.

    Raises
    ------
    RequestError
        For fewer than one worker, or an address together with a number of workers.
    """
    if scheduler and workers is not None:
        raise RequestError("--workers and --scheduler: given both; allowed: one of them")
    if workers is not None and workers < 1:
        raise RequestError(f"--workers: given {workers}; allowed: 1 or more")
    return ClusterSettings(workers=workers or core_count(), address=scheduler)


def core_count() -> int:
    """Return how many cores this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def begin(
    store: Store,
    study: Study,
    *,
    parent: str = "",
    starts: Mapping[str, Sequence[int]] | None = None,
) -> RunRecord:
    """Add a run of a study to the store.

    Parameters
    ----------
    store : Store
        Where it is kept.
    study : Study
        What to do.
    parent : str
        Run of which it is a rerun.
    starts : mapping of run id to candidate numbers, optional
        Stored designs to begin with; the study's baseline where there are none.
    """
    settings: dict[str, Note] = dict(asdict(study.search))
    settings["starts"] = ";".join(
        f"{run_id}:{','.join(str(n) for n in numbers)}"
        for run_id, numbers in (starts or {}).items()
        if numbers
    )
    return store.create_run(study.name, keepable_text(study), settings=settings, parent=parent)


def drive_run(
    store: Store,
    record: RunRecord,
    *,
    cluster: ClusterSettings,
    listen: Listen | None = None,
    interruption: Interruption | None = None,
    sharing: int = 1,
) -> RunResult:
    """Drive a run from where it stands to its end or to an interruption.

    Parameters
    ----------
    store : Store
        Keeps every row.
    record : RunRecord
        A run that is queued, interrupted or failed, or was left by a driver that died.
    cluster : ClusterSettings
        Where the workers are.
    listen : callable or None
        Called a few times a second with the progress and the front so far.
    interruption : Interruption or None
        Requests to stop by hand.
    sharing : int
        How many runs at most share the workers, this one included.

    Returns
    -------
    RunResult
        Also when it was interrupted.
    """
    study = study_of(record)
    observer = FrontObserver(study)
    wish = interruption or Interruption()
    spoiled: list[Progress] = []

    def watch(progress: Progress) -> None:
        done = progress.told
        if done >= FAILED_LEAST and progress.failed > FAILED_SHARE * done and not spoiled:
            spoiled.append(progress)
            wish.request()
        if listen is not None:
            listen(progress, observer)

    search = study.search
    searcher = searcher_of(study, starting_vectors(store, record, study))
    placement = PlacementSettings(
        time_limit=search.evaluation_time_limit, batch=search.batch
    ).shared(sharing)
    with DaskDispatcher(evaluator(study), cluster=cluster, placement=placement) as dispatcher:
        end = drive(
            record.run_id,
            searcher,
            dispatcher,
            store,
            functions=design_functions(study),
            plan=Plan.of(search),
            observe=observer,
            on_progress=watch,
            interruption=wish,
        )
    after = store.run(record.run_id)
    return RunResult(record.run_id, end, read_front(store, after, study), bool(spoiled))


def compile_models(study: Study) -> None:
    """Evaluate the baseline once here.

    Without it every worker would compile the models by itself while its first evaluation's time
    limit runs.
    """
    for space in family_spaces(study):
        evaluate(space.baseline, study.duty, family=space.family, model=study.model)


def searcher_of(study: Study, seeds: Sequence[Vector]) -> Searcher:
    """Return the search that a study asks for, fresh, with the designs that come first."""
    aims, limits, settings = len(study.objectives), len(study.limits), study.search
    if study.spaces:
        return make_contest(
            [space.variables for space in study.spaces],
            aims, n_limits=limits, settings=settings, seeds=seeds,
        )  # fmt: skip
    return make_searcher(study.variables, aims, n_limits=limits, settings=settings, seeds=seeds)


def evaluator(study: Study) -> Callable[[Mapping[str, ParameterValue]], Evaluation]:
    """Return the evaluation of a parameter table for a study; it can be pickled."""
    return partial(evaluate_design, duty=study.duty, family=study.family, model=study.model)


def design_functions(study: Study) -> DesignFunctions:
    """Return what the driver needs to know of a study."""
    return DesignFunctions(
        decode=partial(decode, study),
        key=partial(study_key, study),
        judge=partial(judge, study),
    )


def starting_vectors(store: Store, record: RunRecord, study: Study) -> list[Vector]:
    """Return the designs that a run begins with, the same on every resume."""
    text = str(record.settings.get("starts") or "")
    if not text:
        return [encode(study, table) for table in _baselines(study)]
    vectors: list[Vector] = []
    for part in text.split(";"):
        run_id, _, listed = part.partition(":")
        wanted = {int(number) for number in listed.split(",")}
        found = {r.number: r.vector for r in store.rows(run_id) if r.number in wanted}
        vectors += [found[number] for number in sorted(wanted) if number in found]
    return vectors


def _baselines(study: Study) -> list[Mapping[str, ParameterValue]]:
    """Return the start design of each family."""
    if not study.spaces:
        return [study.baseline]
    return [{FAMILY: space.family, **space.baseline} for space in study.spaces]
