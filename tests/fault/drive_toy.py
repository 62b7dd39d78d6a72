"""A driver process for the tests that kill it: `python -m tests.fault.drive_toy STORE LOG`."""

import sys

from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.driver import drive
from optim.jobs.interruption import Interruption, by_signals
from optim.jobs.placement import PlacementSettings
from optim.jobs.plan import Plan
from optim.store.sqlite import SqliteStore
from tests.fault.toy_search import FUNCTIONS, ToySearcher, with_trouble

PLAN = Plan(budget=200, lag=16)


def main(path: str, log: str, mean_seconds: str) -> None:
    evaluate = with_trouble(mean_seconds=float(mean_seconds), log=log)
    interruption = Interruption()
    with SqliteStore(path) as store, by_signals(interruption):
        dispatcher = DaskDispatcher(
            evaluate, cluster=ClusterSettings(workers=2), placement=PlacementSettings()
        )
        end = drive(
            "r",
            ToySearcher(),
            dispatcher,
            store,
            functions=FUNCTIONS,
            plan=PLAN,
            interruption=interruption,
        )
        dispatcher.close(is_immediate=interruption.is_urgent)
    print(end.state)


if __name__ == "__main__":
    main(*sys.argv[1:])
