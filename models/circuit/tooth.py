"""A tooth in the network: the nodes of the slots on both sides of it."""

from dataclasses import dataclass

Pair = tuple[int, int]
"""Nodes at the slot before a tooth and at the one after it."""


@dataclass(frozen=True)
class Tooth:
    """A tooth between two slots.

    Attributes
    ----------
    number : int
        It lies between slot `number` and the next.
    sign : float
        Of the next slot's potentials: that of the sector where the slot lies beyond it, else 1.
    openings, top, bottom : tuple of 2 int
        Nodes at the openings, tops and bottoms of the slots.
    yoke : tuple of 2 int
        Nodes half way from the slots' bottoms to the outside.
    foot : int or None
        Node on its centre line between the slots' bottoms, where it has one.
    """

    number: int
    sign: float
    openings: Pair
    top: Pair
    bottom: Pair
    yoke: Pair
    foot: int | None = None

    @property
    def signs(self) -> tuple[float, float]:
        """Signs of both slots' potentials."""
        return 1.0, self.sign
