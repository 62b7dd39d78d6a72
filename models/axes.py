"""The dq axes a family is published in, and those its section is solved in.

Every model solves a machine in the axes of its section: d_s along the pole axis (x), where magnets
point, q_s 90 electrical degrees ahead. Machines of the families `interior` and `surface` are
published in the same axes. A reluctance machine is published as is usual for it: d on its
low-reluctance axis, between two barriers, and q 90 electrical degrees ahead of that; magnets in its
barriers then point along negative q. The axes differ by a quarter turn, so that power, torque and
voltage are the same in both:

    i_d = i_qs,  i_q = -i_ds,  psi_d = psi_qs,  psi_q = -psi_ds.

Motoring with i_ds <= 0, i_qs >= 0 is i_d >= 0, i_q >= 0 there.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Value = TypeVar("Value", float, Array)

LOW_RELUCTANCE_FAMILIES: tuple[str, ...] = ("reluctance",)
"""Families published with d on the low-reluctance axis."""


def is_turned(family: str) -> bool:
    """Whether a family's published axes lead those of its section by 90 electrical degrees."""
    return family in LOW_RELUCTANCE_FAMILIES


def pole_axis(family: str) -> str:
    """Return the name of the section's pole axis (x) in a family's published axes."""
    return "negative q axis" if is_turned(family) else "d axis"


def published(family: str, d: Value, q: Value) -> tuple[Value, Value]:
    """Return d and q values in a family's published axes.

    Parameters
    ----------
    family : str
        Rotor family.
    d, q : float or ndarray
        Currents, linkages or voltages in the section's axes.
    """
    return (q, -d + 0.0) if is_turned(family) else (d, q)


def from_published(family: str, d: Value, q: Value) -> tuple[Value, Value]:
    """Return values in the section's axes from published ones: the inverse of `published`."""
    return (-q + 0.0, d) if is_turned(family) else (d, q)


def published_grid(family: str, values: Array) -> Array:
    """Return a map over (i_ds, i_qs) as a map over the published (i_d, i_q), both ascending.

    Parameters
    ----------
    family : str
        Rotor family.
    values : ndarray, shape (n_d, n_q)
        Any quantity on the grid of a flux map or its fine table.
    """
    return np.ascontiguousarray(values[::-1].T) if is_turned(family) else values
