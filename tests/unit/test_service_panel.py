"""The live picture of a run fits the terminal, and lines stand in for it elsewhere."""

from io import StringIO

import numpy as np
import pytest
from rich.console import Console

from optim.jobs.progress import Progress
from optim.service.observer import FrontObserver
from optim.service.progress_view import FIRST_LINE_SECONDS, LINE_SECONDS, ProgressView, panel
from optim.study.judge import Judgement
from optim.study.load import load
from tests.commands import DEMO

PROGRESS = Progress(
    told=1500, asked=1600, budget=3000, feasible=500, infeasible=990, failed=10, rate=61.7,
    front_size=97, hypervolume=0.2112, elapsed=25.0, eta=24.3,
)  # fmt: skip


def _observer() -> FrontObserver:
    observer = FrontObserver(load(DEMO))
    generator = np.random.default_rng(3)
    for number in range(200):
        cost, torque, eta, mass = generator.uniform((300, 200, 0.94, 0.6), (450, 300, 0.96, 1.5))
        point = np.array([cost, -torque, -eta, mass])
        observer(number, Judgement(point, np.zeros(10), True, "ok"))
    return observer


@pytest.mark.parametrize("width", [80, 120])
def test_picture_fits_and_tells_what_matters(width: int) -> None:
    stream = StringIO()
    console = Console(file=stream, width=width, force_terminal=True, color_system=None)
    console.print(panel(load(DEMO), "post-1", PROGRESS, _observer(), console=console))
    lines = stream.getvalue().splitlines()
    assert max(len(line) for line in lines) <= width
    text = "\n".join(lines)
    for part in ("1,500 of 3,000", "62 /s", "33 %", "failed 10", "97", "24 s", "0.2112", "[EUR]"):
        assert part in text
    assert "…" not in text


def test_hypervolume_never_falls() -> None:
    curve = [value for _, value in _observer().curve]
    assert len(curve) == 20
    assert curve == sorted(curve)
    assert 0.0 < curve[-1] < 1.0


def test_one_line_a_minute_without_a_terminal() -> None:
    stream, now = StringIO(), [0.0]
    console = Console(file=stream, width=80)
    view = ProgressView(load(DEMO), "post-1", console=console, clock=lambda: now[0])
    observer = _observer()
    with view:
        for second in range(200):
            now[0] = float(second)
            view(PROGRESS, observer)
    lines = stream.getvalue().splitlines()
    assert len(lines) == 1 + int((199 - FIRST_LINE_SECONDS) / LINE_SECONDS)
    assert "1,500 of 3,000" in lines[0]
