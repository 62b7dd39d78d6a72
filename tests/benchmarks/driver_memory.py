"""Peak memory of the driver over 10,000 evaluations: it must not grow with the run."""

import tempfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import psutil

from models.evaluation import Evaluation
from models.nomenclature import family_metrics
from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.driver import drive
from optim.jobs.plan import DesignFunctions, Plan
from optim.jobs.progress import Progress
from optim.search.factory import make_searcher
from optim.store.sqlite import SqliteStore
from optim.study.identity import design_key
from optim.study.judge import judge
from optim.study.load import load
from optim.study.space import decode
from tests.benchmarks.models import STUDY

BUDGET = 10_000


def stand_in(parameters: Mapping[str, float | int | str]) -> Evaluation:
    """Return made-up metrics at once: the driver is measured, not the model."""
    x = np.array([float(v) for v in parameters.values() if isinstance(v, float)])
    values = {
        name: (0.5 + 0.5 * float(np.sin(k + 40.0 * x.sum()))) * m.high / m.shown_factor
        for k, (name, m) in enumerate(family_metrics("interior").items())
    }
    return Evaluation("ok", "circuit", metrics=values)


def main() -> dict[str, float]:
    """Measure and print; return resident memory at marks [MB]."""
    study = load(STUDY)
    process = psutil.Process()
    found: dict[str, float] = {}

    def note(progress: Progress) -> None:
        for mark in (1000, 2500, 5000, 7500, BUDGET):
            if progress.told >= mark and f"{mark} told" not in found:
                found[f"{mark} told"] = process.memory_info().rss / 1e6

    functions = DesignFunctions(
        decode=lambda vector: decode(study, vector),
        key=lambda p: design_key(study.family, p, duty=study.duty, model=study.model),
        judge=lambda evaluation, p: judge(study, evaluation, p),
    )
    searcher = make_searcher(
        study.variables,
        len(study.objectives),
        n_limits=len(study.limits),
        settings=study.search,
    )
    with (
        tempfile.TemporaryDirectory() as folder,
        SqliteStore(Path(folder) / "runs.sqlite") as store,
    ):
        run = store.create_run(study.name, study.text)
        drive(
            run.run_id,
            searcher,
            SerialDispatcher(stand_in),
            store,
            functions=functions,
            plan=Plan(budget=BUDGET, lag=study.search.lag, is_ordered=True),
            on_progress=note,
        )
    print(f"driver memory over {BUDGET} evaluations, resident [MB]")
    for name, value in found.items():
        print(f"  {name:12s} {value:8.1f}")
    return found


if __name__ == "__main__":
    main()
