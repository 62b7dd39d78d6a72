"""Loaded by each embedded worker as it starts."""

import signal


def dask_setup(worker: object) -> None:
    """Leave Ctrl-C to the driver.

    A terminal sends it to every process of the group; workers that died of it could not finish
    what they are evaluating.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
