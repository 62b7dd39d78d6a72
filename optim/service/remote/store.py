"""A service's runs read like a local store, so that commands show them by the same calls."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any, NoReturn

from optim.service.errors import RequestError
from optim.service.remote.connection import Connection
from optim.store.contract import (
    AskRecord,
    EvaluationRow,
    KnownDesign,
    Note,
    RunRecord,
    StopRequest,
)
from optim.store.wire import row_from_entries, run_from_entries

_PORTION = 1000
_LIST = 500


class RemoteStore:
    """Reads runs over a connection; see `optim.store.contract.Store`. Writing is refused.

    Parameters
    ----------
    connection : Connection
        The service.
    """

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        # Rows are only ever added, so what was read once stays true.
        self._rows: dict[str, list[EvaluationRow]] = {}
        self._by_key: dict[str, list[tuple[str, EvaluationRow]]] = {}
        self._verified: set[str] = set()
        self._counts: dict[str, int] = {}

    def __enter__(self) -> "RemoteStore":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection."""
        self.connection.close()

    def run(self, run_id: str) -> RunRecord:
        """Return a run."""
        return run_from_entries(self.connection.get("runs", run_id, "record"))

    def runs(self) -> tuple[RunRecord, ...]:
        """Return the runs that the token may see, oldest first, without their study texts."""
        listed: list[RunRecord] = []
        while True:
            page = self.connection.get("runs", limit=_LIST, offset=len(listed))
            for entry in page["runs"]:
                self._counts[entry["run"]] = entry["evaluations"]
                listed.append(
                    RunRecord(
                        run_id=entry["run"], study_name=entry["study"], study_text="",
                        state=entry["state"], reason=entry["reason"],
                        created=entry["created_unix_s"], elapsed=entry["driven_s"],
                        parent=entry["parent"], settings={"budget": entry["budget"]},
                    )
                )  # fmt: skip
            if len(listed) >= page["total"] or not page["runs"]:
                return tuple(reversed(listed))

    def rows(self, run_id: str, *, since: int = 0) -> Iterator[EvaluationRow]:
        """Yield the rows with number >= `since` by number."""
        found = sorted(self._read(run_id), key=lambda row: row.number)
        return iter([row for row in found if row.number >= since])

    def rows_after(self, run_id: str, sequence: int) -> Iterator[EvaluationRow]:
        """Yield the rows committed after `sequence` in the order of commits."""
        return iter([row for row in self._read(run_id) if row.sequence > sequence])

    def count(self, run_id: str) -> int:
        """Return how many rows the run has."""
        return self._counts[run_id] if run_id in self._counts else len(self._read(run_id))

    def numbers(self, run_id: str) -> frozenset[int]:
        """Return the numbers of the candidates that the run has."""
        return frozenset(row.number for row in self._read(run_id))

    def find(self, key: str, *, run_id: str) -> KnownDesign | None:
        """Return what the runs read so far, and their verifications, know of a design."""
        if run_id and run_id not in self._rows:
            self._read(run_id)
        for name in list(self._rows):
            self._read_verifications(name)
        found = self._by_key.get(key, [])
        for name, row in found:
            if name == run_id:
                return KnownDesign(row.evaluation, True)
        for _, row in found:
            if row.evaluation.status != "failed":
                return KnownDesign(row.evaluation, False)
        return None

    def asks(self, run_id: str) -> Iterator[AskRecord]:
        """Refused: only a driver needs the order of asking."""
        self._refuse()

    def create_run(
        self,
        study_name: str,
        study_text: str,
        *,
        run_id: str = "",
        settings: Mapping[str, Note] | None = None,
        parent: str = "",
    ) -> RunRecord:
        """Refused, as everything that writes."""
        self._refuse()

    def append(
        self, run_id: str, rows: Sequence[EvaluationRow], *, asks: Sequence[AskRecord] = ()
    ) -> None:
        """Refused."""
        self._refuse()

    def change_state(self, run_id: str, before: str, after: str, *, reason: str = "") -> None:
        """Refused."""
        self._refuse()

    def heartbeat(self, run_id: str, *, elapsed: float) -> StopRequest:
        """Refused."""
        self._refuse()

    def request_stop(self, run_id: str, wish: StopRequest) -> None:
        """Refused."""
        self._refuse()

    def note(self, run_id: str, name: str, value: Note) -> None:
        """Refused."""
        self._refuse()

    def hold(self, run_id: str) -> AbstractContextManager[None]:
        """Refused."""
        self._refuse()

    def _read(self, run_id: str) -> list[EvaluationRow]:
        kept = self._rows.setdefault(run_id, [])
        after = kept[-1].sequence if kept else 0
        while True:
            page = self.connection.get("runs", run_id, "rows", after=after, limit=_PORTION)
            kept += self._noted(run_id, page["rows"])
            after = page["next"]
            if not page["more"]:
                return kept

    def _read_verifications(self, run_id: str) -> None:
        if run_id not in self._verified:
            self._verified.add(run_id)
            page = self.connection.get("runs", run_id, "rows", verifications=True)
            self._noted("", page["rows"])

    def _noted(self, run_id: str, entries: Sequence[Mapping[str, Any]]) -> list[EvaluationRow]:
        rows = [row_from_entries(row) for row in entries]
        for row in rows:
            self._by_key.setdefault(row.key, []).append((run_id, row))
        return rows

    def _refuse(self) -> NoReturn:
        raise RequestError("a service's runs are not written over a connection; submit a study")
