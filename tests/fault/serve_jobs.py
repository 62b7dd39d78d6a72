"""A service without its HTTP part, for the tests that kill it.

    python -m tests.fault.serve_jobs DATABASE WORKERS DRIVER

Prints a line of JSON when something changes, with the process numbers of its children. The polite
kill signal stops it as it would a service.
"""

import json
import signal
import sys
import threading
from contextlib import suppress
from dataclasses import asdict

from optim.service.supervisor import Supervisor, SupervisorSettings
from optim.store.errors import StoreError
from optim.store.opening import open_database
from optim.store.queue_contract import JobStore


def main(database: str, workers: str, driver: str) -> None:
    settings = SupervisorSettings(workers=int(workers), running_limit=2, driver=driver)
    # The HTTP part of a service has a store of its own in the same process.
    with open_database(database) as store:
        _serve(store, Supervisor(database, settings))


def _serve(store: JobStore, supervisor: Supervisor) -> None:
    supervisor.start()
    stopping = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stopping.set())
    last = None
    while not stopping.wait(0.05):
        now = asdict(supervisor.health())
        with suppress(StoreError):  # the database may be away for a while
            store.jobs()
        if now != last:
            print(json.dumps(now), flush=True)
            last = now
    supervisor.stop()


if __name__ == "__main__":
    main(*sys.argv[1:])
