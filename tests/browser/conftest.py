"""A browser, pages that complain, and the service as a person starts it."""

import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands import ROOT
from tests.required import missing

CHROMIUM = ("chromium", "chromium-browser")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
DESKTOP = {"width": 1440, "height": 1000}
PHONE = {"width": 390, "height": 844}
_PATIENCE = 180.0


def drawn(page) -> None:
    """Wait until what was pressed so far shows: the page redraws once a frame."""
    page.evaluate(
        "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )


@pytest.fixture(scope="session")
def browser():
    """Debian's Chromium, driven by Playwright."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright", "pip install playwright (part of the locked dependencies)")
    path = next((found for name in CHROMIUM if (found := shutil.which(name))), None)
    if path is None:
        missing("chromium", "apt-get install chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def open_page(browser):
    """Return a function that opens a page; at the end nothing may have gone wrong in any.

    Wrong is an error in a script, anything on the console that the content policy refused, and a
    request to any other address than the service's own.
    """
    contexts, wrong = [], []

    def opened(url: str, *, viewport=None, dark: bool = False, **options):
        context = browser.new_context(
            viewport=viewport or DESKTOP,
            color_scheme="dark" if dark else "light",
            accept_downloads=True,
            **options,
        )
        contexts.append(context)
        context.set_default_timeout(60_000)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(f"script: {error}"))
        page.on("console", lambda m: m.type == "error" and wrong.append(f"console: {m.text}"))
        home = "/".join(url.split("/")[:3])
        page.on("request", lambda r: r.url.startswith((home, "blob:")) or wrong.append(r.url))
        page.goto(url)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not wrong, wrong


@pytest.fixture(scope="module")
def service_url(tmp_path_factory) -> Iterator[str]:
    """The address of `paretorque serve` with one worker and an empty store."""
    folder = tmp_path_factory.mktemp("service")
    output = folder / "output.txt"
    with output.open("wb") as stream:
        process = subprocess.Popen(
            [sys.executable, "-m", "optim.service.cli", "serve", "--port", "0", "--workers", "1",
             "--database", str(folder / "runs.sqlite")],
            cwd=ROOT, stdout=stream, stderr=stream,
        )  # fmt: skip
    try:
        yield _announced(process, output)
    finally:
        process.terminate()
        process.wait(timeout=60.0)


def _announced(process: "subprocess.Popen[bytes]", output: Path) -> str:
    """Return the address that the service prints once it listens."""
    end = time.monotonic() + _PATIENCE
    while time.monotonic() < end and process.poll() is None:
        found = re.search(r"http://[\w.:]+", output.read_text("utf-8"))
        if found:
            return found[0]
        time.sleep(0.1)
    raise AssertionError("the service does not listen:\n" + output.read_text("utf-8"))
