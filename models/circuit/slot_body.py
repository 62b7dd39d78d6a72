"""The potential in a slot body between its bottom and its top, under its own current.

Flux crosses the slot in straight lines between the teeth. With the current below a height in the
share a / A of the slot's and a width b there, the tangential field is (F_0 + I a / A) / b: F_0 is
what the iron drives. The potential at both ends and the current I then give its mean over the slot.
"""

from dataclasses import dataclass

import numpy as np

from models.circuit.network import Array
from models.machine import Stator

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(12)


@dataclass(frozen=True)
class SlotBody:
    """A slot body as part of the network.

    Attributes
    ----------
    permeance : float
        From bottom to top without current, per mu0 and metre of length.
    mean_top : float
        Weight of the top in the mean potential; the rest is that of the bottom.
    own_permeance : float
        Mean potential per ampere of the slot's current with both ends at zero, over mu0.
    profile : tuple of 2 ndarray
        Heights over the body's from its bottom, and what the potential there has of the way from
        bottom to top; linear for a stator's slot.
    """

    permeance: float
    mean_top: float
    own_permeance: float
    profile: tuple[Array, Array] = (np.array([0.0, 1.0]), np.array([0.0, 1.0]))


def even_slot_body(stator: Stator) -> SlotBody:
    """Return a slot body taken as wide everywhere as on average, its potential as a parabola.

    Exact for parallel sides: mean of both ends, and h / (12 b) for the current.
    """
    h = stator.body_height
    b_in, b_out = stator.slot_width_inner, stator.slot_width_outer
    b_mean = 0.5 * (b_in + b_out)
    # weight of the linear profile (0 at the bottom, 1 at the top) over the trapezoid
    mean_top = (2.0 * b_in + b_out) / (3.0 * (b_in + b_out))
    return SlotBody(h / b_mean, mean_top, h / (12.0 * b_mean))


def slot_body(stator: Stator) -> SlotBody:
    """Return a slot body whose width changes evenly from bottom to top.

    Notes
    -----
    With G, M and S the integrals of (a / A)^n dy / b over the height, n = 0, 1, 2: permeance G,
    weight of the top 1 - M / G, and S - M^2 / G for the current. A slot that is wide at its bottom
    leaks more than an even one: most of its current lies below the narrow top.
    """
    h = stator.body_height
    b_in, b_out = stator.slot_width_inner, stator.slot_width_outer
    share = 0.5 * (_POINTS + 1.0)
    weight = 0.5 * h * _WEIGHTS
    width = b_out + (b_in - b_out) * share
    below = (b_out * share + 0.5 * (b_in - b_out) * share**2) / (0.5 * (b_in + b_out))
    plain, first, second = (float(np.sum(weight * below**n / width)) for n in range(3))
    return SlotBody(plain, 1.0 - first / plain, second - first**2 / plain)


def body_of_profile(widths: Array, step: float) -> SlotBody:
    """Return a body from the widths of equal layers, bottom first, and their height [m].

    Notes
    -----
    The integrals of `slot_body` as sums; the potential's profile is that without current.
    """
    area = np.concatenate([[0.0], np.cumsum(widths)])
    below = 0.5 * (area[1:] + area[:-1]) / area[-1]
    plain, first, second = (float(np.sum(step * below**n / widths)) for n in range(3))
    way = np.concatenate([[0.0], np.cumsum(1.0 / widths)])
    heights = np.linspace(0.0, 1.0, len(way))
    return SlotBody(plain, 1.0 - first / plain, second - first**2 / plain, (heights, way / way[-1]))
