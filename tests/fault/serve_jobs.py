"""A service without its HTTP part, for the tests that kill it.

    python -m tests.fault.serve_jobs DATABASE WORKERS DRIVER

Prints a line of JSON when something changes, with the process numbers of its children. The polite
kill signal stops it as it would a service.
"""

import json
import signal
import sys
import threading
from dataclasses import asdict

from optim.service.supervisor import Supervisor, SupervisorSettings


def main(database: str, workers: str, driver: str) -> None:
    settings = SupervisorSettings(workers=int(workers), running_limit=2, driver=driver)
    supervisor = Supervisor(database, settings)
    supervisor.start()
    stopping = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stopping.set())
    last = None
    while not stopping.wait(0.05):
        now = asdict(supervisor.health())
        if now != last:
            print(json.dumps(now), flush=True)
            last = now
    supervisor.stop()


if __name__ == "__main__":
    main(*sys.argv[1:])
