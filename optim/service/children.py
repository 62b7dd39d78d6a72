"""Child processes of the supervisor: started in a group of their own, at the end of a line."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


class Child:
    """A Python module run as a child process.

    Parameters
    ----------
    module : str
        Name of the module.
    order : mapping
        What it is to do; sent as a line of JSON through its standard input, where no other user
        of the machine can read it.
    """

    def __init__(self, module: str, order: Mapping[str, Any]) -> None:
        self.module = module
        self.started = time.monotonic()
        self._said = b""
        self._process = subprocess.Popen(
            [sys.executable, "-m", module],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**_ONE_THREAD, **os.environ},
            start_new_session=True,
        )
        assert self._process.stdin is not None
        with suppress(BrokenPipeError):  # it has ended already, which its exit code tells
            self._process.stdin.write(json.dumps(order).encode() + b"\n")
            self._process.stdin.flush()

    @property
    def pid(self) -> int:
        """Number of the process, which is also that of its group."""
        return self._process.pid

    def exit_code(self) -> int | None:
        """Return the exit code, minus the signal's number after a signal, None while it runs."""
        return self._process.poll()

    def read_line(self, timeout: float) -> dict[str, Any]:
        """Return the next line of JSON that it prints, nothing if none comes in time [s]."""
        assert self._process.stdout is not None
        return _json_line(_line_within(self._process.stdout.fileno(), timeout))

    def last_words(self) -> dict[str, Any]:
        """Return the last line of JSON of a child that has ended, nothing if there is none."""
        assert self._process.stdout is not None
        self._said += self._process.stdout.read()
        lines = self._said.splitlines()
        return _json_line(lines[-1]) if lines else {}

    def let_go(self) -> None:
        """Close the line: the child finishes what it does and leaves."""
        assert self._process.stdin is not None
        with suppress(OSError):
            self._process.stdin.close()

    def kill(self) -> None:
        """End the child and all it has started."""
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(self.pid, signal.SIGKILL)
        self._process.wait()

    def release(self) -> None:
        """Close what is left of a child that has ended, and end what it may have left behind."""
        self.kill()
        self.let_go()
        assert self._process.stdout is not None
        self._process.stdout.close()


def _line_within(descriptor: int, timeout: float) -> bytes:
    end, line = time.monotonic() + timeout, bytearray()
    os.set_blocking(descriptor, False)
    while not line.endswith(b"\n") and time.monotonic() < end:
        try:
            piece = os.read(descriptor, 1)
        except BlockingIOError:
            time.sleep(0.02)
            continue
        if not piece:
            break
        line += piece
    os.set_blocking(descriptor, True)
    return bytes(line)


def _json_line(line: bytes) -> dict[str, Any]:
    try:
        found = json.loads(line)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}
