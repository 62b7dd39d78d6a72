"""Running the commands as a person does: by subprocess, in an empty folder."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil

from optim.store.errors import StoreError
from optim.store.sqlite import SqliteStore

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "studies" / "island-post-van.toml"
_PATIENCE = 300.0


@dataclass(frozen=True)
class Finished:
    """A command that has ended."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        assert self.code in (0, 3), self.err
        content: dict[str, Any] = json.loads(self.out)
        return content


def command(folder: Path, *arguments: str, columns: int = 100) -> Finished:
    """Run a command in a folder to its end."""
    done = subprocess.run(
        _line(arguments), cwd=folder, capture_output=True, text=True, timeout=_PATIENCE,
        env={**os.environ, "COLUMNS": str(columns)}, check=False,
    )  # fmt: skip
    return Finished(done.returncode, done.stdout, done.stderr)


def interrupted_command(folder: Path, *arguments: str, rows: int, times: int = 1) -> Finished:
    """Run a command and send Ctrl-C to its whole group once the store holds some rows."""
    process = _started(folder, arguments)
    end = time.monotonic() + _PATIENCE
    while process.poll() is None and time.monotonic() < end and stored_rows(folder) < rows:
        time.sleep(0.02)
    for _ in range(times):
        # A terminal sends it to every process of the group, the workers among them.
        os.killpg(process.pid, signal.SIGINT)
        time.sleep(0.3)
    out, err = process.communicate(timeout=_PATIENCE)
    return Finished(process.returncode, out, err)


def command_interrupted_while_workers_start(folder: Path, *arguments: str) -> Finished:
    """Run a command and send Ctrl-C to its whole group as soon as it has processes below it."""
    process = _started(folder, arguments)
    end, parent = time.monotonic() + _PATIENCE, psutil.Process(process.pid)
    while process.poll() is None and time.monotonic() < end and len(parent.children()) < 2:
        time.sleep(0.01)
    time.sleep(0.2)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=_PATIENCE)
    return Finished(process.returncode, out, err)


def stored_rows(folder: Path, name: str = "runs/paretorque.sqlite") -> int:
    """Return how many rows the newest run of a store has."""
    if not (folder / name).exists():
        return 0
    try:
        with SqliteStore(folder / name, is_checked=False) as store:
            runs = store.runs()
            return store.count(runs[-1].run_id) if runs else 0
    except StoreError:  # the other process is just making it
        return 0


def study_text(*changes: tuple[str, str]) -> str:
    """Return the demo study with pieces of its text replaced; each must stand there once."""
    text = DEMO.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def _started(folder: Path, arguments: Sequence[str]) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        _line(arguments), cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip


def _line(arguments: Sequence[str]) -> list[str]:
    return [sys.executable, "-m", "optim.service.cli", *arguments]
