"""What holds buried magnets in their pockets against the centrifugal force."""

from math import inf

import numpy as np

from models.machine import InteriorRotor, Machine, rotor_as
from models.mechanical.inertia import polygon_moments

GLUE_STRENGTH = 8e6
"""Shear strength of the glue, hot [Pa] (common practice, no source: epoxy 15 to 25 MPa cold, a
third to a half of that at 140 degC)."""
FRICTION = 0.1
"""Friction of a coated magnet on sheet edges (common practice, no source)."""


def magnet_retention_factor(machine: Machine, speed: float) -> float:
    """Return what holds a buried magnet along its pocket over what pulls it there.

    Parameters
    ----------
    machine : Machine
        A machine with an interior rotor.
    speed : float
        [rad/s], > 0; overspeed as a rule.

    Returns
    -------
    float
        (2 b tau + mu f_n) / f_t per length of magnet: glue on both faces of width b and friction
        on the outer wall, against the share of the centrifugal force along the leg. The share
        across it, f_n, presses the magnet on iron. Below 1 the magnet must be held by a nose in
        the pocket, which the drawn section does not have. Moulded magnets are held all round.

    Notes
    -----
    Closed form, a point mass at the magnet's centroid; glue shear is taken as even. No published
    check is known for it.
    """
    r, magnet = rotor_as(machine, InteriorRotor), machine.magnet
    corners = np.asarray(r.magnet_corners)
    area, (x, y), _ = polygon_moments(corners)
    along = corners[1] - corners[0]
    along /= np.hypot(*along)
    pull = magnet.density * abs(area) * speed**2
    tangential = pull * float(along[0] * x + along[1] * y)
    normal = pull * abs(float(along[0] * y - along[1] * x))
    held = 2.0 * r.magnet_width * GLUE_STRENGTH + FRICTION * normal
    return held / tangential if tangential > 0.0 else inf
