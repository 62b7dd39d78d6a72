"""Evaluations on Dask workers: an embedded cluster of processes, or a scheduler elsewhere.

The only module that knows Dask. What happens to a lost, hung or poisoned worker is decided by
`optim.jobs.placement`; this module carries it out.
"""

import asyncio
import concurrent.futures
import logging
import os
import queue
import signal
import threading
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import dask
import distributed
from distributed import KilledWorker
from distributed.protocol import pickle as distributed_pickle

from models import PHYSICS_VERSION
from models.machine import ParameterValue
from optim.jobs.errors import DispatchError
from optim.jobs.placement import Batch, Placement, PlacementSettings
from optim.jobs.work import Evaluate, Outcome, PlainOutcome, evaluate_batch, failed

logger = logging.getLogger(__name__)

_ONE_THREAD = dict.fromkeys(
    (
        "OMP_NUM_THREADS",
        "OPENBLAS_NUM_THREADS",
        "MKL_NUM_THREADS",
        "NUMEXPR_NUM_THREADS",
        "NUMBA_NUM_THREADS",
    ),
    1,
)
_EMBEDDED = {
    # One loss is enough to hand a batch back: how often to try again is decided here.
    "distributed.scheduler.allowed-failures": 0,
    "distributed.scheduler.work-stealing": False,
    "distributed.admin.low-level-log-length": 100,
    "distributed.nanny.pre-spawn-environ": {"MALLOC_TRIM_THRESHOLD_": 65536, **_ONE_THREAD},
}
_POLL_SECONDS = 0.5
_MAX_TROUBLES = 3
# The library's annotations are incomplete.
_dask: Any = distributed
_pickle: Any = distributed_pickle


@dataclass(frozen=True)
class ClusterSettings:
    """Where the workers are.

    Attributes
    ----------
    workers : int
        Processes of the embedded cluster, >= 1; not used with an address.
    address : str
        Address of a running scheduler (`tcp://host:8786`), or empty for the embedded cluster.
        Its workers must have this version of the program, one thread each, and nannies, without
        which a hung evaluation cannot be ended.
    reconnect_seconds : float
        How long to try to get a scheduler or any worker back [s].
    tls_ca_file, tls_cert_file, tls_key_file : str
        Certificates for a scheduler that asks for them.
    """

    workers: int = 1
    address: str = ""
    reconnect_seconds: float = 60.0
    tls_ca_file: str = ""
    tls_cert_file: str = ""
    tls_key_file: str = ""


class DaskDispatcher:
    """Evaluates on Dask workers; see `optim.jobs.dispatcher.Dispatcher`.

    Parameters
    ----------
    evaluate : callable
        From a parameter table to an evaluation; is pickled once.
    cluster : ClusterSettings
        Where the workers are.
    placement : PlacementSettings
        Batches, time limit, losses.

    Raises
    ------
    DispatchError
        If no scheduler is found in time.
    """

    def __init__(
        self,
        evaluate: Evaluate,
        *,
        cluster: ClusterSettings | None = None,
        placement: PlacementSettings | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._settings = cluster or ClusterSettings()
        if self._settings.workers < 1:
            raise ValueError(f"given {self._settings.workers} workers; allowed: 1 or more")
        self._placement_settings = placement or PlacementSettings()
        self._placement = Placement(self._placement_settings)
        self._packed: bytes = _pickle.dumps(evaluate)
        self._clock = clock
        self._parameters: dict[int, Mapping[str, ParameterValue]] = {}
        self._settled: list[Outcome] = []
        self._connection = _Connection(self._settings)
        self._troubles = 0
        self._without_worker_since: float | None = self._clock()

    @property
    def in_flight(self) -> int:
        """How many designs have been submitted and neither returned nor withdrawn."""
        return self._placement.in_flight + len(self._settled)

    @property
    def appetite(self) -> int:
        """How many designs in flight keep every worker busy."""
        return self._placement.appetite

    def submit(self, number: int, parameters: Mapping[str, ParameterValue]) -> None:
        """Add a design to be evaluated."""
        # A plain dict travels; a mapping view does not pickle.
        self._parameters[number] = dict(parameters)
        self._placement.submit(number)

    def withdraw(self) -> tuple[int, ...]:
        """Take back and return the designs that are not on a worker."""
        numbers = self._placement.withdraw()
        for number in numbers:
            del self._parameters[number]
        return numbers

    def collect(self, timeout: float) -> list[Outcome]:
        """Return what has arrived, waiting for at most `timeout` [s]."""
        end = self._clock() + timeout
        while True:
            self._send()
            wait = 0.0 if self._settled else max(0.0, min(end - self._clock(), _POLL_SECONDS))
            connection = self._connection
            for report in connection.reports(wait):
                self._take(*report)
                if self._connection is not connection:
                    break  # the rest speaks of a connection that is gone
            self._end_overdue()
            self._watch_for_workers()
            if self._settled or self._clock() >= end:
                self._send()
                settled, self._settled = self._settled, []
                return settled

    def close(self, *, is_immediate: bool = False) -> None:
        """Let the workers go."""
        self._connection.close(is_immediate=is_immediate)

    def __enter__(self) -> "DaskDispatcher":
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        self.close(is_immediate=kind is not None)

    def _send(self) -> None:
        for batch in self._placement.place(self._clock()):
            pairs = [(number, self._parameters[number]) for number in batch.numbers]
            self._connection.send(batch, self._packed, pairs)

    def _take(self, kind: str, value: Any) -> None:
        now = self._clock()
        if kind == "results":
            serial, outcomes = value
            awaited = self._placement.finish(serial, sum(o.seconds for o in outcomes), now)
            if awaited:
                self._troubles = 0
                self._settle([plain.outcome() for plain in outcomes])
        elif kind == "workers":
            names = frozenset(value) - self._connection.shunned
            self._give_up(self._placement.see_workers(names, now))
            self._connection.drop(self._placement.sent)
        elif kind == "killed":
            batch = self._placement.sent.get(value)
            if batch is not None:
                logger.warning("worker %s was lost with %s", batch.worker, batch.numbers)
                self._give_up(self._placement.lose_worker(batch.worker))
                self._connection.drop(self._placement.sent)
        elif kind == "error":
            serial, error = value
            if serial in self._placement.sent:
                raise DispatchError(
                    f"the workers cannot evaluate ({type(error).__name__}: {error}); they need "
                    "this version of the program and its libraries"
                ) from error
        elif kind == "cancelled":
            if value in self._placement.sent:
                self._recover("its futures were cancelled")
        else:
            self._recover(value)

    def _settle(self, outcomes: list[Outcome]) -> None:
        for outcome in outcomes:
            del self._parameters[outcome.number]
        self._settled += outcomes

    def _give_up(self, numbers: tuple[int, ...]) -> None:
        losses = self._placement_settings.max_losses
        text = f"{losses} workers were lost while evaluating this design alone"
        self._settle([Outcome(n, failed("worker_killed", text), 0.0, "") for n in numbers])

    def _end_overdue(self) -> None:
        limit = self._placement_settings.time_limit
        for batch in self._placement.overdue(self._clock()):
            logger.warning("ending worker %s, overdue with %s", batch.worker, batch.numbers)
            expired = self._placement.expire(batch)
            self._connection.drop(self._placement.sent)
            self._connection.end_worker(batch.worker)
            if not batch.numbers:
                self._count_trouble("workers do not finish loading the program")
            text = f"not done after the time limit of {limit:g} s"
            self._settle([Outcome(n, failed("time_limit", text), limit, "") for n in expired])

    def _watch_for_workers(self) -> None:
        now = self._clock()
        if self._placement.workers:
            self._without_worker_since = None
        elif self._without_worker_since is None:
            self._without_worker_since = now
        elif now - self._without_worker_since > self._settings.reconnect_seconds:
            if not self._settings.address:
                self._recover("no worker is left")
                return
            raise DispatchError(
                f"no worker for {self._settings.reconnect_seconds:g} s; start workers, then resume"
            )

    def _recover(self, cause: object) -> None:
        logger.warning("scheduler lost (%s); getting it back", cause)
        self._count_trouble(f"the scheduler is lost again and again ({cause})")
        self._placement.forget_workers()
        self._connection.close(is_immediate=True)
        self._connection = _Connection(self._settings)
        self._without_worker_since = self._clock()

    def _count_trouble(self, text: str) -> None:
        self._troubles += 1
        if self._troubles > _MAX_TROUBLES:
            raise DispatchError(
                f"{text}, {self._troubles} times without a result in between; look into the "
                "workers' log, then resume"
            )


class _Connection:
    """A client with what it watches. Reports come through a queue, in order of arrival.

    Reports are ("results", (serial, outcomes)), ("killed", serial), ("error", (serial, error)),
    ("cancelled", serial), ("workers", addresses) and ("scheduler", cause).
    """

    def __init__(self, settings: ClusterSettings) -> None:
        self._reports: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._futures: dict[int, Any] = {}
        self._cluster: Any = None
        # A scheduler takes equal keys, also of other runs and clients, for one and the same task.
        self._token = uuid.uuid4().hex
        # Lost workers are expected and reported here; the library's log would alarm people.
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        self.shunned: frozenset[str] = frozenset()
        if settings.address:
            self._client = _reach(settings)
        else:
            self._cluster = _start_cluster(settings.workers)
            self._client = _dask.Client(self._cluster, set_as_default=False)
        self._loop = self._client.loop.asyncio_loop
        self._watch = asyncio.run_coroutine_threadsafe(self._watch_workers(), self._loop)

    def send(
        self, batch: Batch, packed: bytes, pairs: list[tuple[int, Mapping[str, ParameterValue]]]
    ) -> None:
        """Send a batch to its worker."""
        try:
            future = self._client.submit(
                evaluate_batch,
                packed,
                pairs,
                PHYSICS_VERSION,
                key=f"evaluate-{self._token}-{batch.serial}",
                pure=False,
                retries=0,
                workers=[batch.worker],
                allow_other_workers=False,
            )
        except Exception as error:  # whatever the client raises when its scheduler is gone
            self._reports.put(("scheduler", repr(error)))
            return
        self._futures[batch.serial] = future
        asyncio.run_coroutine_threadsafe(self._await_results(batch.serial, future), self._loop)

    def reports(self, timeout: float) -> list[tuple[str, Any]]:
        """Return the reports that are here, waiting [s] for the first."""
        found: list[tuple[str, Any]] = []
        try:
            found.append(
                self._reports.get(timeout=timeout) if timeout > 0.0 else self._reports.get_nowait()
            )
            while True:
                found.append(self._reports.get_nowait())
        except queue.Empty:
            pass
        for kind, value in found:
            if kind == "results" and value[0] in self._futures:
                self._futures.pop(value[0]).release()
        return found

    def drop(self, awaited: Mapping[int, Batch]) -> None:
        """Let go of every batch that is not awaited any more."""
        for serial in [s for s in self._futures if s not in awaited]:
            self._futures.pop(serial).release()

    def end_worker(self, address: str) -> None:
        """Kill a worker's process; its nanny starts another."""
        self.shunned |= {address}
        asyncio.run_coroutine_threadsafe(self._kill(address), self._loop)

    def close(self, *, is_immediate: bool) -> None:
        """Let go of the scheduler and end an embedded cluster."""
        self._watch.cancel()
        self.drop({})
        if is_immediate and self._cluster is not None:
            for nanny in list(self._cluster.workers.values()):
                nanny.auto_restart = False
                if nanny.pid is not None:
                    os.kill(nanny.pid, signal.SIGKILL)
        # Closing waits for replies that a lost scheduler never sends: do not wait with it.
        closing = threading.Thread(target=self._close_quietly, daemon=True)
        closing.start()
        closing.join(timeout=1.0 if is_immediate else 15.0)

    def _close_quietly(self) -> None:
        for part in (self._client, self._cluster):
            if part is None:
                continue
            try:
                part.close(timeout=5.0)
            except Exception as error:  # it is being let go, whatever its state
                logger.info("closing the connection: %r", error)
        if self._cluster is not None:
            # A cluster whose scheduler is gone cannot close: its workers are dead, call it closed.
            self._cluster.status = _dask.Status.closed

    async def _await_results(self, serial: int, future: Any) -> None:
        try:
            outcomes: list[PlainOutcome] = await self._client.gather(future, asynchronous=True)
        except KilledWorker:
            self._reports.put(("killed", serial))
        except (asyncio.CancelledError, concurrent.futures.CancelledError):
            # Also the base of the client's own error for futures lost with the scheduler. For a
            # batch that was dropped nobody waits any more.
            self._reports.put(("cancelled", serial))
        except OSError as error:
            self._reports.put(("scheduler", repr(error)))
        except Exception as error:  # reported to the driver, which stops
            self._reports.put(("error", (serial, error)))
        else:
            self._reports.put(("results", (serial, outcomes)))

    async def _watch_workers(self) -> None:
        while True:
            try:
                threads = await asyncio.wait_for(self._client.scheduler.ncores(), 5.0)
                self._reports.put(("workers", tuple(threads)))
            except Exception as error:  # any failure of this call means no scheduler
                self._reports.put(("scheduler", repr(error)))
                return
            await asyncio.sleep(_POLL_SECONDS)

    async def _kill(self, address: str) -> None:
        try:
            await self._client.run(
                _kill_worker_process, workers=[address], nanny=True, asynchronous=True
            )
        except Exception as error:  # without a nanny the worker is only left alone
            logger.warning("worker %s cannot be ended: %r", address, error)


def _kill_worker_process(dask_worker: Any) -> None:
    if dask_worker.pid is not None:
        os.kill(dask_worker.pid, signal.SIGKILL)


def _start_cluster(workers: int) -> Any:
    for attempt in range(1, _MAX_TROUBLES + 1):
        try:
            return _local_cluster(workers)
        except (RuntimeError, OSError) as error:
            # A worker process that is killed while it starts takes the cluster's start with it.
            logger.warning("workers did not start (%r), attempt %d", error, attempt)
            cause = error
    raise DispatchError(
        f"{workers} workers cannot be started here ({cause}); ask for fewer, or free memory"
    ) from cause


def _local_cluster(workers: int) -> Any:
    with dask.config.set(_EMBEDDED):
        return _dask.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address=None,
            # Without an address of its own the status page takes a well-known port.
            scheduler_kwargs={"dashboard": False, "dashboard_address": "127.0.0.1:0"},
            silence_logs=logging.CRITICAL,
            preload=["optim.jobs.worker_start"],
        )


def _reach(settings: ClusterSettings) -> Any:
    end = time.monotonic() + settings.reconnect_seconds
    has_tls = bool(settings.tls_ca_file)
    security = partial(
        _dask.Security,
        require_encryption=True,
        tls_ca_file=settings.tls_ca_file,
        tls_client_cert=settings.tls_cert_file,
        tls_client_key=settings.tls_key_file,
    )
    while True:
        left = end - time.monotonic()
        try:
            return _dask.Client(
                settings.address,
                set_as_default=False,
                timeout=max(0.5, min(5.0, left)),
                security=security() if has_tls else None,
            )
        except (OSError, TimeoutError) as error:
            if time.monotonic() >= end:
                raise DispatchError(
                    f"no scheduler at {settings.address} for {settings.reconnect_seconds:g} s; "
                    "start it or give another address, then resume"
                ) from error
            time.sleep(0.2)
