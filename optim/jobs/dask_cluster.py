"""A scheduler with worker processes on this machine.

Nothing but this module and `optim.jobs.dask_connection` imports Dask.
"""

import asyncio
import logging
from typing import Any

import dask
import distributed

from optim.jobs.errors import DispatchError
from optim.jobs.interruption import children_without_ctrl_c

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
EMBEDDED_SETTINGS = {
    # One loss is enough to hand a batch back: how often to try again is decided here.
    "distributed.scheduler.allowed-failures": 0,
    "distributed.scheduler.work-stealing": False,
    "distributed.admin.low-level-log-length": 100,
    # Self-observation that nobody looks at here; with many workers it takes a good part of a core.
    "distributed.admin.tick.interval": "1s",
    "distributed.admin.system-monitor.interval": "10s",
    "distributed.worker.profile.enabled": False,
    "distributed.nanny.pre-spawn-environ": {"MALLOC_TRIM_THRESHOLD_": 65536, **_ONE_THREAD},
}
"""What an embedded cluster changes of the library's configuration."""

LOADING_SECONDS = 180.0
"""How long a new worker process may take to report, on a busy machine [s]."""
_RESTART_SECONDS = 5.0  # a lost one has a new process after a moment, or never
_TRIES = 3

# The library's annotations are incomplete.
_dask: Any = distributed


class EmbeddedCluster:
    """A scheduler and workers for several drivers, in and below this process.

    Parameters
    ----------
    workers : int
        Processes that evaluate, >= 1.
    port : int
        Where the scheduler listens on this machine; 0 for any free one.

    Raises
    ------
    DispatchError
        If the workers cannot be started.
    """

    def __init__(self, workers: int, *, port: int = 0) -> None:
        quieten()
        self._wanted = workers
        self._cluster = start_cluster(workers, port)
        self._missing_since: dict[Any, float] = {}

    @property
    def address(self) -> str:
        """Address of the scheduler."""
        return str(self._cluster.scheduler_address)

    @property
    def clients(self) -> int:
        """How many drivers are connected."""
        # The scheduler counts one of its own for tasks that nobody waits for.
        return len([name for name in self._cluster.scheduler.clients if name != "fire-and-forget"])

    def mend(self, now: float) -> int:
        """Replace workers that are gone and do not come back by themselves; `now` rises [s].

        Returns
        -------
        int
            How many are being replaced.
        """
        asynchronously = asyncio.run_coroutine_threadsafe(
            self._mend(now), self._cluster.loop.asyncio_loop
        )
        return asynchronously.result()

    async def _mend(self, now: float) -> int:
        nannies = self._cluster.workers
        here = {state.name for state in self._cluster.scheduler.workers.values()}
        missing = [name for name in nannies if name not in here]
        self._missing_since = {name: self._missing_since.get(name, now) for name in missing}
        lost = [
            name
            for name, since in self._missing_since.items()
            if now - since > (LOADING_SECONDS if nannies[name].pid else _RESTART_SECONDS)
        ]
        for name in lost:
            logger.warning("worker %s does not come back; starting another", name)
            del self._missing_since[name]
            nanny = nannies.pop(name)
            task = asyncio.ensure_future(nanny.close(timeout=1.0))
            task.add_done_callback(_forget_outcome)
        if len(nannies) < self._wanted:
            # Opens what is wanted and not there; does nothing while it is at it already.
            self._cluster.scale(self._wanted)
        return len(lost)

    def close(self) -> None:
        """End the workers and the scheduler."""
        try:
            self._cluster.close(timeout=5.0)
        except Exception as error:  # it is being let go, whatever its state
            logger.info("closing the cluster: %r", error)


def start_cluster(workers: int, port: int = 0) -> Any:
    """Return a scheduler in this process with worker processes below it.

    Raises
    ------
    DispatchError
        If they cannot be started.
    """
    for attempt in range(1, _TRIES + 1):
        try:
            with children_without_ctrl_c():
                return _local_cluster(workers, port)
        except (RuntimeError, OSError) as error:
            # A worker process that is killed while it starts takes the cluster's start with it.
            logger.warning("workers did not start (%r), attempt %d", error, attempt)
            cause = error
    raise DispatchError(
        f"{workers} workers cannot be started here ({cause}); ask for fewer, or free memory"
    ) from cause


def _local_cluster(workers: int, port: int) -> Any:
    # Read long after the start: without it a worker that takes longer than 15 s to be started
    # again, as on a busy machine, is given up for good.
    dask.config.set({"distributed.deploy.lost-worker-timeout": "1 day"})
    with dask.config.set(EMBEDDED_SETTINGS):
        return _dask.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            scheduler_port=port,
            dashboard_address=None,
            # Without an address of its own the status page takes a well-known port.
            scheduler_kwargs={"dashboard": False, "dashboard_address": "127.0.0.1:0"},
            silence_logs=logging.CRITICAL,
        )


def _forget_outcome(task: "asyncio.Future[Any]") -> None:
    # It was being let go, whatever its state; asking for the outcome keeps the library quiet.
    if not task.cancelled():
        task.exception()


def quieten() -> None:
    """Keep the library's log to itself."""
    # Lost workers are expected and reported here; the library's log would alarm people.
    for name in ("distributed", "distributed.client", "distributed.scheduler"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
