"""Access tokens: one owner each, kept as hashes in a file beside the store."""

import hashlib
import json
import os
import re
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import mkstemp

from optim.service.errors import RequestError, SelectionError, ServiceError

PREFIX = "ptq_"
"""Beginning of every token, so that one is known for what it is where it should not be."""
FORMAT = 1
_BYTES = 32
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._@-]{0,63}")
_RESERVED = ("local", "last", "best")


class TokenFileError(ServiceError, OSError):
    """The file of tokens cannot be read, so nobody is let in."""


@dataclass(frozen=True)
class TokenEntry:
    """What is kept of a token.

    Attributes
    ----------
    owner : str
        Whose it is; runs belong to this name.
    digest : str
        SHA-256 of the token, hexadecimal. Tokens are 256 random bits, so there is nothing that
        a slower hash would protect from guessing.
    is_admin : bool
        Whether it sees and changes everybody's runs.
    created : float
        Unix time [s].
    """

    owner: str
    digest: str
    is_admin: bool
    created: float


class TokenFile:
    """The tokens of a service; what another process changes in the file holds at once.

    Parameters
    ----------
    path : Path
        The file; it need not be there.
    clock : callable
        Gives the Unix time [s].
    """

    def __init__(self, path: Path, *, clock: Callable[[], float] = time.time) -> None:
        self.path = path
        self._clock = clock
        self._guard = threading.Lock()
        self._seen: tuple[int, int, int] | None = None
        self._entries: tuple[TokenEntry, ...] = ()

    def entries(self) -> tuple[TokenEntry, ...]:
        """Return what is kept, in the order added.

        Raises
        ------
        TokenFileError
            If the file is there but is none of ours. Nobody is let in then.
        """
        with self._guard:
            try:
                status = self.path.stat()
            except FileNotFoundError:
                self._seen, self._entries = None, ()
                return ()
            except OSError as error:
                raise TokenFileError(f"{self.path.name}: cannot be read ({error.strerror})") from (
                    error
                )
            seen = (status.st_mtime_ns, status.st_size, status.st_ino)
            if seen != self._seen:
                self._entries = _read(self.path)
                self._seen = seen
            return self._entries

    def owner_of(self, token: str) -> TokenEntry | None:
        """Return whose a token is, None for nobody's."""
        digest = digest_of(token)
        found = None
        for entry in self.entries():
            # Every entry is compared, so that the time tells nothing of where one stands.
            if secrets.compare_digest(entry.digest, digest):
                found = entry
        return found

    def add(self, owner: str, *, is_admin: bool = False) -> str:
        """Add a token and return it; it cannot be shown again.

        Raises
        ------
        RequestError
            For a name that is not allowed.
        """
        if not _NAME.fullmatch(owner) or owner in _RESERVED:
            raise RequestError(
                f"token: given owner {owner[:80]!r}; allowed: 1 to 64 letters, digits and . _ @ -, "
                f"beginning with a letter or digit, and none of {', '.join(_RESERVED)}"
            )
        token = PREFIX + secrets.token_urlsafe(_BYTES)
        entry = TokenEntry(owner, digest_of(token), is_admin, self._clock())
        self._write((*self.entries(), entry))
        return token

    def remove(self, owner: str) -> int:
        """Remove every token of an owner; return how many there were.

        Raises
        ------
        SelectionError
            If the owner has none.
        """
        entries = self.entries()
        kept = tuple(entry for entry in entries if entry.owner != owner)
        if len(kept) == len(entries):
            owners = ", ".join(sorted({entry.owner for entry in entries})) or "nobody has one"
            raise SelectionError(f"token: {owner[:80]!r} has none; allowed: {owners}")
        self._write(kept)
        return len(entries) - len(kept)

    def _write(self, entries: tuple[TokenEntry, ...]) -> None:
        """Replace the file in one step, readable by its owner alone."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        text = json.dumps({"format": FORMAT, "tokens": [asdict(e) for e in entries]}, indent=1)
        handle, name = mkstemp(prefix=f".{self.path.name}-", dir=self.path.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                stream.write(text + "\n")
                stream.flush()
                os.fsync(stream.fileno())
            os.replace(name, self.path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise


def digest_of(token: str) -> str:
    """Return the SHA-256 of a token."""
    return hashlib.sha256(token.encode("utf-8", "surrogateescape")).hexdigest()


def _read(path: Path) -> tuple[TokenEntry, ...]:
    advice = "restore it from a copy, or remove it and add the tokens anew"
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        entries = tuple(TokenEntry(**entry) for entry in content["tokens"])
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise TokenFileError(f"{path.name}: is no file of tokens; {advice}") from error
    if content.get("format") != FORMAT:
        raise TokenFileError(f"{path.name}: is of another version of the program; {advice}")
    return entries
