"""Who may do what: no token nothing, somebody else's run is not there, one shape of errors."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest

from optim.service.http.context import Service
from optim.service.http.settings import Allowance
from tests.service_case import (
    add_run,
    client_of,
    lenient_study,
    lenient_text,
    made_up_rows,
    served,
)

NEVER = "island-post-van-00000000"
_BODIES: dict[str, Any] = {
    "/api/v1/runs/{run}/rerun": {"limits": ["magnet_mass <= 1.3 kg"]},
    "/api/v1/runs/{run}": {"priority": 3},
}


@dataclass(frozen=True)
class Case:
    """A service with a run of anna's and one of kim's."""

    service: Service
    url: str
    tokens: dict[str, str]
    annas: str
    kims: str

    def client(self, name: str) -> httpx.Client:
        return client_of(self.url, self.tokens.get(name, ""))


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Case]:
    with served(Path(tmp_path_factory.mktemp("service"))) as (service, url):
        tokens = {name: service.tokens.add(name) for name in ("anna", "kim")}
        tokens["boss"] = service.tokens.add("boss", is_admin=True)
        rows = made_up_rows(lenient_study(), 8)
        annas = add_run(service.store, "anna", rows)
        kims = add_run(service.store, "kim", rows)
        yield Case(service, url, tokens, annas.run_id, kims.run_id)


def _routes(case: Case) -> list[tuple[str, str]]:
    paths = httpx.get(f"{case.url}/openapi.json").json()["paths"]
    found = [(method, path) for path, methods in paths.items() for method in methods]
    # A list that shrank by mistake would make these tests pass for nothing.
    assert len(found) >= 25
    return found


def _asked(client: httpx.Client, method: str, path: str, run: str) -> httpx.Response:
    query: dict[str, str] = {}
    if path == "/api/v1/compare":
        query = {"first": run, "second": run}
    body = _BODIES.get(path) if method in ("post", "patch") else None
    if path == "/api/v1/designs/evaluate":
        body = {"run": run}
    filled = path.replace("{run}", run).replace("{candidate}", "0")
    return client.request(method, filled, params=query, json=body)


def _names_a_run(path: str) -> bool:
    return "{run}" in path or path in ("/api/v1/compare", "/api/v1/designs/evaluate")


def test_somebody_elses_run_is_not_there_everywhere(case: Case) -> None:
    count = 0
    with case.client("kim") as kim, case.client("anna") as anna:
        before = anna.get(f"/api/v1/runs/{case.annas}").json()
        for method, path in _routes(case):
            if not _names_a_run(path):
                continue
            theirs = _asked(kim, method, path, case.annas)
            never = _asked(kim, method, path, NEVER)
            assert theirs.status_code == 404, (method, path, theirs.text)
            # Nothing tells a run of somebody else from one that never was.
            assert theirs.text.replace(case.annas, NEVER) == never.text
            count += 1
        # The beginning of its id does not find it either.
        assert kim.get(f"/api/v1/runs/{case.annas[:-1]}").status_code == 404
        assert {run["owner"] for run in kim.get("/api/v1/runs").json()["runs"]} == {"kim"}
        assert kim.get("/api/v1/runs/last").json()["run"] == case.kims
        assert count >= 18
        assert anna.get(f"/api/v1/runs/{case.annas}").json() == before


def test_the_owner_and_an_admin_reach_every_route(case: Case) -> None:
    """The counterpart: the 404 above comes of the owner, not of a route that answers nobody."""
    for name in ("anna", "boss"):
        with case.client(name) as client:
            for method, path in _routes(case):
                if _names_a_run(path) and method == "get" and not path.endswith(
                    ("details", "explanation", "pack.zip", "section.svg", "events")
                ):  # fmt: skip
                    found = _asked(client, method, path, case.annas)
                    assert found.status_code == 200, (name, path, found.text)
    with case.client("boss") as boss:
        assert {r["owner"] for r in boss.get("/api/v1/runs").json()["runs"]} == {"anna", "kim"}


def test_without_a_token_nothing_is_told(case: Case) -> None:
    with case.client("nobody") as nobody:
        _check_nothing_is_told(case, nobody)


def _check_nothing_is_told(case: Case, nobody: httpx.Client) -> None:
    for headers in ({}, {"authorization": "Bearer ptq_wrong"}, {"authorization": "Basic YTpi"}):
        for method, path in _routes(case):
            if path == "/health":
                continue
            filled = path.replace("{run}", case.annas).replace("{candidate}", "0")
            found = nobody.request(method, filled, headers=headers)
            assert found.status_code == 401, (method, path)
            assert found.headers["www-authenticate"].startswith("Bearer")
            assert case.annas not in found.text.replace(found.json()["instance"], "")


def test_a_token_in_the_url_is_not_read(case: Case) -> None:
    found = httpx.get(f"{case.url}/api/v1/runs", params={"token": case.tokens["anna"]})
    assert found.status_code == 401


def test_every_answer_carries_the_headers_and_errors_have_one_shape(case: Case) -> None:
    with case.client("anna") as anna:
        for path in ("/", "/docs", "/health", "/api/v1/runs", "/api/v1/runs/none", "/none"):
            found = anna.get(path)
            policy = found.headers["content-security-policy"]
            assert "frame-ancestors 'none'" in policy
            assert "http:" not in policy
            assert "https:" not in policy
            assert found.headers["x-frame-options"] == "DENY"
            assert found.headers["x-content-type-options"] == "nosniff"
            if found.status_code >= 400:
                assert found.headers["content-type"] == "application/problem+json"
                assert found.json()["status"] == found.status_code
                assert found.json()["problems"] == []
        assert anna.put("/api/v1/runs").status_code == 405


def test_pages_fetch_nothing_from_outside(case: Case) -> None:
    for path in ("/docs", "/docs/docs.js", "/docs/docs.css", "/"):
        text = httpx.get(f"{case.url}{path}").text
        assert "//" not in text.replace("// ", "").replace("http://www.w3.org/2000/svg", ""), path


@pytest.mark.parametrize(
    "path",
    ["../app.py", "..%2fapp.py", "%2e%2e/%2e%2e/cli.py", "/etc/passwd", "..%5capp.py",
     "docs.html%00.js", "x" * 5000 + ".js"],
)  # fmt: skip
def test_files_of_the_pages_and_no_others_are_served(case: Case, path: str) -> None:
    for folder in ("web", "docs"):
        assert httpx.get(f"{case.url}/{folder}/{path}").status_code in (404, 405)


def test_too_many_requests_are_told_when_to_come_back(tmp_path: Path) -> None:
    with served(tmp_path, allowance=Allowance(requests_per_second=2.0)) as (service, url):
        token = service.tokens.add("anna")
        with client_of(url, token) as anna:
            codes = [anna.get("/api/v1/session").status_code for _ in range(40)]
            refused = anna.get("/api/v1/session")
        assert codes[:20] == [200] * 20
        assert 429 in codes
        assert int(refused.headers["retry-after"]) >= 1
        # Somebody else is not held up by that.
        with client_of(url, service.tokens.add("kim")) as kim:
            assert kim.get("/api/v1/session").status_code == 200


def test_without_tokens_only_this_machine_under_its_own_name_is_served(tmp_path: Path) -> None:
    """A page of another site, also under a name that points here, gets nothing."""
    with served(tmp_path) as (_, url):
        port = url.rpartition(":")[2]
        assert httpx.get(f"{url}/api/v1/session").json()["owner"] == "local"
        for headers in (
            {"host": f"rebound.example:{port}"},
            {"origin": "https://elsewhere.example"},
        ):
            found = httpx.get(f"{url}/api/v1/session", headers=headers)
            assert found.status_code == 403, headers


def test_large_bodies_are_refused_before_they_are_read(case: Case) -> None:
    with case.client("anna") as anna:
        found = anna.post(
            "/api/v1/runs", content=b"#" * 1_000_001, headers={"content-type": "text/plain"}
        )
        assert found.status_code == 413

        def endless() -> Iterator[bytes]:
            for _ in range(200):
                yield b"#" * 10_000

        found = anna.post("/api/v1/runs", content=endless(), headers={"content-type": "text/plain"})
        assert found.status_code == 413


def test_one_person_cannot_fill_the_queue(tmp_path: Path) -> None:
    allowance = Allowance(requests_per_second=0.0, runs_waiting=2)
    with served(tmp_path, allowance=allowance) as (_, url), client_of(url) as client:
        body = {"study": lenient_text(), "budget": 20}
        codes = [client.post("/api/v1/runs", json=body).status_code for _ in range(3)]
        assert codes == [201, 201, 429]
