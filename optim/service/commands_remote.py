"""Commands that only make sense with a service: submit, job, profile."""

import getpass
import os
import sys
from typing import Annotated, Any

import typer

from optim.service import documents, options
from optim.service.errors import RequestError
from optim.service.failures import DONE
from optim.service.remote.connection import Connection
from optim.service.remote.profiles import (
    TOKEN_VARIABLE,
    Profile,
    connect,
    profiles_path,
    read_profiles,
    remove_profile,
    save_profile,
)
from optim.service.run_store import keepable_text
from optim.service.screen import make_screen
from optim.service.wording import count_text
from optim.study.load import load

Priority = Annotated[
    int, typer.Option("--priority", metavar="N", help="-100 to 100; higher goes first.")
]
_ACTIONS = ("pause", "resume", "cancel", "delete", "status", "log")


def submit(
    study: options.StudyFile,
    to: options.To = "",
    budget: options.Budget = None,
    seed: options.Seed = None,
    priority: Priority = 0,
    json: options.Json = False,
    quiet: options.Quiet = False,
) -> int:
    """Hand a study to a service, which runs it; it does not need this machine any more.

    \b
      paretorque submit studies/island-post-van.toml --to http://localhost:8741
      paretorque submit studies/island-post-van.toml --to lab --budget 1000
    """
    screen = make_screen(is_json=json, is_quiet=quiet)
    read = load(study)
    with _connected(to) as service:
        # Files beside the study stay here: what they hold goes with the text.
        made = service.post("runs", body={"study": keepable_text(read), "budget": budget,
                                          "seed": seed, "priority": priority})  # fmt: skip
    screen.show_document(made)
    screen.show(f"run {made['run']}: {made['state']}, {count_text(made['budget'])} evaluations")
    screen.advise(
        f"paretorque watch {made['run']} --to {to}", f"paretorque front {made['run']} --to {to}"
    )
    return DONE


def job(
    action: Annotated[str, typer.Argument(metavar="ACTION", help=", ".join(_ACTIONS) + ".")],
    run: options.RunName,
    to: options.To = "",
    json: options.Json = False,
) -> int:
    """Pause, resume, cancel or delete a service's run, or ask for its status or log.

    \b
      paretorque job pause last --to lab
      paretorque job log last --to lab
    """
    screen = make_screen(is_json=json)
    if action not in _ACTIONS:
        raise RequestError(f"job: given {action[:40]!r}; allowed: {', '.join(_ACTIONS)}")
    with _connected(to) as service:
        content = _acted(service, action, run)
    screen.show_document(content)
    if action == "log":
        screen.show(*[f"{line['level']:8} {line['text']}" for line in content["lines"]])
    elif action == "delete":
        screen.show(f"run {content['run']} is deleted")
    else:
        reason = f": {content['reason']}" if content["reason"] else ""
        done = f"{count_text(content['evaluations'])} of {count_text(content['budget'])}"
        screen.show(f"run {content['run']} is {content['state']}{reason}; {done} evaluations")
    return DONE


def profile(
    action: Annotated[str, typer.Argument(metavar="ACTION", help="add, list or remove.")],
    name: Annotated[str, typer.Argument(metavar="[NAME]", help="Name of the profile.")] = "",
    url: Annotated[str, typer.Argument(metavar="[URL]", help="As in https://host:8741.")] = "",
    json: options.Json = False,
) -> int:
    """Save a service's URL and token under a name for --to.

    The token is asked for, or read from standard input or PARETORQUE_TOKEN: never from the
    command line, which others may see.

    \b
      paretorque profile add lab https://motors.lab.example:8741
      paretorque profile list
    """
    screen = make_screen(is_json=json)
    if action == "add" and name and url:
        save_profile(name, Profile(url, _asked_token()))
        screen.show_document(documents.document("profile", name=name, url=url))
        screen.show(f"profile {name} saved in {profiles_path()}")
    elif action == "remove" and name and not url:
        remove_profile(name)
        screen.show_document(documents.document("profile_removed", name=name))
        screen.show(f"profile {name} removed")
    elif action == "list" and not name:
        found = read_profiles()
        listed = [{"name": key, "url": p.url, "has_token": bool(p.token)}
                  for key, p in found.items()]  # fmt: skip
        screen.show_document(documents.document("profiles", profiles=listed))
        screen.show(*[f"{key}  {p.url}" for key, p in found.items()] or ["no profile is saved yet"])
    else:
        raise RequestError(
            "profile: allowed: 'profile add NAME URL', 'profile list' or 'profile remove NAME'"
        )
    return DONE


def _acted(service: Connection, action: str, run: str) -> dict[str, Any]:
    if action == "status":
        return service.get("runs", run)
    if action == "log":
        return service.get("runs", run, "log")
    if action == "delete":
        run_id = service.get("runs", run)["run"]
        service.delete("runs", run_id)
        return documents.document("deleted", run=run_id)
    return service.post("runs", run, action)


def _connected(to: str) -> Connection:
    if not to:
        raise RequestError("--to: given nothing; allowed: the URL of a service or a profile")
    return connect(to)


def _asked_token() -> str:
    given = os.environ.get(TOKEN_VARIABLE, "")
    if given:
        return given
    if sys.stdin.isatty():
        return getpass.getpass("token (empty for none): ").strip()
    return sys.stdin.readline().strip()
