"""What the service says of itself to a monitoring system, in the Prometheus text format."""

import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from optim.service.job_desk import JobDesk

Family = GaugeMetricFamily


class Measures:
    """The registry of a service.

    Parameters
    ----------
    desk : JobDesk
        Knows the jobs.
    watchers : callable
        Gives the number of open event streams.
    health : callable
        What the supervisor says of itself.
    """

    def __init__(
        self, desk: JobDesk, watchers: Callable[[], int], health: Callable[[], Mapping[str, Any]]
    ) -> None:
        self.registry = CollectorRegistry()
        self.registry.register(_Jobs(desk, watchers, health))
        self.requests = Counter(
            "paretorque_requests", "Requests answered", ["method", "status"],
            registry=self.registry,
        )  # fmt: skip
        self.seconds = Histogram(
            "paretorque_request_seconds", "Time to the answer's end, event streams left out",
            buckets=(0.005, 0.02, 0.1, 0.5, 2.0, 10.0), registry=self.registry,
        )  # fmt: skip


class _Jobs(Collector):
    """Reads the queue each time it is asked."""

    def __init__(
        self, desk: JobDesk, watchers: Callable[[], int], health: Callable[[], Mapping[str, Any]]
    ) -> None:
        self._desk, self._watchers, self._health = desk, watchers, health

    def describe(self) -> list[Family]:
        """Return nothing: what there is is known only by reading the store."""
        return []

    def collect(self) -> Iterator[Family]:
        """Yield the families."""
        load = self._desk.load()
        jobs = Family("paretorque_jobs", "Jobs by state", labels=["state"])
        for state, count in load.by_state.items():
            jobs.add_metric([state], count)
        yield jobs
        rates = [p.rate for p in load.running.values() if math.isfinite(p.rate)]
        yield Family("paretorque_evaluations_per_second", "Of all running jobs", value=sum(rates))
        told = Family("paretorque_run_evaluations", "Evaluations so far", labels=["run"])
        failed = Family("paretorque_run_failures", "Failed evaluations so far", labels=["run"])
        for run_id, progress in load.running.items():
            told.add_metric([run_id], progress.told)
            failed.add_metric([run_id], progress.failed)
        yield told
        yield failed
        yield Family("paretorque_watchers", "Open event streams", value=self._watchers())
        workers = self._health().get("workers")
        if workers is not None:
            yield Family("paretorque_workers", "Worker processes", value=float(workers))
