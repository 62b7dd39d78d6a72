"""Requests to a service: documents in and out, its errors as the ones a local call raises."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import TracebackType
from typing import Any
from urllib.parse import quote, urlsplit

import httpx

from optim.errors import Problem, StudyError
from optim.jobs.errors import RunStateError
from optim.service.errors import RequestError, SelectionError
from optim.service.remote.errors import AccessError, UnreachableError

PATIENCE_SECONDS = 330.0
"""How long to wait for an answer; some are computed first [s]."""
_CONNECT_SECONDS = 10.0
_SILENCE_SECONDS = 45.0
_PREFIX = "/api/v1"


@dataclass(frozen=True)
class Event:
    """One event of a run's stream.

    Attributes
    ----------
    number : int
        Sequence of the last evaluation told: where to go on from.
    kind : str
        `points`, `progress` or `end`.
    document : mapping
        What it says.
    """

    number: int
    kind: str
    document: Mapping[str, Any]


class Connection:
    """A service at a URL.

    Parameters
    ----------
    url : str
        As `paretorque serve` prints it.
    token : str
        Empty where the service asks for none.

    Raises
    ------
    RequestError
        For what is no such URL.
    """

    def __init__(self, url: str, token: str = "") -> None:
        parts = urlsplit(url)
        if parts.scheme not in ("http", "https") or not parts.hostname or parts.query:
            raise RequestError(
                f"--to: given {url[:80]!r}; allowed: http://HOST:PORT, https://HOST or the name "
                "of a saved profile"
            )
        if parts.username or parts.password:
            raise RequestError("--to: a URL holds no secret; give the token by PARETORQUE_TOKEN")
        headers = {"authorization": f"Bearer {token}"} if token else {}
        self.url = url.rstrip("/")
        self._client = httpx.Client(
            base_url=self.url, headers=headers,
            timeout=httpx.Timeout(PATIENCE_SECONDS, connect=_CONNECT_SECONDS),
        )  # fmt: skip

    def close(self) -> None:
        """Close it."""
        self._client.close()

    def __enter__(self) -> "Connection":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def get(self, *path: str | int, **query: Any) -> dict[str, Any]:
        """Return a document; path pieces may hold anything."""
        return _document(self._send("GET", path, query))

    def post(
        self, *path: str | int, body: Mapping[str, Any] | None = None, **query: Any
    ) -> dict[str, Any]:
        """Send a document and return the answer."""
        return _document(self._send("POST", path, query, body))

    def patch(self, *path: str | int, body: Mapping[str, Any]) -> dict[str, Any]:
        """Send a change and return the answer."""
        return _document(self._send("PATCH", path, {}, body))

    def delete(self, *path: str | int) -> None:
        """Remove what stands there."""
        self._send("DELETE", path, {})

    def content(self, *path: str | int, **query: Any) -> bytes:
        """Return a file."""
        return self._send("GET", path, query).content

    @contextmanager
    def events(self, run: str, *, after: int = 0) -> Iterator[Iterator[Event]]:
        """Open the stream of a run's events after a sequence number."""
        timeout = httpx.Timeout(_SILENCE_SECONDS, connect=_CONNECT_SECONDS)
        try:
            with self._client.stream(
                "GET", _path(("runs", run, "events")), timeout=timeout,
                headers={"last-event-id": str(after)},
            ) as answer:  # fmt: skip
                if answer.status_code != 200:
                    answer.read()
                _check(answer)
                yield _events(answer.iter_lines())
        except httpx.HTTPError as error:
            raise self._unreachable(error) from error

    def _send(
        self,
        method: str,
        path: Sequence[str | int],
        query: Mapping[str, Any],
        body: Mapping[str, Any] | None = None,
    ) -> httpx.Response:
        asked = {name: value for name, value in query.items() if value not in (None, "", [])}
        try:
            answer = self._client.request(method, _path(path), params=asked, json=body)
        except httpx.HTTPError as error:
            raise self._unreachable(error) from error
        _check(answer)
        return answer

    def _unreachable(self, error: Exception) -> UnreachableError:
        return UnreachableError(
            f"{self.url}: no answer ({type(error).__name__}: {error}); is the service there? "
            "'paretorque serve' starts one"
        )


def _path(pieces: Sequence[str | int]) -> str:
    return _PREFIX + "".join(f"/{quote(str(piece), safe='')}" for piece in pieces)


def _document(answer: httpx.Response) -> dict[str, Any]:
    try:
        content = answer.json()
    except ValueError:
        content = None
    if not isinstance(content, dict):
        raise UnreachableError(f"{answer.url.host}: answers, but not as a service of this kind")
    return content


def _check(answer: httpx.Response) -> None:
    """Raise what a local call would raise for the same mistake."""
    status = answer.status_code
    if status < 400:
        return
    try:
        content = answer.json()
        detail = str(content["detail"])
        problems = [
            Problem(p["where"], p["given"], p["allowed"], p["hint"], p["line"])
            for p in content["problems"]
        ]
    except (ValueError, KeyError, TypeError):
        raise UnreachableError(
            f"{answer.url.host}: answers with status {status}, but not as a service of this kind"
        ) from None
    if problems:
        raise StudyError(problems, source=detail.rpartition(":")[0] or "service")
    if status == 404:
        raise SelectionError(detail)
    if status == 409:
        raise RunStateError(detail)
    if status in (401, 403):
        raise AccessError(detail)
    if status < 500:
        raise RequestError(detail)
    raise UnreachableError(f"{answer.url.host}: {detail}")


def _events(lines: Iterator[str]) -> Iterator[Event]:
    number, kind = 0, ""
    data: list[str] = []
    for line in lines:
        name, _, value = line.partition(":")
        value = value.removeprefix(" ")
        if not line:
            if data:
                yield Event(number, kind, json.loads("\n".join(data)))
            kind, data = "", []
        elif name == "id":
            number = int(value)
        elif name == "event":
            kind = value
        elif name == "data":
            data.append(value)
