"""Requests made up from the interface's own description: no error of the service, one shape."""

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings

from optim.service.http.context import Service
from optim.service.running import compile_models
from tests.service_case import add_run, lenient_study, made_up_rows, served

EXAMPLES = 12
THOROUGH = 150
# A study's own mistakes are what these answer; the others may be refused for any of these.
_EXPECTED = {200, 201, 202, 204, 400, 401, 404, 405, 406, 409, 413, 415, 422, 429}

_SLOW = ("pack.zip", "details", "explanation", "section.svg")
_MEMBERS = {"type", "title", "status", "detail", "instance", "problems"}


@dataclass(frozen=True)
class Fuzzed:
    """A served store with a finished run, and the description of the interface."""

    service: Service
    url: str
    run: str
    schema: Any


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Fuzzed]:
    with served(Path(tmp_path_factory.mktemp("service"))) as (service, url):
        record = add_run(service.store, "anna", made_up_rows(lenient_study(), 6))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the library's own imports
            schema = schemathesis.openapi.from_url(f"{url}/openapi.json")
        yield Fuzzed(service, url, record.run_id, schema)


@pytest.mark.parametrize("is_aimed", [False, True], ids=["any path", "a run that is there"])
def test_no_request_is_an_error_of_the_service(fuzzed: Fuzzed, is_aimed: bool) -> None:
    assert _faults(fuzzed, is_aimed, EXAMPLES) == []


@pytest.mark.slow
@pytest.mark.parametrize("is_aimed", [False, True], ids=["any path", "a run that is there"])
def test_no_request_is_an_error_of_the_service_in_full(fuzzed: Fuzzed, is_aimed: bool) -> None:
    compile_models(lenient_study())  # may take minutes, longer than an answer is waited for
    assert _faults(fuzzed, is_aimed, THOROUGH) == []


def _faults(fuzzed: Fuzzed, is_aimed: bool, examples: int) -> list[str]:
    faults: list[str] = []
    counts: dict[str, int] = {}
    for found in fuzzed.schema.get_all_operations():
        operation = found.ok()
        name = f"{operation.method.upper()} {operation.path}"
        if is_aimed and ("{run}" not in operation.path or operation.method == "delete"):
            continue
        if is_aimed and examples == EXAMPLES and operation.path.endswith(_SLOW):
            continue  # they solve the design: in full alone

        _ask_about(fuzzed, operation, name, is_aimed, examples, faults, counts)
    # A description that lost its routes would find no fault.
    assert len(counts) >= (14 if is_aimed else 25)
    assert sum(counts.values()) >= 3 * len(counts)
    return faults


def _ask_about(
    fuzzed: Fuzzed,
    operation: Any,
    name: str,
    is_aimed: bool,
    examples: int,
    faults: list[str],
    counts: dict[str, int],
) -> None:
    @settings(
        max_examples=2 if operation.path.endswith(_SLOW) else examples,
        deadline=None, derandomize=True, database=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=operation.as_strategy())
    def ask(case: Any) -> None:
        counts[name] = counts.get(name, 0) + 1
        if is_aimed:
            case.path_parameters = {**case.path_parameters, "run": fuzzed.run}
            if "{candidate}" in operation.path and counts[name] % 2:
                case.path_parameters["candidate"] = "0"
        answer = case.call(base_url=fuzzed.url, timeout=120)
        is_one_shape = answer.status_code < 400 or (
            answer.headers["content-type"][0] == "application/problem+json"
            and set(answer.json()) == _MEMBERS
        )
        if answer.status_code not in _EXPECTED or not is_one_shape:
            faults.append(f"{name}: {answer.status_code} {answer.text[:300]}")

    ask()
