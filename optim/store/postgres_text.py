"""Text that PostgreSQL cannot hold (the character number 0), written so that it comes back."""

from typing import Any

_MARK, _ZERO = "\ue000", "\x00"  # the first is a private-use character that text hardly holds


def escaped(values: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return values as they are sent."""
    return tuple(_escape(value) if isinstance(value, str) else value for value in values)


def unescaped(values: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return received values as they were given."""
    return tuple(_unescape(value) if isinstance(value, str) else value for value in values)


def _escape(text: str) -> str:
    if _MARK not in text and _ZERO not in text:
        return text
    return text.replace(_MARK, f"{_MARK}1").replace(_ZERO, f"{_MARK}0")


def _unescape(text: str) -> str:
    if _MARK not in text:
        return text
    return text.replace(f"{_MARK}0", _ZERO).replace(f"{_MARK}1", _MARK)
