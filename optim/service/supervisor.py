"""Looks after the jobs of a service: starts drivers, starts them again, carries out wishes.

What is to become of a job is decided by `optim.jobs.life_cycle`; here it is carried out. The
supervisor keeps nothing that is not in the database but its children, and they end with it
(`docs/decisions/010-jobs-and-supervision.md`).
"""

import logging
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass

from optim.jobs import life_cycle
from optim.jobs.dask_dispatcher import ClusterSettings
from optim.jobs.life_cycle import DriverEnd
from optim.service.children import Child
from optim.service.cluster_child import ClusterChild
from optim.service.job_ends import close_run, end_of
from optim.store.errors import RunHeldError, StaleStateError, StoreError, UnknownRunError
from optim.store.opening import open_database
from optim.store.queue_contract import JobRecord, JobStore

logger = logging.getLogger(__name__)

SILENCE_SECONDS = 900.0
"""A driver that has not been heard of for so long [s] is ended and started again.

Compiling the models on a busy machine takes minutes, in which it says nothing.
"""
LEAVE_SECONDS = 30.0
"""How long drivers may take to finish what runs when the service stops [s]."""
_STEP_SECONDS = 0.2
_AGAIN_SECONDS = 1.0


@dataclass(frozen=True)
class SupervisorSettings:
    """How much a supervisor may start, and where.

    Attributes
    ----------
    workers : int
        Processes of the embedded cluster, >= 1; not used with a scheduler.
    scheduler : str
        Address of a running Dask scheduler, or empty for the embedded cluster.
    tls_ca_file, tls_cert_file, tls_key_file : str
        Certificates for a scheduler that asks for them.
    running_limit : int
        How many jobs run at once, >= 1; they share the workers.
    driver : str
        Module that drives a job.
    """

    workers: int = 1
    scheduler: str = ""
    tls_ca_file: str = ""
    tls_cert_file: str = ""
    tls_key_file: str = ""
    running_limit: int = 2
    driver: str = "optim.service.job_driver"

    def __post_init__(self) -> None:
        for name in ("workers", "running_limit"):
            if getattr(self, name) < 1:
                raise ValueError(f"{name}: given {getattr(self, name)}; allowed: 1 or more")


@dataclass(frozen=True)
class SupervisorHealth:
    """What a supervisor says of itself.

    Attributes
    ----------
    is_alive : bool
        Whether its thread lives.
    is_supervising : bool
        Whether it has the queue: not while another service has it or the database is away.
    has_workers : bool
        Whether the embedded cluster is there; True with a given scheduler.
    drivers : mapping of str to int
        Process numbers of the drivers by run.
    cluster : int or None
        Process number of the embedded cluster.
    trouble : str
        What keeps it from working, or empty.
    """

    is_alive: bool
    is_supervising: bool
    has_workers: bool
    drivers: dict[str, int]
    cluster: int | None
    trouble: str


class Supervisor:
    """Looks after jobs in a thread of its own.

    Parameters
    ----------
    database : str
        Address of the store: path of a file, or URL.
    settings : SupervisorSettings
        See there.
    clock : callable
        Gives the Unix time [s].
    """

    def __init__(
        self,
        database: str,
        settings: SupervisorSettings | None = None,
        *,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self._database = str(database)
        self._settings = settings or SupervisorSettings()
        self._clock = clock
        self._drivers: dict[str, Child] = {}
        self._cluster: ClusterChild | None = None
        self._is_supervising = False
        self._trouble = ""
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="supervisor", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Let drivers finish what runs, then end everything; jobs go on at the next start."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(2.0 * LEAVE_SECONDS)

    def health(self) -> SupervisorHealth:
        """Return how it is."""
        cluster = self._cluster
        return SupervisorHealth(
            is_alive=self._thread.is_alive(),
            is_supervising=self._is_supervising,
            has_workers=bool(self._settings.scheduler) or bool(cluster and cluster.is_ready),
            drivers={run_id: child.pid for run_id, child in list(self._drivers.items())},
            cluster=cluster.pid if cluster else None,
            trouble=self._trouble,
        )

    # The thread

    def _serve(self) -> None:
        try:
            while not self._stopping.is_set():
                try:
                    with open_database(self._database) as store, store.hold_queue():
                        self._supervise(store)
                except RunHeldError:
                    self._note("another service looks after this queue; waiting for it to end")
                except StoreError as error:
                    self._note(str(error))
                except Exception as error:  # the thread must live as long as the service
                    logger.exception("the supervisor stumbled")
                    self._note(f"{type(error).__name__}: {error}")
                self._stopping.wait(_AGAIN_SECONDS)
        finally:
            self._end_children()

    def _note(self, trouble: str) -> None:
        if trouble != self._trouble:
            logger.warning(trouble)
        self._trouble = trouble

    def _supervise(self, store: JobStore) -> None:
        self._is_supervising = True
        try:
            while not self._stopping.is_set():
                self._step(store)
                self._trouble = ""
                self._stopping.wait(_STEP_SECONDS)
            self._let_go(store)
        finally:
            self._is_supervising = False

    def _step(self, store: JobStore) -> None:
        if not self._settings.scheduler:
            if self._cluster is None:
                self._cluster = ClusterChild(self._settings.workers)
            self._cluster.look_after(time.monotonic())
        self._reap(store)
        running = store.jobs(states=("running",))
        for job in running:
            with suppress(StaleStateError, UnknownRunError):  # changed meanwhile: next time
                if job.run_id in self._drivers:
                    self._look_after(store, job)
                else:
                    self._take_over(store, job)
        if self._has_workers():
            self._start_due(store, len(running))

    def _has_workers(self) -> bool:
        return bool(self._settings.scheduler) or (
            self._cluster is not None and self._cluster.is_ready
        )

    def _start_due(self, store: JobStore, running: int) -> None:
        now = self._clock()
        for job in store.jobs(states=("queued",)):
            if running >= self._settings.running_limit:
                return
            if not life_cycle.may_start(job, now=now) or store.is_held(job.run_id):
                continue
            with suppress(StaleStateError, UnknownRunError):
                rows = store.count(job.run_id)
                state = store.run(job.run_id).state
                job = store.change_job(job, life_cycle.start(job, now=now, rows=rows))
                if state in ("done", "cancelled"):  # its driver got that far before a crash
                    self._write_end(store, job, "done" if state == "done" else "cancelled", state)
                    continue
                self._drivers[job.run_id] = self._start_driver(job)
                running += 1

    def _start_driver(self, job: JobRecord) -> Child:
        settings = self._settings
        cluster = ClusterSettings(
            address=self._cluster.address if self._cluster else settings.scheduler,
            tls_ca_file=settings.tls_ca_file,
            tls_cert_file=settings.tls_cert_file,
            tls_key_file=settings.tls_key_file,
        )
        child = Child(
            settings.driver,
            {
                "database": self._database,
                "run_id": job.run_id,
                "cluster": asdict(cluster),
                "is_embedded": self._cluster is not None,
                "sharing": settings.running_limit,
            },
        )
        logger.info("driver %d of %s started", child.pid, job.run_id, extra={"run": job.run_id})
        return child

    def _look_after(self, store: JobStore, job: JobRecord) -> None:
        record = store.run(job.run_id)
        if job.wish and not record.stop_request:
            # A driver that was just starting clears what was asked before.
            store.request_stop(job.run_id, "cancel" if job.wish == "cancel" else "interrupt")
        heard = max(record.heartbeat, job.started)
        if self._clock() - heard > SILENCE_SECONDS:
            logger.warning("driver of %s is silent; ending it", job.run_id)
            self._drivers[job.run_id].kill()

    def _take_over(self, store: JobStore, job: JobRecord) -> None:
        """Settle a running job that is not ours: its supervisor is gone."""
        if store.is_held(job.run_id):
            # Its driver finishes what runs, or somebody drives it by hand.
            if job.wish:
                store.request_stop(job.run_id, "cancel" if job.wish == "cancel" else "interrupt")
            return
        state = store.run(job.run_id).state
        end: DriverEnd = "interrupted"
        if state in ("done", "cancelled"):
            end = "done" if state == "done" else "cancelled"
        self._write(store, job, life_cycle.orphaned(job, end, now=self._clock()))

    def _reap(self, store: JobStore) -> None:
        for run_id, child in list(self._drivers.items()):
            code = child.exit_code()
            if code is None:
                continue
            reason = str(child.last_words().get("reason", "")) or _code_text(code)
            with suppress(UnknownRunError):
                self._settle(store, run_id, code, reason)
            # Only now, so that an end that could not be written is written later.
            del self._drivers[run_id]
            child.release()

    def _settle(self, store: JobStore, run_id: str, code: int, reason: str) -> None:
        logger.info("driver of %s ended: %s", run_id, reason, extra={"run": run_id})
        end = end_of(store.run(run_id), code)
        while True:
            job = store.job(run_id)
            if job.state != "running":
                return
            with suppress(StaleStateError):
                self._write_end(store, job, end, reason)
                return

    def _write_end(self, store: JobStore, job: JobRecord, end: DriverEnd, reason: str) -> None:
        rows = store.count(job.run_id)
        after = life_cycle.driver_ended(job, end, now=self._clock(), rows=rows, reason=reason)
        self._write(store, job, after)

    def _write(self, store: JobStore, before: JobRecord, after: JobRecord) -> None:
        after = store.change_job(before, after)
        if after.state == "cancelled":
            close_run(store, after.run_id)

    # The end of the service

    def _let_go(self, store: JobStore) -> None:
        for child in self._drivers.values():
            child.let_go()
        end = time.monotonic() + LEAVE_SECONDS
        while self._drivers and time.monotonic() < end:
            time.sleep(_STEP_SECONDS)
            self._reap(store)
        for child in self._drivers.values():
            child.kill()
        self._reap_as_orphans(store)

    def _reap_as_orphans(self, store: JobStore) -> None:
        for run_id in list(self._drivers):
            with suppress(StaleStateError, UnknownRunError):
                job = store.job(run_id)
                if job.state == "running":
                    self._write(store, job, life_cycle.orphaned(job, "crashed", now=self._clock()))
            self._drivers.pop(run_id).release()

    def _end_children(self) -> None:
        for child in self._drivers.values():
            child.release()
        self._drivers.clear()
        if self._cluster is not None:
            self._cluster.close()


def _code_text(code: int) -> str:
    return f"ended by signal {-code}" if code < 0 else f"ended with code {code}"
