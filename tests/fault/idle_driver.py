"""A driver that evaluates nothing: it holds its run, waits for a sign, and ends as it is told.

The study's text says how: `done`, `wait` (for a request to stop), `silent` (until it is killed),
`crash`, `fail`.
"""

import json
import os
import signal
import sys
import time

from optim.jobs.tether import Tether, read_order
from optim.store.opening import open_database


def main():
    order = json.loads(read_order())
    tether = Tether(lambda: None)
    with open_database(order["database"], is_checked=False) as store:
        run_id = order["run_id"]
        what = store.run(run_id).study_text
        if what == "crash":
            os.kill(os.getpid(), signal.SIGKILL)
        if what == "fail":
            print(json.dumps({"reason": "ReplayError: no such search"}))
            return 2
        with store.hold(run_id):
            state = store.run(run_id).state
            if state == "running":
                store.change_state(run_id, "running", "interrupted")
            store.change_state(run_id, store.run(run_id).state, "running")
            while what == "silent" and not tether.has_ended:
                time.sleep(0.02)
            wish = "finish" if what == "done" else ""
            while not wish:
                wish = store.heartbeat(run_id, elapsed=1.0)
                wish = wish or ("interrupt" if tether.has_ended else "")
                time.sleep(0.02)
            after = {"finish": "done", "interrupt": "interrupted", "cancel": "cancelled"}[wish]
            store.change_state(run_id, "running", after)
    print(json.dumps({"reason": "budget" if after == "done" else after}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
