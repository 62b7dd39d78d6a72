"""Parts of the HTTP interface without a server: rate, addresses, problem details."""

import pytest

from optim.errors import Problem, StudyError
from optim.jobs.errors import RunStateError
from optim.service.errors import RequestError, SelectionError
from optim.service.http.problems import problem_document, problem_entries, status_of
from optim.service.http.rates import Rate
from optim.service.http.server import check_listening
from optim.service.http.settings import ServiceSettings, is_loopback
from optim.service.http.tokens import TokenFile
from optim.store.errors import StaleStateError, StoreError, UnknownRunError


def test_a_bucket_gives_its_burst_and_then_its_rate() -> None:
    rate = Rate(2.0, burst=3.0)
    assert [rate.wait("anna", 0.0) for _ in range(3)] == [0.0, 0.0, 0.0]
    # Empty: the next one is there after half a second, by the rate of two a second.
    assert rate.wait("anna", 0.0) == pytest.approx(0.5)
    assert rate.wait("anna", 0.5) == 0.0
    assert rate.wait("kim", 0.5) == 0.0
    # Over ten minutes no more than burst + rate x time: 3 + 2 x 600 less the four taken.
    taken = sum(rate.wait("anna", 0.5 + 0.01 * k) == 0.0 for k in range(60_000))
    assert taken == pytest.approx(2.0 * 600.0, abs=2.0)


def test_no_rate_is_no_limit() -> None:
    rate = Rate(0.0, burst=0.0)
    assert all(rate.wait("anna", 0.0) == 0.0 for _ in range(1000))


@pytest.mark.parametrize(
    ("address", "expected"),
    [("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("[::1]", True),
     ("localhost", True), ("::ffff:127.0.0.1", True), ("0.0.0.0", False), ("::", False),
     ("10.0.0.1", False), ("localhost.example", False), ("", False), ("::ffff:8.8.8.8", False)],
)  # fmt: skip
def test_only_this_machine_is_loopback(address: str, expected: bool) -> None:
    """Addresses of RFC 1122 (127/8), RFC 4291 (::1) and their mapped forms."""
    assert is_loopback(address) is expected


@pytest.mark.parametrize(
    ("error", "status"),
    [(UnknownRunError("x"), 404), (SelectionError("x"), 404), (RunStateError("x"), 409),
     (StaleStateError("x"), 409), (RequestError("x"), 422), (StoreError("x"), 503),
     (StudyError([Problem("a", "b", "c")]), 422), (RuntimeError("x"), 500)],
)  # fmt: skip
def test_each_error_has_its_status(error: Exception, status: int) -> None:
    assert status_of(error) == status


def test_problem_details_have_the_members_of_the_standard() -> None:
    """RFC 9457, section 3.1: type, title, status, detail, instance; others are extensions."""
    problem = Problem("limits.magnet_mas", "1", "a metric", "Did you mean 'magnet_mass'?", 14)
    content = problem_document(422, "study: 1 mistake", "/api/v1/runs", [problem])
    assert set(content) == {"type", "title", "status", "detail", "instance", "problems"}
    assert content["title"] == "Unprocessable Content"  # RFC 9110, section 15.5.21
    assert content["problems"] == [
        {"line": 14, "where": "limits.magnet_mas", "given": "1", "allowed": "a metric",
         "hint": "Did you mean 'magnet_mass'?", "nearest": "magnet_mass"}
    ]  # fmt: skip


def test_half_a_surrogate_pair_can_be_told() -> None:
    assert problem_entries(Problem("\ud800", "b", "c"))["where"] == "?"


def test_without_tokens_it_listens_on_this_machine_alone(tmp_path) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    check_listening(ServiceSettings(host="127.0.0.1"), tokens)
    with pytest.raises(RequestError, match="token add"):
        check_listening(ServiceSettings(host="0.0.0.0"), tokens)
    tokens.add("anna")
    check_listening(ServiceSettings(host="0.0.0.0"), tokens)


def test_tls_needs_a_pair_of_real_files(tmp_path) -> None:
    file = tmp_path / "cert.pem"
    with pytest.raises(RequestError, match="both or none"):
        ServiceSettings(certificate=file)
    file.write_text("no certificate", encoding="utf-8")
    settings = ServiceSettings(certificate=file, key=file)
    with pytest.raises(RequestError, match="PEM"):
        check_listening(settings, TokenFile(tmp_path / "tokens.json"))
