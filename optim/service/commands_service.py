"""Commands of a service: serve, token."""

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from optim.service import documents, options
from optim.service.errors import RequestError
from optim.service.failures import DONE
from optim.service.http.settings import Allowance, ServiceSettings
from optim.service.http.tokens import TokenEntry, TokenFile
from optim.service.running import core_count
from optim.service.screen import make_screen
from optim.service.tables import plain_table
from optim.store.opening import is_url
from optim.store.sqlite import DEFAULT_PATH

TokenPath = Annotated[
    Path | None,
    typer.Option("--tokens", metavar="FILE", envvar="PARETORQUE_TOKENS",
                 help="File of tokens; default tokens.json beside the store's file."),
]  # fmt: skip
Database = Annotated[
    str,
    typer.Option("--database", metavar="ADDRESS", envvar="PARETORQUE_STORE",
                 help="Store of runs: a file or postgresql://...; "
                      "default runs/paretorque.sqlite."),
]  # fmt: skip


def serve(
    host: Annotated[
        str, typer.Option("--host", metavar="ADDRESS", help="Where to listen.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", metavar="N", help="0 takes a free one.")] = 8741,
    database: Database = str(DEFAULT_PATH),
    scheduler: options.Scheduler = "",
    workers: options.Workers = None,
    jobs: Annotated[
        int, typer.Option("--jobs", metavar="N", help="Runs at a time; they share the workers.")
    ] = 2,
    tokens: TokenPath = None,
    tls_certificate: Annotated[
        Path | None, typer.Option("--tls-certificate", metavar="FILE", help="Certificate (PEM).")
    ] = None,
    tls_key: Annotated[
        Path | None, typer.Option("--tls-key", metavar="FILE", help="Its key (PEM).")
    ] = None,
    largest_budget: Annotated[
        int, typer.Option("--largest-budget", metavar="N", help="Evaluations of one run.")
    ] = Allowance.budget,
    requests_per_second: Annotated[
        float,
        typer.Option("--requests-per-second", metavar="X", help="Of one person; 0: no limit."),
    ] = Allowance.requests_per_second,
) -> int:
    """Serve studies as jobs: web page, HTTP interface, queue, workers, all on this machine.

    Without any token it serves this machine alone.

    \b
      paretorque serve
      paretorque token add anna && paretorque serve --host 0.0.0.0 --tls-certificate cert.pem \\
          --tls-key key.pem
    """
    from optim.service.serving import serve as serve_all
    from optim.service.supervisor import SupervisorSettings

    screen = make_screen()
    if scheduler and workers is not None:
        raise RequestError("--workers and --scheduler: given both; allowed: one of them")
    for name, value in (("--workers", workers), ("--jobs", jobs),
                        ("--largest-budget", largest_budget)):  # fmt: skip
        if value is not None and value < 1:
            raise RequestError(f"{name}: given {value}; allowed: 1 or more")
    settings = ServiceSettings(
        host=host,
        port=port,
        database=database,
        tokens=_token_path(tokens, database),
        certificate=tls_certificate,
        key=tls_key,
        allowance=Allowance(budget=largest_budget, requests_per_second=requests_per_second),
    )
    supervision = SupervisorSettings(
        workers=workers or core_count(), scheduler=scheduler, running_limit=jobs
    )

    def say(url: str) -> None:
        screen.show(f"serving at {url}; Ctrl-C ends it, and what runs goes on at the next start")

    serve_all(settings, supervision, on_started=say)
    return DONE


def token(
    action: Annotated[str, typer.Argument(metavar="ACTION", help="add, list or remove.")],
    name: Annotated[str, typer.Argument(metavar="[NAME]", help="Whose.")] = "",
    admin: Annotated[
        bool, typer.Option("--admin", help="Sees and changes everybody's runs.")
    ] = False,
    tokens: TokenPath = None,
    database: Database = str(DEFAULT_PATH),
    json: options.Json = False,
) -> int:
    """Give somebody access to a service, list who has it, take it away.

    A token is shown once; only its hash is kept. A running service takes changes at once.

    \b
      paretorque token add anna
      paretorque token list
      paretorque token remove anna
    """
    screen = make_screen(is_json=json)
    file = TokenFile(_token_path(tokens, database))
    if action not in ("add", "list", "remove"):
        raise RequestError(f"token: given {action!r}; allowed: add, list, remove")
    if (action == "list") == bool(name):
        raise RequestError("token: allowed: 'token add NAME', 'token list' or 'token remove NAME'")
    if action == "add":
        made = file.add(name, is_admin=admin)
        screen.show_document(documents.document("token", owner=name, is_admin=admin, token=made))
        screen.show(made)
        screen.say(f"for {name}; keep it, it cannot be shown again")
    elif action == "remove":
        count = file.remove(name)
        screen.show_document(documents.document("token_removed", owner=name, removed=count))
        screen.show(f"{count} {'token' if count == 1 else 'tokens'} of {name} removed")
        if not file.entries():
            screen.say("no token is left: the service serves this machine alone, without asking")
    else:
        entries = file.entries()
        screen.show_document(
            documents.document("tokens", tokens=[
                {"owner": e.owner, "is_admin": e.is_admin, "created_unix_s": e.created}
                for e in entries
            ])
        )  # fmt: skip
        screen.show(_tokens_view(entries) if entries else "no tokens yet")
    return DONE


def _tokens_view(entries: Sequence[TokenEntry]) -> Table:
    table = plain_table()
    for name in ("owner", "may", "since"):
        table.add_column(name)
    for entry in entries:
        day = time.strftime("%Y-%m-%d", time.localtime(entry.created))
        table.add_row(entry.owner, "everything" if entry.is_admin else "own runs", day)
    return table


def _token_path(given: Path | None, database: str) -> Path:
    if given is not None:
        return given
    folder = DEFAULT_PATH.parent if is_url(database) else Path(database).parent
    return folder / "tokens.json"
