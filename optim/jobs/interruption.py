"""Stopping a run by hand: the first request finishes what runs, the second stops at once."""

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker
from types import FrameType


class Interruption:
    """Counts the requests to stop; safe to call from signal handlers and other threads."""

    def __init__(self) -> None:
        self._level = 0

    def request(self) -> None:
        """Ask to stop; the second request is the urgent one."""
        self._level = min(2, self._level + 1)

    @property
    def is_requested(self) -> bool:
        """Whether the run shall stop asking and finish what runs."""
        return self._level >= 1

    @property
    def is_urgent(self) -> bool:
        """Whether the run shall stop at once."""
        return self._level >= 2


@contextmanager
def children_without_ctrl_c() -> Iterator[None]:
    """Start processes, and threads that start some, which Ctrl-C does not reach.

    A terminal sends it to every process of the group. The caller gets what came meanwhile when the
    context ends.
    """
    # started later by a child's start, it would let the signal through again in that thread
    resource_tracker.ensure_running()
    former = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, former)


@contextmanager
def by_signals(interruption: Interruption) -> Iterator[Interruption]:
    """Turn Ctrl-C and the polite kill signal into requests to stop while the context lasts.

    Outside the main thread, where no handler can be set, the context does nothing.
    """
    if threading.current_thread() is not threading.main_thread():
        yield interruption
        return

    def handle(_number: int, _frame: FrameType | None) -> None:
        interruption.request()

    former = {number: signal.signal(number, handle) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield interruption
    finally:
        for number, handler in former.items():
            signal.signal(number, handler)
