"""A service with nothing of its own: PostgreSQL, a given Dask cluster, TLS, tokens."""

import re
import shutil
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from tests.commands import ROOT, command
from tests.required import missing
from tests.service_case import lenient_text

BUDGET = 16
_PATIENCE = 240.0


@contextmanager
def running(*arguments: str, output: Path) -> Iterator["subprocess.Popen[bytes]"]:
    """Run a module of this Python until the test is over."""
    with output.open("wb") as stream:
        process = subprocess.Popen(
            [sys.executable, "-m", *arguments], cwd=ROOT, stdout=stream, stderr=stream
        )
    try:
        yield process
    finally:
        process.terminate()
        process.wait(timeout=90.0)


def announced(pattern: str, output: Path, process: "subprocess.Popen[bytes]") -> str:
    """Return what a process says once it listens."""
    end = time.monotonic() + _PATIENCE
    while time.monotonic() < end and process.poll() is None:
        found = re.search(pattern, output.read_text("utf-8"))
        if found:
            return found[0]
        time.sleep(0.1)
    raise AssertionError(output.read_text("utf-8"))


@pytest.fixture
def certificate(tmp_path: Path) -> tuple[Path, Path]:
    """A certificate for this machine that only whoever is given it believes, and its key."""
    if shutil.which("openssl") is None:
        missing("openssl", "apt-get install openssl")
    paths = tmp_path / "certificate.pem", tmp_path / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "1",
         "-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1",
         "-out", str(paths[0]), "-keyout", str(paths[1])],
        check=True, capture_output=True,
    )  # fmt: skip
    return paths


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[str]:
    """The address of a Dask scheduler with one worker, as `deploy/README.md` starts them."""
    said, worker_said = tmp_path / "scheduler.txt", tmp_path / "worker.txt"
    with running(
        "dask", "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", output=said
    ) as process:
        address = announced(r"tcp://127\.0\.0\.1:\d+", said, process)
        with running(
            "dask", "worker", address, "--nthreads", "1", "--no-dashboard",
            "--local-directory", str(tmp_path), output=worker_said,
        ):  # fmt: skip
            yield address


@pytest.mark.slow
@pytest.mark.timeout(1800)  # service and worker may have to compile the models first
def test_a_run_comes_out_as_here(postgres_server, scheduler, certificate, tmp_path, monkeypatch):
    text = re.sub(r"population = \d+", "population = 8", lenient_text())
    (tmp_path / "study.toml").write_text(re.sub(r"budget = \d+", f"budget = {BUDGET}", text))
    here = command(tmp_path, "run", "study.toml", "--workers", "1", "--quiet")
    assert here.code == 0, here.err
    token = command(tmp_path, "token", "add", "anna", "--tokens", "tokens.json").out.strip()

    said = tmp_path / "service.txt"
    with running(
        "optim.service.cli", "serve", "--port", "0", "--scheduler", scheduler,
        "--database", postgres_server.new_database(), "--tokens", str(tmp_path / "tokens.json"),
        "--tls-certificate", str(certificate[0]), "--tls-key", str(certificate[1]), output=said,
    ) as process:  # fmt: skip
        url = announced(r"https://127\.0\.0\.1:\d+", said, process)
        with pytest.raises(httpx.ConnectError, match="certificate"):
            httpx.get(f"{url}/health")
        trusting = ssl.create_default_context(cafile=str(certificate[0]))
        answer = httpx.get(f"{url}/health", verify=trusting)
        assert "max-age" in answer.headers["strict-transport-security"]
        assert httpx.get(f"{url}/api/v1/runs", verify=trusting).status_code == 401

        monkeypatch.setenv("SSL_CERT_FILE", str(certificate[0]))
        monkeypatch.setenv("PARETORQUE_TOKEN", token)
        submitted = command(tmp_path, "submit", "study.toml", "--to", url, "--json")
        assert submitted.document["owner"] == "anna"
        watched = command(tmp_path, "watch", "last", "--to", url, "--json")
        assert watched.code == 0, watched.err
        there = command(tmp_path, "front", "last", "--to", url, "--json")

    local = command(tmp_path, "front", "last", "--json").document
    counts = local["evaluations"]
    assert there.document["evaluations"] == counts
    assert sum(counts[n] for n in ("feasible", "outside_limits", "no_machine", "failed")) == BUDGET
    assert there.document["candidates"] == local["candidates"]
    assert local["candidates"]
