"""A connection to Dask: an embedded cluster of processes, or a scheduler elsewhere.

Nothing but this module and `optim.jobs.dask_cluster` imports Dask. It sends batches, watches them
and the workers, and reports what happens; what to do about it is decided by
`optim.jobs.dask_dispatcher`.
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
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import distributed
from distributed import KilledWorker
from distributed.protocol import pickle as distributed_pickle

from models import PHYSICS_VERSION
from models.machine import ParameterValue
from optim.jobs.dask_cluster import quieten, start_cluster
from optim.jobs.errors import UnreachableError
from optim.jobs.placement import Batch
from optim.jobs.work import Evaluate, PlainOutcome, evaluate_batch

logger = logging.getLogger(__name__)

POLL_SECONDS = 0.5
"""How often the workers are counted [s]."""

_SILENCE_SECONDS = 30.0  # a busy scheduler may take long to answer; a dead one fails at once

MAX_TROUBLES = 3
"""How often in a row a cluster may fail before a person has to look at it."""

# The library's annotations are incomplete.
_dask: Any = distributed
_pickle: Any = distributed_pickle


@dataclass(frozen=True)
class ClusterSettings:
    """Where the workers are.

    The embedded cluster listens on this machine only (127.0.0.1), without encryption: on a machine
    shared with people you do not trust use a scheduler with certificates.

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


def pack(evaluate: Evaluate) -> bytes:
    """Return an evaluation function as the bytes that workers unpack."""
    packed: bytes = _pickle.dumps(evaluate)
    return packed


class Connection:
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
        quieten()
        self.shunned: frozenset[str] = frozenset()
        if settings.address:
            self._client = _reach(settings)
        else:
            self._cluster = start_cluster(settings.workers)
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
                threads = await asyncio.wait_for(self._client.scheduler.ncores(), _SILENCE_SECONDS)
                self._reports.put(("workers", tuple(threads)))
            except Exception as error:  # any failure of this call means no scheduler
                self._reports.put(("scheduler", repr(error)))
                return
            await asyncio.sleep(POLL_SECONDS)

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
                raise UnreachableError(
                    f"no scheduler at {settings.address} for {settings.reconnect_seconds:g} s; "
                    "start it or give another address, then resume"
                ) from error
            time.sleep(0.2)
