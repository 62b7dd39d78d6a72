"""What holds buried magnets in their pockets against the centrifugal force."""

from math import inf

import numpy as np

from models.machine import InteriorRotor, LayeredRotor, Machine, rotor_as
from models.mechanical.inertia import polygon_moments

GLUE_STRENGTH = 8e6
"""Shear strength of the glue, hot [Pa] (common practice, no source: epoxy 15 to 25 MPa cold, a
third to a half of that at 140 degC)."""
FRICTION = 0.1
"""Friction of a coated magnet on sheet edges (common practice, no source)."""
LARGEST = 1000.0
"""Largest factor stated; it also stands for a rotor without magnets."""


def magnet_retention_factor(machine: Machine, speed: float) -> float:
    """Return what holds a buried magnet along its pocket over what pulls it there.

    Parameters
    ----------
    machine : Machine
        A machine with buried magnets.
    speed : float
        [rad/s], > 0; overspeed as a rule.

    Returns
    -------
    float
        (2 b tau + mu f_n) / f_t per length of magnet: glue on both faces of width b and friction
        on the outer wall, against the share of the centrifugal force along the leg. The share
        across it, f_n, presses the magnet on iron. Below 1 the magnet must be held by a nose in
        the pocket, which the drawn section does not have. Moulded magnets are held all round.
        The least over the layers of magnets, at most `LARGEST`.

    Notes
    -----
    Closed form, a point mass at the magnet's centroid; glue shear is taken as even. No published
    check is known for it.
    """
    rotor = machine.rotor
    if isinstance(rotor, LayeredRotor):
        blocks = [b.magnet_corners for b in rotor.magnet_barriers]
    else:
        blocks = [rotor_as(machine, InteriorRotor).magnet_corners]
    least = min((_block_factor(machine, c, speed) for c in blocks), default=LARGEST)
    return min(least, LARGEST)


def _block_factor(
    machine: Machine, magnet_corners: tuple[tuple[float, float], ...], speed: float
) -> float:
    magnet = machine.magnet
    corners = np.asarray(magnet_corners)
    area, (x, y), _ = polygon_moments(corners)
    along = corners[1] - corners[0]
    width = float(np.hypot(*along))
    along /= width
    pull = magnet.density * abs(area) * speed**2
    tangential = pull * float(along[0] * x + along[1] * y)
    normal = pull * abs(float(along[0] * y - along[1] * x))
    held = 2.0 * width * GLUE_STRENGTH + FRICTION * normal
    return held / tangential if tangential > 0.0 else inf
