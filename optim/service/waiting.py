"""The wait for compiled models: evaluated once here before workers load the result."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from optim.service.designs import Assessment, assess, study_design
from optim.service.screen import Screen
from optim.study.model import Study

PATIENCE_SECONDS = 3.0
"""Loading compiled models takes less; more means that they are being compiled."""


@contextmanager
def explained_wait(screen: Screen) -> Iterator[None]:
    """Say what is going on if the context takes long."""
    text = "compiling the models, once (about half a minute; later commands load the result)"
    timer = threading.Timer(PATIENCE_SECONDS, screen.say, args=(text,))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def warm_up(study: Study, screen: Screen) -> Assessment:
    """Evaluate the baseline once, so that workers find everything compiled."""
    with explained_wait(screen):
        return assess(study_design(study), study)
