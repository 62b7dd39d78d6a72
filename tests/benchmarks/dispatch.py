"""Throughput of ordered against free dispatch on a real Dask cluster of sleeping workers.

Fifty workers, evaluation times log-normal with sigma 0.5, lag four times the workers. The workers
are threads of this process, which suffices for sleeping and fits a small machine; scheduler,
placement, driver and store are those of any run. Both orders meet the same times: the time of a
candidate follows from its number.

Fifty such workers with their scheduler cost this one process about 5 ms of processor time per
task, so the median time must be long enough that the order, not the processor, is what limits.
"""

import statistics
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import dask
import numpy as np
from distributed import LocalCluster

from models.evaluation import Evaluation
from optim.jobs.dask_cluster import EMBEDDED_SETTINGS
from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.driver import drive
from optim.jobs.plan import DesignFunctions, Plan
from optim.store.sqlite import SqliteStore
from optim.study.judge import Judgement

WORKERS = 50
MEDIAN_SECONDS = 2.0
SIGMA = 0.5
LAG = 4 * WORKERS
CANDIDATES = 1000
REPEATS = 3


@dataclass
class NumberSearch:
    """Candidate n is the vector (n): no search, so that only dispatch is measured."""

    told: int = 0

    def ask(self, number):
        return np.array([float(number)])

    def tell(self, number, vector, judgement):
        self.told += 1


def sleeping_time(number: float, repeat: int) -> float:
    rng = np.random.default_rng(np.random.SeedSequence(repeat, spawn_key=(int(number),)))
    return float(MEDIAN_SECONDS * np.exp(SIGMA * rng.standard_normal()))


def evaluate(parameters: Mapping[str, float]) -> Evaluation:
    time.sleep(sleeping_time(parameters["number"], int(parameters["repeat"])))
    return Evaluation("ok", "circuit", {"peak_torque": parameters["number"]})


def throughput(address: str, folder: Path, repeat: int, *, is_ordered: bool) -> tuple[float, float]:
    """Return candidates per second and the share of the workers' time spent in evaluations."""
    functions = DesignFunctions(
        decode=lambda vector: {"number": float(vector[0]), "repeat": float(repeat)},
        key=lambda parameters: f"{parameters['number']:.0f}-{repeat}",
        judge=lambda evaluation, parameters: Judgement(
            np.zeros(2), np.zeros(1), True, evaluation.status
        ),
    )
    path = folder / f"{repeat}-{is_ordered}.sqlite"
    settings = ClusterSettings(address=address)
    with SqliteStore(path) as store, DaskDispatcher(evaluate, cluster=settings) as dispatcher:
        run = store.create_run("dispatch", "")
        while len(dispatcher._placement.workers) < WORKERS:  # start-up is not what is measured
            dispatcher.collect(0.5)
        begin = time.perf_counter()
        drive(
            run.run_id, NumberSearch(), dispatcher, store, functions=functions,
            plan=Plan(budget=CANDIDATES, lag=LAG, is_ordered=is_ordered),
        )  # fmt: skip
        seconds = time.perf_counter() - begin
    busy = sum(sleeping_time(number, repeat) for number in range(CANDIDATES))
    return CANDIDATES / seconds, busy / (WORKERS * seconds)


def main() -> dict[str, float]:
    """Measure and print; return the median ratio and efficiencies."""
    ratios, ordered_shares, free_shares = [], [], []
    with (
        tempfile.TemporaryDirectory() as folder,
        dask.config.set(EMBEDDED_SETTINGS),
        LocalCluster(
            n_workers=WORKERS, threads_per_worker=1, processes=False, dashboard_address=None,
            scheduler_kwargs={"dashboard": False, "dashboard_address": "127.0.0.1:0"},
        ) as cluster,
    ):  # fmt: skip
        for repeat in range(REPEATS):
            ordered, ordered_share = throughput(
                cluster.scheduler_address, Path(folder), repeat, is_ordered=True
            )
            free, free_share = throughput(
                cluster.scheduler_address, Path(folder), repeat, is_ordered=False
            )
            ratios.append(ordered / free)
            ordered_shares.append(ordered_share)
            free_shares.append(free_share)
    found = {
        "ordered / free throughput": statistics.median(ratios),
        "efficiency ordered": statistics.median(ordered_shares),
        "efficiency free": statistics.median(free_shares),
    }
    print(
        f"dispatch: {WORKERS} workers, lag {LAG}, {CANDIDATES} candidates, "
        f"median {MEDIAN_SECONDS} s, sigma {SIGMA}"
    )
    for name, value in found.items():
        print(f"  {name}: {value:.3f} (median of {REPEATS})")
    print(f"  ratios: {', '.join(f'{ratio:.3f}' for ratio in ratios)}")
    return found


if __name__ == "__main__":
    main()
