"""Workers of the shared cluster that vanish come back, also when nobody starts them again."""

import os
import signal
import time

import pytest

from optim.jobs.dask_cluster import EmbeddedCluster

_PATIENCE = 120.0


@pytest.fixture
def cluster():
    made = EmbeddedCluster(1)
    yield made
    made.close()


def workers(cluster):
    return dict(cluster._cluster.scheduler.workers)


def wait_until(is_so):
    end = time.monotonic() + _PATIENCE
    while not is_so():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


def test_a_worker_that_nobody_starts_again_is_replaced(cluster):
    before = set(workers(cluster))
    # Whole workers are left alone however much time goes by.
    assert cluster.mend(0.0) == 0
    assert cluster.mend(1e6) == 0
    assert set(workers(cluster)) == before
    (nanny,) = cluster._cluster.workers.values()
    nanny.auto_restart = False

    # As a process that dies while it is being started: its keeper does not try again.
    async def never():
        raise RuntimeError("it does not start")

    nanny.instantiate = never
    os.kill(nanny.pid, signal.SIGKILL)
    wait_until(lambda: not workers(cluster))
    assert cluster.mend(2e6) == 0
    assert cluster.mend(2e6 + 1.0) == 0  # it may yet come back by itself
    wait_until(lambda: not nanny.pid)
    assert cluster.mend(2e6 + 10.0) == 1
    wait_until(lambda: workers(cluster))
    assert set(workers(cluster)) != before
    assert cluster.mend(3e6) == 0
