"""The nearest word, for errors that name what was meant."""

from collections.abc import Mapping
from difflib import get_close_matches


def nearest(word: str, allowed: Mapping[str, object] | tuple[str, ...]) -> str | None:
    """Return the allowed word closest in spelling to `word`, or None if nothing is close."""
    close = get_close_matches(word, list(allowed), n=1, cutoff=0.6)
    return close[0] if close else None
