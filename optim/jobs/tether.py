"""The line between a supervisor and its children: when one end is gone the other notices.

A child holds the reading end of a pipe as its standard input. The pipe ends with the supervisor,
however that ends; no process number has to be kept or trusted.
"""

import os
import select
import sys
import threading
from collections.abc import Callable

_LOOK_SECONDS = 0.5


def read_order() -> str:
    """Return the first line that the supervisor sends: what the child is to do."""
    # Byte by byte, so that nothing is buffered that the waiting thread could miss.
    line = bytearray()
    while not line.endswith(b"\n"):
        piece = os.read(sys.stdin.fileno(), 1)
        if not piece:
            break
        line += piece
    return line.decode("utf-8").strip()


class Tether:
    """Watches in a thread of its own for the end of the supervisor.

    Parameters
    ----------
    on_end : callable
        Called once when the supervisor has closed the line or is gone.
    """

    def __init__(self, on_end: Callable[[], None]) -> None:
        self._on_end = on_end
        self._parent = os.getppid()
        self._has_ended = threading.Event()
        threading.Thread(target=self._watch, name="tether", daemon=True).start()

    @property
    def has_ended(self) -> bool:
        """Whether the supervisor is gone."""
        return self._has_ended.is_set()

    def wait(self, seconds: float) -> bool:
        """Wait for the end of the supervisor, at most so long [s]; return whether it has come."""
        return self._has_ended.wait(seconds)

    def _watch(self) -> None:
        line = sys.stdin.fileno()
        while True:
            readable, _, _ = select.select([line], [], [], _LOOK_SECONDS)
            # Another child of the supervisor may have got hold of the writing end; it does not
            # change whose child this is.
            if (readable and not os.read(line, 1024)) or os.getppid() != self._parent:
                break
        self._has_ended.set()
        self._on_end()
