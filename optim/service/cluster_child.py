"""The embedded cluster of a service: a child that is started again when it is gone."""

import logging
import socket

from optim.service.children import Child

logger = logging.getLogger(__name__)

START_SECONDS = 120.0
"""How long the workers may take to be there [s]; then they are tried again."""
LEAST_LIFE_SECONDS = 3.0
"""Time between two starts at least [s]."""
_WAIT_SECONDS = 0.2


class ClusterChild:
    """Keeps a scheduler with workers alive at one address.

    Parameters
    ----------
    workers : int
        Processes that evaluate.
    """

    def __init__(self, workers: int) -> None:
        self._workers = workers
        # Chosen once: drivers that lost the scheduler look for it where it was.
        self._port = _free_port()
        self._child: Child | None = None
        self._is_ready = False

    @property
    def address(self) -> str:
        """Where the scheduler is, or will be again."""
        return f"tcp://127.0.0.1:{self._port}"

    @property
    def is_ready(self) -> bool:
        """Whether it has said that its workers are there, and lives."""
        return self._is_ready and self._child is not None and self._child.exit_code() is None

    @property
    def pid(self) -> int | None:
        """Number of its process, None where there is none."""
        return self._child.pid if self._child is not None else None

    def look_after(self, now: float) -> None:
        """Start it where it is not there, hear from it where it starts; `now` rises [s]."""
        child = self._child
        if child is None or child.exit_code() is not None:
            if child is not None:
                if now - child.started < LEAST_LIFE_SECONDS:
                    return  # one that cannot start shall not be tried all the time
                logger.warning("the cluster ended with code %s; starting it again",
                               child.exit_code())  # fmt: skip
                child.release()
            order = {"workers": self._workers, "port": self._port}
            self._child, self._is_ready = Child("optim.jobs.cluster_process", order), False
            return
        if self._is_ready:
            return
        told = child.read_line(_WAIT_SECONDS)
        if told.get("address"):
            self._is_ready = True
            logger.info("%d workers are ready", self._workers)
        elif told.get("error"):
            logger.error("the cluster does not start: %s", told["error"])
        elif now - child.started > START_SECONDS:
            logger.error("the cluster takes longer than %g s to start", START_SECONDS)
            child.kill()

    def let_go(self) -> None:
        """Let it end once the drivers have left."""
        if self._child is not None:
            self._child.let_go()

    def close(self) -> None:
        """End it now."""
        if self._child is not None:
            self._child.release()
            self._child = None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
