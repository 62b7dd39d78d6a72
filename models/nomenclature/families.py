"""The rotor families by name."""

from models.errors import InvalidInputError

FAMILIES: tuple[str, ...] = ("interior", "surface", "reluctance", "cage")

WITH_MAGNETS: tuple[str, ...] = tuple(f for f in FAMILIES if f != "cage")
"""Families that have magnets, or may have them."""


def check_family(family: str) -> None:
    """Raise InvalidInputError unless a rotor family of that name exists."""
    if family not in FAMILIES:
        raise InvalidInputError(f"unknown rotor family {family!r}; allowed: {', '.join(FAMILIES)}")
