"""Saved services: a name for a URL and its token, in a file for its owner's eyes alone."""

import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkstemp

from optim.service.errors import RequestError
from optim.service.remote.connection import Connection
from optim.study.write import dumps

TOKEN_VARIABLE = "PARETORQUE_TOKEN"
"""Environment variable with the token for a URL that is no profile."""
FOLDER_VARIABLE = "XDG_CONFIG_HOME"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")


@dataclass(frozen=True)
class Profile:
    """A saved service: URL and token."""

    url: str
    token: str = ""


def profiles_path() -> Path:
    """Return where profiles are kept."""
    base = os.environ.get(FOLDER_VARIABLE, "")
    folder = Path(base) if base else Path.home() / ".config"
    return folder / "paretorque" / "profiles.toml"


def read_profiles() -> dict[str, Profile]:
    """Return the saved profiles by name.

    Raises
    ------
    RequestError
        If the file is there but cannot be read.
    """
    path = profiles_path()
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        return {name: Profile(**entries) for name, entries in content.items()}
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, TypeError) as error:
        raise RequestError(f"{path}: cannot be read ({error}); put it right or remove it") from (
            error
        )


def save_profile(name: str, profile: Profile) -> None:
    """Add or replace a profile.

    Raises
    ------
    RequestError
        For a name or URL that is not allowed.
    """
    if not _NAME.fullmatch(name):
        raise RequestError(f"profile: given {name[:80]!r}; allowed: letters, digits, - and _")
    Connection(profile.url).close()
    _write({**read_profiles(), name: profile})


def remove_profile(name: str) -> None:
    """Remove a profile.

    Raises
    ------
    RequestError
        If there is none.
    """
    found = read_profiles()
    if name not in found:
        raise RequestError(f"profile: given {name[:80]!r}; allowed: {_listed(found)}")
    del found[name]
    _write(found)


def connect(to: str) -> Connection:
    """Return the service that a URL or the name of a profile means.

    Raises
    ------
    RequestError
        If it is neither.
    """
    token = os.environ.get(TOKEN_VARIABLE, "")
    if "://" in to:
        return Connection(to, token)
    found = read_profiles()
    if to not in found:
        raise RequestError(
            f"--to: given {to[:80]!r}; allowed: a URL as 'paretorque serve' prints it, or a "
            f"profile ({_listed(found)})"
        )
    return Connection(found[to].url, token or found[to].token)


def _write(profiles: Mapping[str, Profile]) -> None:
    path = profiles_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    content = {
        name: {"url": p.url, **({"token": p.token} if p.token else {})}
        for name, p in profiles.items()
    }
    handle, temporary = mkstemp(prefix=".profiles-", dir=path.parent)  # readable by its owner
    with os.fdopen(handle, "w", encoding="utf-8") as stream:
        stream.write(dumps(content) if content else "")
    os.replace(temporary, path)


def _listed(profiles: Mapping[str, Profile]) -> str:
    return ", ".join(sorted(profiles)) or "none is saved yet"
