"""What the tests against the outside found: every comparison by `pytest.approx`, recorded."""

import inspect
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

_SCALAR: Any = type(pytest.approx(1.0))


@dataclass
class Comparisons:
    """Comparisons of one test function.

    Attributes
    ----------
    test : str
        File and function.
    says : str
        Its docstring or comment that names the source.
    count : int
        Comparisons by tolerance with an expected value that is not 0.
    worst : float
        Largest relative deviation found.
    tolerance : float
        Relative tolerance of that comparison.
    """

    test: str
    says: str
    count: int = 0
    worst: float = 0.0
    tolerance: float = math.nan


@dataclass
class Recorder:
    """A pytest plugin that notes expected and found values while the tests run."""

    tests: dict[str, Comparisons] = field(default_factory=dict)
    failed: int = 0
    _current: Comparisons | None = None
    _original: Any = None

    def pytest_sessionstart(self) -> None:
        original = self._original = _SCALAR.__eq__
        recorder = self

        def compare(approx: Any, actual: Any) -> bool:
            recorder._note(approx, actual)
            return bool(original(approx, actual))

        _SCALAR.__eq__ = compare

    def pytest_sessionfinish(self) -> None:
        _SCALAR.__eq__ = self._original

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        name = f"{Path(item.nodeid.split('::')[0]).stem}: {item.nodeid.split('::')[-1]}"
        name = name.split("[")[0]
        self._current = self.tests.setdefault(name, Comparisons(name, _says(item)))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.failed += report.failed

    def _note(self, approx: Any, actual: Any) -> None:
        expected = approx.expected
        try:
            a, e = float(actual), float(expected)
        except (TypeError, ValueError):
            return
        if self._current is None or e == 0.0 or not math.isfinite(a):
            return
        self._current.count += 1
        deviation = abs(a - e) / abs(e)
        if deviation >= self._current.worst:
            self._current.worst = deviation
            self._current.tolerance = float(approx.tolerance) / abs(e)


def _says(item: pytest.Item) -> str:
    """Return the sentence that names the source: docstring or first comment, nearest first."""
    function, cls, module = (getattr(item, name, None) for name in ("function", "cls", "module"))
    for holder in (function, cls):
        text = getattr(holder, "__doc__", None) if holder is not None else None
        if text:
            return " ".join(text.split("\n\n")[0].split())
    within = _first_comment(inspect.getsource(function)) if function is not None else ""
    if within:
        return within
    head = " ".join((getattr(module, "__doc__", None) or "").split())
    above = inspect.getsource(module).split("\ndef ")[0] if module is not None else ""
    return f"{head} {_first_comment(above)}".strip()


def _first_comment(source: str) -> str:
    words: list[str] = []
    for line in source.splitlines():
        text = line.strip()
        if text.startswith("# "):
            words.append(text[2:])
        elif words:
            break
    return " ".join(words)


def record(folder: str) -> Recorder:
    """Run the tests of a folder that take no minutes, and return what they compared."""
    recorder = Recorder()
    pytest.main(
        [folder, "-q", "-m", "not slow and not benchmark", "-p", "no:cacheprovider"],
        plugins=[recorder],
    )
    return recorder
