"""A PostgreSQL server of the tests' own, in a temporary folder, as an unprivileged user."""

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

import psycopg

from tests.required import missing

HOW = "apt-get install postgresql (Debian), then run the tests again"
_WAIT_SECONDS = 60.0


class Server:
    """A running server; connections go through a socket in its folder."""

    def __init__(self, programs: Path, folder: Path, user: str | None) -> None:
        self._programs, self._folder, self._user = programs, folder, user
        self._process: subprocess.Popen[bytes] | None = None
        self._run("initdb", "-D", self._content, "-U", "tests", "-A", "trust", "-E", "UTF8",
                  "--no-locale", "--no-sync")  # fmt: skip

    @property
    def _content(self) -> str:
        return str(self._folder / "content")

    def start(self) -> None:
        """Start the server and wait until it answers."""
        with (self._folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._programs / "postgres", "-D", self._content, "-k", self._folder,
                 "-c", "listen_addresses=", "-c", "max_connections=60"],
                stdout=log, stderr=log, user=self._user, cwd=self._folder,
                start_new_session=True,
            )  # fmt: skip
        end = time.monotonic() + _WAIT_SECONDS
        while True:
            try:
                psycopg.connect(self.url("postgres")).close()
            except psycopg.OperationalError:
                if time.monotonic() > end:
                    text = (self._folder / "log").read_text(errors="replace")[-2000:]
                    raise RuntimeError(f"the server does not start:\n{text}") from None
                time.sleep(0.05)
            else:
                return

    def stop(self) -> None:
        """End the server at once, as a crash would for its clients."""
        if self._process is not None:
            self._process.send_signal(3)  # SIGQUIT: without waiting for clients
            self._process.wait(_WAIT_SECONDS)
            self._process = None

    def url(self, database: str) -> str:
        """Return the address of a database."""
        return f"postgresql://tests@/{database}?host={self._folder}"

    def new_database(self) -> str:
        """Make an empty database and return its address."""
        name = f"t{uuid4().hex[:12]}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")  # type: ignore[arg-type]
        return self.url(name)

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [self._programs / program, *arguments], check=True, capture_output=True,
            user=self._user, cwd=self._folder,
        )  # fmt: skip


def find_programs() -> Path | None:
    """Return the folder of the server's programs, None where there is none."""
    found = shutil.which("initdb")
    places = [Path(found).resolve().parent] if found else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((p for p in places if (p / "initdb").exists() and (p / "postgres").exists()), None)


@contextmanager
def running_server() -> Iterator[Server]:
    """Give a running server, or skip the test with what to do."""
    programs = find_programs()
    if programs is None:
        missing("postgresql", HOW)
    user = _unprivileged_user()
    # A short path: a socket's name must not be longer than about 100 characters.
    folder = Path(tempfile.mkdtemp(prefix="pq-"))
    try:
        if user is not None:
            os.chown(folder, pwd.getpwnam(user).pw_uid, -1)
        server = Server(programs, folder, user)
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _unprivileged_user() -> str | None:
    """Return whom to be: the server refuses to run as root."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"
