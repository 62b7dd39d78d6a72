"""The server: listening, TLS, clean end."""

import signal
import socket
import ssl
from collections.abc import Awaitable, Callable
from types import FrameType

import uvicorn
from fastapi import FastAPI

from optim.service.errors import RequestError
from optim.service.http.settings import ServiceSettings, is_loopback
from optim.service.http.tokens import TokenFile

_BACKLOG = 2048
_GRACE_SECONDS = 5


class Server(uvicorn.Server):
    """A server that says when it listens.

    Parameters
    ----------
    app : FastAPI
        The application.
    settings : ServiceSettings
        Where to listen.
    on_started : callable or None
        Called with the URL once requests are answered.
    on_stopping : callable or None
        Awaited before connections are waited for, to end what would stay open.
    """

    def __init__(
        self,
        app: FastAPI,
        settings: ServiceSettings,
        *,
        on_started: Callable[[str], None] | None = None,
        on_stopping: Callable[[], Awaitable[None]] | None = None,
    ) -> None:
        super().__init__(
            uvicorn.Config(
                app,
                host=settings.host,
                port=settings.port,
                ssl_certfile=settings.certificate,
                ssl_keyfile=settings.key,
                # The gate writes its own line for each request, without its query.
                access_log=False,
                log_config=None,
                server_header=False,
                # Addresses in headers are believed from nobody: they decide who is local.
                proxy_headers=False,
                backlog=_BACKLOG,
                h11_max_incomplete_event_size=32_768,
                timeout_graceful_shutdown=_GRACE_SECONDS,
            )
        )
        self._settings = settings
        self._on_started = on_started
        self._on_stopping = on_stopping
        self.url = ""

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to end; a second Ctrl-C does not wait for open connections."""
        # Unlike the library's, the signal is not raised again afterwards: the supervisor's
        # children are let go after this, and it would end the process before.
        self.force_exit = self.should_exit and sig == signal.SIGINT
        self.should_exit = True

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End connections and listening."""
        if self._on_stopping is not None:
            await self._on_stopping()
        await super().shutdown(sockets)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen."""
        await super().startup(sockets)
        if not self.started:
            return
        port = self.servers[0].sockets[0].getsockname()[1]
        host = self._settings.host
        shown = f"[{host}]" if ":" in host else host
        self.url = f"{self._settings.scheme}://{shown}:{port}"
        if self._on_started is not None:
            self._on_started(self.url)


def check_listening(settings: ServiceSettings, tokens: TokenFile) -> None:
    """Refuse to listen beyond this machine without tokens, and files that are no TLS pair.

    Raises
    ------
    RequestError, TokenFileError
    """
    if not tokens.entries() and not is_loopback(settings.host):
        raise RequestError(
            f"--host: given {settings.host} without any token; allowed then: 127.0.0.1; make a "
            "token first with 'paretorque token add NAME'"
        )
    if settings.certificate is None:
        return
    try:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(settings.certificate, settings.key)
    except (OSError, ssl.SSLError) as error:
        raise RequestError(
            f"--tls-certificate, --tls-key: cannot be used ({error}); allowed: a certificate and "
            "its key in PEM files"
        ) from error
