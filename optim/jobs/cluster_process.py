"""The embedded cluster of a service as a process of its own, a child of the supervisor.

It reads its order as one line of JSON, prints its address when the workers are there, and stays
until the supervisor is gone and the drivers have left.
"""

import json
import signal
import sys
import time

from optim.jobs.dask_cluster import EmbeddedCluster
from optim.jobs.errors import DispatchError
from optim.jobs.tether import Tether, read_order

LEAVE_SECONDS = 30.0
"""How long drivers may take to commit what runs, once the supervisor is gone [s]."""
_LOOK_SECONDS = 0.2


def main() -> int:
    """Serve workers; return the exit code."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.SIG_IGN)  # the end of the line is the sign to leave
    order = json.loads(read_order() or "{}")
    if not order:
        return 1
    tether = Tether(lambda: None)
    try:
        cluster = EmbeddedCluster(order["workers"], port=order["port"])
    except DispatchError as error:
        print(json.dumps({"error": str(error)}), flush=True)
        return 1
    print(json.dumps({"address": cluster.address}), flush=True)
    while not tether.wait(_LOOK_SECONDS):
        cluster.mend(time.monotonic())
    end = time.monotonic() + LEAVE_SECONDS
    while cluster.clients and time.monotonic() < end:
        time.sleep(_LOOK_SECONDS)
    cluster.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
