"""The live picture of a run: a panel on a terminal, one line a minute elsewhere."""

import time
from collections.abc import Callable

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.table import Table
from rich.text import Text

from models.nomenclature import METRICS
from optim.jobs.progress import Progress
from optim.service.observer import FrontObserver
from optim.service.tables import aligned, heading, plain_table
from optim.service.wording import (
    bar_text,
    count_text,
    curve_text,
    duration_text,
    rate_text,
    share_text,
)
from optim.study.model import Study

LINE_SECONDS = 60.0
"""Between two lines where there is no terminal."""
FIRST_LINE_SECONDS = 10.0
_BEST = 5
_DRAW_SECONDS = 0.25


def panel(
    study: Study, run_id: str, progress: Progress, observer: FrontObserver, *, console: Console,
    note: str = "",
) -> RenderableType:  # fmt: skip
    """Return the picture of a moment of a run."""
    width = min(console.width, 110)
    room = max(20, width - 40)
    is_ascii = console.options.ascii_only
    told, budget = progress.told, progress.budget
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    table.add_column(style="dim")
    table.add_column(justify="right", min_width=16)
    table.add_column()
    table.add_row(
        "evaluations",
        f"{count_text(told)} of {count_text(budget)}",
        bar_text(told / budget, room, is_ascii=is_ascii),
    )
    table.add_row("speed", rate_text(progress.rate), f"time left {duration_text(progress.eta)}")
    failed = f"failed {count_text(progress.failed)}"
    table.add_row("feasible", share_text(progress.feasible, told), failed)
    hypervolume = "-" if not progress.front_size else f"{progress.hypervolume:.4f}"
    curve = curve_text(observer.curve, room, is_ascii=is_ascii)
    table.add_row("hypervolume", hypervolume, Text(curve, style="cyan"))
    table.add_row("front", count_text(progress.front_size), "designs")
    parts: list[RenderableType] = [
        Text(study.title or study.name, style="bold"),
        Text(f"run {run_id}", style="dim"),
        Text(""),
        table,
    ]
    best = observer.best(_BEST)
    if best:
        parts += [Text(""), _best_table(study, best)]
    if note:
        parts += [Text(""), Text(note, style="yellow")]
    return Group(*parts)


def progress_line(progress: Progress) -> str:
    """Return a moment of a run in one line."""
    front = f"front {count_text(progress.front_size)}"
    if progress.front_size:
        front += f", hypervolume {progress.hypervolume:.4f}"
    return (
        f"{count_text(progress.told)} of {count_text(progress.budget)} evaluations, "
        f"{rate_text(progress.rate)}, feasible {share_text(progress.feasible, progress.told)}, "
        f"failed {count_text(progress.failed)}, {front}, "
        f"time left {duration_text(progress.eta)}"
    )


class ProgressView:
    """Shows progress until it is left; what it shows goes away from a terminal with it.

    Parameters
    ----------
    study : Study
        For headings and units.
    run_id : str
        The run.
    console : Console
        Standard error.
    is_quiet : bool
        Whether to show nothing.
    clock : callable
        Rising time [s].
    """

    def __init__(
        self,
        study: Study,
        run_id: str,
        *,
        console: Console,
        is_quiet: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._study, self._run_id, self._console = study, run_id, console
        self._is_quiet, self._clock = is_quiet, clock
        self._live: Live | None = None
        self._next = self._clock()
        self._has_begun = False
        self.note = ""

    def __enter__(self) -> "ProgressView":
        if self._console.is_terminal and not self._is_quiet:
            self._live = Live(console=self._console, auto_refresh=False, transient=True)
            self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._live is not None:
            self._live.stop()

    def __call__(self, progress: Progress, observer: FrontObserver) -> None:
        """Show a moment, if it is time to."""
        now = self._clock()
        if self._is_quiet or now < self._next:
            return
        if self._live is None:
            self._print_line(progress, now)
            return
        self._next = now + _DRAW_SECONDS
        picture = panel(
            self._study, self._run_id, progress, observer, console=self._console, note=self.note
        )
        self._live.update(picture, refresh=True)

    def _print_line(self, progress: Progress, now: float) -> None:
        if not progress.told:
            return
        if not self._has_begun:
            # The speed means something only some seconds after the first result.
            self._has_begun, self._next = True, now + FIRST_LINE_SECONDS
            return
        self._next = now + LINE_SECONDS
        self._console.print(progress_line(progress), soft_wrap=True)


def _best_table(study: Study, best: list[tuple[int, tuple[float, ...]]]) -> Table:
    table = plain_table()
    table.add_column("candidate", justify="right")
    columns = []
    for k, objective in enumerate(study.objectives):
        table.add_column(Text(heading(objective)), justify="right", no_wrap=True)
        sign = 1.0 if objective.sense == "minimise" else -1.0
        metric = METRICS[objective.metric]
        columns.append(aligned([metric.shown(sign * values[k]) for _, values in best]))
    for row, (number, _) in enumerate(best):
        table.add_row(str(number), *[column[row] for column in columns])
    return table
