"""Stress and growth of a rotating ring of constant thickness (plane stress, elastic)."""

from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def hoop_stress(
    radius: ArrayLike, *, inner: float, outer: float, density: float, speed: float, poisson: float
) -> Array:
    """Return the hoop stress of a rotating ring.

    Parameters
    ----------
    radius : array_like, shape (...)
        Radii between `inner` and `outer` [m].
    inner, outer : float
        Bore and outer radius [m], 0 < inner < outer.
    density : float
        [kg/m^3].
    speed : float
        [rad/s].
    poisson : float
        Poisson's ratio; nu / (1 - nu) gives plane strain.

    Returns
    -------
    ndarray, shape (...)
        (3 + nu)/8 rho omega^2 (a^2 + b^2 + a^2 b^2 / r^2 - (1 + 3 nu)/(3 + nu) r^2) [Pa];
        greatest at the bore.

    References
    ----------
    Timoshenko and Goodier, *Theory of Elasticity*, art. 32; Roark, ch. 16 (from memory).
    """
    r, nu = np.asarray(radius, dtype=float), poisson
    load = (3.0 + nu) / 8.0 * density * speed**2
    return np.asarray(
        load
        * (inner**2 + outer**2 + (inner * outer / r) ** 2 - (1.0 + 3.0 * nu) / (3.0 + nu) * r**2)
    )


def radial_stress(
    radius: ArrayLike, *, inner: float, outer: float, density: float, speed: float, poisson: float
) -> Array:
    """Return the radial stress of a rotating ring.

    Parameters
    ----------
    radius, inner, outer, density, speed, poisson
        As for `hoop_stress`.

    Returns
    -------
    ndarray, shape (...)
        (3 + nu)/8 rho omega^2 (a^2 + b^2 - a^2 b^2 / r^2 - r^2) [Pa]; zero at both edges,
        greatest at sqrt(a b).
    """
    r = np.asarray(radius, dtype=float)
    load = (3.0 + poisson) / 8.0 * density * speed**2
    return np.asarray(load * (inner**2 + outer**2 - (inner * outer / r) ** 2 - r**2))


def largest_stresses(
    *, inner: float, outer: float, density: float, speed: float, poisson: float
) -> tuple[float, float]:
    """Return the greatest hoop stress (at the bore) and radial stress (at sqrt(a b)) [Pa]."""
    ring = {
        "inner": inner, "outer": outer, "density": density, "speed": speed, "poisson": poisson,
    }  # fmt: skip
    return float(hoop_stress(inner, **ring)), float(radial_stress(sqrt(inner * outer), **ring))


def rim_growth(
    *, inner: float, outer: float, density: float, speed: float, poisson: float,
    youngs_modulus: float, pull: float = 0.0,
) -> float:  # fmt: skip
    """Return the radial growth of a ring's outer edge.

    Parameters
    ----------
    inner, outer, density, speed, poisson
        As for `hoop_stress`.
    youngs_modulus : float
        [Pa].
    pull : float
        Radial tension spread over the outer edge [Pa].

    Returns
    -------
    float
        u(b) = b/E (sigma_theta - nu sigma_r) [m] by rotation, plus Lamé's solution for the pull.
    """
    spin = float(
        hoop_stress(outer, inner=inner, outer=outer, density=density, speed=speed, poisson=poisson)
    )
    square = (outer**2 + inner**2) / (outer**2 - inner**2)
    return outer / youngs_modulus * (spin + pull * (square - poisson))
