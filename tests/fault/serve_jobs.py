"""A service without its HTTP part, for the tests that kill it: `... serve_jobs DATABASE WORKERS`.

Prints a line of JSON when something changes: process numbers of its children.
"""

import json
import sys
import time
from dataclasses import asdict

from optim.service.supervisor import Supervisor, SupervisorSettings


def main(database: str, workers: str) -> None:
    settings = SupervisorSettings(workers=int(workers), running_limit=2)
    supervisor = Supervisor(database, settings)
    supervisor.start()
    last = None
    while True:
        now = asdict(supervisor.health())
        if now != last:
            print(json.dumps(now), flush=True)
            last = now
        time.sleep(0.05)


if __name__ == "__main__":
    main(*sys.argv[1:])
