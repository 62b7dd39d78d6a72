"""The streams of watchers: how often they are told, and that a quiet line is kept open."""

from pathlib import Path

import httpx
import pytest

from optim.service.http import hub
from tests.service_case import add_run, lenient_study, made_up_rows, served


@pytest.mark.parametrize(("watchers", "seconds"), [(1, 0.1), (80, 0.1), (200, 0.25), (5000, 0.5)])
def test_many_watchers_are_told_less_often_but_never_late(watchers: int, seconds: float) -> None:
    assert hub.time_between_looks(watchers) == pytest.approx(seconds)


def test_a_quiet_stream_is_kept_open_and_then_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hub, "QUIET_SECONDS", 0.3)
    rows = made_up_rows(lenient_study(), 6)
    with served(tmp_path) as (service, url):
        run_id = add_run(service.store, "local", rows[:3], state="running").run_id
        address = f"{url}/api/v1/runs/{run_id}/events"
        with httpx.stream("GET", address, params={"after": 3}, timeout=30.0) as answer:
            lines = answer.iter_lines()
            assert next(line for line in lines if line.startswith(":")) == ": still here"
            service.store.append(run_id, rows[3:])
            assert next(line for line in lines if line == "event: points")
            assert next(lines).count('"candidate": ') == 3
