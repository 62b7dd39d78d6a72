"""A service from a notebook or script: submit, watch, rank, look, export.

client = Client("http://localhost:8741")
run = client.submit("studies/island-post-van.toml", budget=1000)
for progress in client.watch(run):
    print(progress["told"], progress["front_size"])
client.front(run, limits=["magnet_mass <= 1.2 kg"])     # a pandas table, best first
"""

from collections.abc import Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

import pandas as pd

from optim.service import options
from optim.service.designs import candidate_design
from optim.service.exporting import fetch_pack
from optim.service.remote.connection import Event
from optim.service.remote.errors import UnreachableError
from optim.service.remote.profiles import connect
from optim.service.remote.store import RemoteStore
from optim.service.results import FrontResult, read_front
from optim.service.run_store import find_run, keepable_text, study_of
from optim.study.change import with_changes
from optim.study.load import load
from optim.study.model import Study

BEST = "best"
"""Stands for the best ranked candidate."""
_TRIES = 5


class Client:
    """A service.

    Parameters
    ----------
    to : str
        URL, or the name of a saved profile.

    Notes
    -----
    The token is that of the profile, or of the environment variable PARETORQUE_TOKEN. `last`
    stands for the newest run wherever one is wanted. Mistakes raise what local calls raise
    (`StudyError`, `SelectionError`, ...); a service that does not answer `UnreachableError`.
    """

    def __init__(self, to: str) -> None:
        self._service = connect(to)
        self._store = RemoteStore(self._service)

    def close(self) -> None:
        """Close the connection."""
        self._store.close()

    def __enter__(self) -> "Client":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def runs(self) -> pd.DataFrame:
        """Return the runs, newest first."""
        return pd.DataFrame(self._service.get("runs", limit=500)["runs"])

    def submit(
        self,
        study: Study | Path | str,
        *,
        budget: int | None = None,
        seed: int | None = None,
        priority: int = 0,
    ) -> str:
        """Hand a study, or the file at a path, to the service; return the run's id."""
        read = study if isinstance(study, Study) else load(study)
        body = {"study": keepable_text(read), "budget": budget, "seed": seed, "priority": priority}
        return str(self._service.post("runs", body=body)["run"])

    def status(self, run: str) -> dict[str, Any]:
        """Return how a run stands."""
        return self._service.get("runs", run)

    def watch(self, run: str) -> Iterator[dict[str, Any]]:
        """Yield the progress of a run until it is over; a broken connection is taken up again."""
        for event in self.events(run):
            if event.kind == "progress":
                yield dict(event.document)

    def events(self, run: str, *, after: int = 0) -> Iterator[Event]:
        """Yield every event of a run after a sequence number until the run is over."""
        run_id, failures = str(self.status(run)["run"]), 0
        while True:
            try:
                with self._service.events(run_id, after=after) as events:
                    for event in events:
                        after, failures = event.number, 0
                        yield event
                        if event.kind == "end":
                            return
                failures += 1
            except UnreachableError:
                failures += 1
                if failures >= _TRIES:
                    raise

    def wait(self, run: str) -> dict[str, Any]:
        """Return the status of a run once it is over."""
        for event in self.events(run):
            if event.kind == "end":
                return dict(event.document)
        return self.status(run)

    def front(
        self,
        run: str,
        *,
        by: str = "",
        weights: str = "",
        goals: str = "",
        limits: Sequence[str] = (),
    ) -> pd.DataFrame:
        """Return the ranked front as a table; see `paretorque front` for the preferences."""
        return self.front_result(run, by=by, weights=weights, goals=goals, limits=limits).table()

    def front_result(
        self,
        run: str,
        *,
        by: str = "",
        weights: str = "",
        goals: str = "",
        limits: Sequence[str] = (),
    ) -> FrontResult:
        """Return the same in full."""
        record = find_run(self._store, run)
        study = study_of(record)
        if limits:
            study = with_changes(study, limits=limits, allow_looser=True)
        study = options.with_preferences(study, weights=weights, goals=goals)
        method = options.method_of(by) or ("weights" if weights else None)
        return read_front(self._store, record, study, method=method)

    def candidate(self, run: str, candidate: int | str = BEST) -> dict[str, Any]:
        """Return a design in full: the document of `paretorque pick --json`.

        All but its `explanation`, which takes evaluations of its own: see there.
        """
        return self._service.get("runs", run, "candidates", candidate)

    def details(self, run: str, candidate: int | str = BEST) -> dict[str, Any]:
        """Return what is drawn of a design: torque, power, back-EMF, losses."""
        return self._service.get("runs", run, "candidates", candidate, "details")

    def explanation(self, run: str, candidate: int | str = BEST) -> dict[str, Any]:
        """Return where a design's numbers come from and what one step away changes."""
        return self._service.get("runs", run, "candidates", candidate, "explanation")

    def export(self, run: str, candidate: int | None = None, *, to: Path | str) -> list[str]:
        """Write a design's hand-over pack into a folder; return the names of its files."""
        return fetch_pack(self._service, candidate_design(self._store, run, candidate), Path(to))

    def rerun(
        self,
        run: str,
        *,
        limits: Sequence[str] = (),
        objectives: Sequence[str] = (),
        budget: int | None = None,
        seed: int | None = None,
    ) -> str:
        """Run a study again under tighter limits or other objectives; return the new run's id."""
        body = {"limits": list(limits), "objectives": list(objectives), "budget": budget,
                "seed": seed}  # fmt: skip
        return str(self._service.post("runs", run, "rerun", body=body)["run"])

    def pause(self, run: str) -> None:
        """Let a run rest."""
        self._service.post("runs", run, "pause")

    def resume(self, run: str) -> None:
        """Let a paused or failed run go on."""
        self._service.post("runs", run, "resume")

    def cancel(self, run: str) -> None:
        """End a run for good; what was evaluated stays."""
        self._service.post("runs", run, "cancel")
