"""What every request passes first: who asks, how often, how much; and what every answer carries.

Written on the bare protocol, so that it holds for every route and none can forget it.
"""

import asyncio
import re
import secrets
import time
from collections.abc import Callable
from urllib.parse import urlsplit

from fastapi import Request
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from optim.service.http.logs import LOGGER
from optim.service.http.measures import Measures
from optim.service.http.problems import ApiError, answer, status_of
from optim.service.http.rates import Rate
from optim.service.http.settings import Allowance, is_loopback
from optim.service.http.tokens import TokenFile
from optim.service.job_desk import Person

LOCAL = Person("local", is_admin=True)
"""Who asks where there are no tokens."""

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
_GUARDED = ("/api/", "/metrics")
_METHODS = ("GET", "HEAD", "POST", "PATCH", "PUT", "DELETE", "OPTIONS")
_BODY_SECONDS = 30.0
_RUN = re.compile(r"^/api/v1/runs/([A-Za-z0-9_-]{1,100})")


class Gate:
    """Lets requests in.

    Parameters
    ----------
    app : ASGI application
        What is behind.
    tokens : TokenFile
        Who may ask.
    allowance : Allowance
        How much.
    is_secure : bool
        Whether the service speaks TLS itself.
    measures : Measures or None
        Where requests are counted.
    clock : callable
        Time of a clock that never goes back [s].
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        tokens: TokenFile,
        allowance: Allowance,
        is_secure: bool = False,
        measures: Measures | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._app = app
        self._tokens = tokens
        self._allowance = allowance
        self._is_secure = is_secure
        self._measures = measures
        self._clock = clock
        per_second = allowance.requests_per_second
        self._rate = Rate(per_second, burst=10.0 * per_second)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begin = self._clock()
        number = secrets.token_hex(8)
        status = 0

        async def send_marked(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                self._mark(MutableHeaders(scope=message), scope["path"], number)
            await send(message)

        request = Request(scope)
        owner = ""
        try:
            person = self._person(request)
            owner = person.name if person is not None else ""
            scope.setdefault("state", {})["person"] = person
            body = await self._body(Headers(scope=scope), receive)
            await self._app(scope, _replayed(body, receive), send_marked)
        except Exception as error:  # every error is answered in one shape
            if status:  # the answer has begun: nothing can be said any more
                LOGGER.exception("answer broken off", extra={"request": number})
                raise
            if status_of(error) == 500:
                LOGGER.exception("error of the service", extra={"request": number})
            await answer(request, error)(scope, receive, send_marked)
        finally:
            self._note(scope, number, status, owner, self._clock() - begin)

    def _person(self, request: Request) -> Person | None:
        """Return who asks; None on the open pages."""
        address = request.client.host if request.client else ""
        if not request.url.path.startswith(_GUARDED):
            self._limit(address)
            return None
        if not self._tokens.entries():
            self._limit(address)
            _check_local(request, address)
            return LOCAL
        scheme, _, token = request.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer" or not token.strip():
            self._limit(address)
            raise ApiError(
                401, "given no token; allowed: the header 'Authorization: Bearer TOKEN'; ask "
                "whoever runs the service for 'paretorque token add NAME'",
                headers={"www-authenticate": "Bearer"},
            )  # fmt: skip
        entry = self._tokens.owner_of(token.strip())
        self._limit(address if entry is None else f"owner {entry.owner}")
        if entry is None:
            raise ApiError(
                401, "the token is not known here (any more); ask for a new one",
                headers={"www-authenticate": 'Bearer error="invalid_token"'},
            )  # fmt: skip
        return Person(entry.owner, is_admin=entry.is_admin)

    def _limit(self, caller: str) -> None:
        wait = self._rate.wait(caller, self._clock())
        if wait > 0.0:
            raise ApiError(
                429, f"too many requests; allowed: {self._allowance.requests_per_second:g} a "
                "second on average", headers={"retry-after": str(int(wait) + 1)},
            )  # fmt: skip

    async def _body(self, headers: Headers, receive: Receive) -> bytes:
        """Read the body before anything is done with it, so that none is read without bound."""
        most = self._allowance.study_bytes
        # JSON may write every character of an allowed text as six.
        most = 6 * most if "json" in headers.get("content-type", "") else most
        refusal = ApiError(
            413, f"given a body of more than {most} bytes; allowed: at most that much",
            headers={"connection": "close"},
        )  # fmt: skip
        length = headers.get("content-length", "0")
        if not length.isdecimal() or len(length) > 15:
            raise ApiError(400, "content-length: allowed: a number")
        if int(length) > most:
            raise refusal
        if int(length) == 0 and "transfer-encoding" not in headers:
            return b""
        parts: list[bytes] = []
        total = 0
        try:
            async with asyncio.timeout(_BODY_SECONDS):
                while True:
                    message = await receive()
                    if message["type"] == "http.disconnect":
                        raise ApiError(400, "the body ended early")
                    parts.append(message.get("body", b""))
                    total += len(parts[-1])
                    if total > most:
                        raise refusal
                    if not message.get("more_body", False):
                        return b"".join(parts)
        except TimeoutError:
            raise ApiError(408, f"the body took longer than {_BODY_SECONDS:g} s") from None

    def _note(self, scope: Scope, number: str, status: int, owner: str, seconds: float) -> None:
        """Log and count a request; the query stays out, whatever somebody put into it."""
        path, method = scope["path"], scope["method"]
        run = _RUN.match(path)
        LOGGER.info(
            "request",
            extra={
                "request": number, "method": method[:20], "path": path[:300], "status": status,
                "owner": owner, "run": run[1] if run else "", "ms": round(1e3 * seconds, 1),
            },
        )  # fmt: skip
        if self._measures is not None:
            known = method if method in _METHODS else "other"
            self._measures.requests.labels(known, str(status)).inc()
            if not path.endswith("/events"):
                self._measures.seconds.observe(seconds)

    def _mark(self, headers: MutableHeaders, path: str, number: str) -> None:
        for name, value in _HEADERS.items():
            headers.setdefault(name, value)
        headers["x-request-id"] = number
        if path.startswith(_GUARDED):
            headers.setdefault("cache-control", "no-store")
        if self._is_secure:
            headers["strict-transport-security"] = "max-age=31536000"


def _check_local(request: Request, address: str) -> None:
    """Let in only this machine, and no page of another site that found its way to it."""
    if not is_loopback(address):
        raise ApiError(
            403, "without tokens the service serves this machine alone; make one with "
            "'paretorque token add NAME'",
        )  # fmt: skip
    host = urlsplit(f"//{request.headers.get('host', '')}").hostname or ""
    origin = request.headers.get("origin", "")
    # A name that another site points to this machine would make its page look like ours.
    if not is_loopback(host) or (origin and not is_loopback(urlsplit(origin).hostname or "")):
        raise ApiError(403, "without tokens the service answers under the name localhost alone")


def _replayed(body: bytes, receive: Receive) -> Receive:
    is_told = False

    async def again() -> Message:
        nonlocal is_told
        if not is_told:
            is_told = True
            return {"type": "http.request", "body": body, "more_body": False}
        return await receive()

    return again
