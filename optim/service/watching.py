"""Following a run through its store while another process drives it."""

import time
from collections.abc import Callable

from optim.jobs.progress import Progress, Tally
from optim.service.observer import FrontObserver
from optim.service.results import FrontResult, read_front
from optim.service.run_store import study_of
from optim.store.contract import RunRecord, Store
from optim.study.judge import judge

SILENCE_SECONDS = 20.0
"""A driver that has not written its heartbeat for so long is taken for dead."""


class Watcher:
    """Reads what is new in a run's rows each time it looks.

    Parameters
    ----------
    store : Store
        Holds the run.
    record : RunRecord
        The run.
    is_supervised : bool
        Whether a service looks after the driver: a silent one is then started again, and its
        first words may take long while workers and models are made ready.
    clock : callable
        Gives the Unix time [s].
    """

    def __init__(
        self,
        store: Store,
        record: RunRecord,
        *,
        is_supervised: bool = False,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self._store, self._record, self._clock = store, record, clock
        self._is_supervised = is_supervised
        self._sequence = 0
        self.study = study_of(record)
        self.observer = FrontObserver(self.study)
        self._tally = Tally(budget=self.study.search.budget, observe=self.observer)

    @property
    def run_id(self) -> str:
        """The run."""
        return self._record.run_id

    @property
    def state(self) -> str:
        """State of the run when last looked at."""
        return self._record.state

    @property
    def is_silent(self) -> bool:
        """Whether a running run has not been heard of for long."""
        silence = self._clock() - max(self._record.heartbeat, self._record.created)
        is_long = silence > SILENCE_SECONDS
        return self.state == "running" and is_long and not self._is_supervised

    @property
    def is_over(self) -> bool:
        """Whether nothing more will come unless somebody resumes the run."""
        return self.state not in ("queued", "running") or self.is_silent

    @property
    def note(self) -> str:
        """What is unusual about the run, or nothing."""
        if self.is_silent:
            return f"its driver is silent; paretorque run --resume {self.run_id}"
        return ""

    def look(self) -> Progress:
        """Take in what is new and return how far the run is."""
        self._record = self._store.run(self.run_id)
        for row in self._store.rows_after(self.run_id, self._sequence):
            self._sequence = row.sequence
            self._tally.tell(row.number, judge(self.study, row.evaluation, row.parameters))
        # The rate counts what arrives while watching, not what was there before.
        self._tally.mark(self._clock())
        return self._tally.progress(asked=self._tally.told, elapsed=self._record.elapsed)

    def front(self) -> FrontResult:
        """Return the ranked front as it stands."""
        return read_front(self._store, self._record, self.study)
