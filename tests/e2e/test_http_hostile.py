"""Hostile studies: a clear refusal each, and nothing stored."""

import time
from pathlib import Path

import pytest

from tests.hostile_studies import hostile_bodies
from tests.service_case import client_of, served

BODIES = hostile_bodies()
_LONGEST_SECONDS = 30.0


def test_there_are_a_hundred_of_them() -> None:
    assert len(BODIES) >= 100
    assert len({name for name, _, _ in BODIES}) == len(BODIES)


@pytest.mark.parametrize(("route", "step"), [("/api/v1/runs", 1), ("/api/v1/studies/check", 5)])
def test_each_is_refused_with_a_reason_and_nothing_is_stored(
    tmp_path: Path, route: str, step: int
) -> None:
    secret = Path("/etc/passwd").read_text(encoding="utf-8").splitlines()[0]
    with served(tmp_path) as (service, url), client_of(url) as client:
        before = sorted(path.name for path in tmp_path.rglob("*"))
        wrong = []
        for name, kind, body in BODIES[::step]:
            begin = time.monotonic()
            found = client.post(route, content=body, headers={"content-type": kind})
            took = time.monotonic() - begin
            is_clear = (
                400 <= found.status_code < 500
                and found.headers["content-type"] == "application/problem+json"
                and len(found.json()["detail"]) > 8
                and (
                    found.json()["problems"]
                    or "allowed" in found.json()["detail"]
                    or found.status_code == 400
                )
            )
            if not is_clear or secret in found.text or took > _LONGEST_SECONDS:
                wrong.append((name, found.status_code, round(took, 1), found.text[:200]))
        assert not wrong
        assert service.store.runs() == ()
        assert service.store.jobs() == ()
        assert sorted(path.name for path in tmp_path.rglob("*")) == before
        # The service is as well as before.
        assert client.get("/health").status_code == 200
