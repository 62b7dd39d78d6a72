"""The wait for compiled models: compiled once here before workers load the result."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from models.circuit.newton import solve_lanes
from optim.service.designs import Assessment, assess, study_design
from optim.service.screen import Screen
from optim.study.model import Study

PATIENCE_SECONDS = 10.0
"""Loading compiled models takes two seconds on a free core; this long means compiling."""
COMPILING = "compiling the models, once (about half a minute; later commands load the result)"


@contextmanager
def explained_wait(screen: Screen) -> Iterator[None]:
    """Say what is going on if the models must be compiled in the context."""
    if is_cold():
        screen.say(COMPILING)
        yield
        return
    # There are compiled models, but they may be those of an older version.
    timer = threading.Timer(PATIENCE_SECONDS, screen.say, args=(COMPILING,))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def is_cold() -> bool:
    """Return whether nothing of the models has been compiled and kept on this machine."""
    folder = solve_lanes.stats.cache_path
    return folder is None or not any(Path(folder).glob("*.nbi"))


def warm_up(study: Study, screen: Screen) -> Assessment:
    """Evaluate the baseline once, so that workers find everything compiled."""
    with explained_wait(screen):
        return assess(study_design(study), study)
