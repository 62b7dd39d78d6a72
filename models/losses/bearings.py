"""Friction of greased ball bearings, with the viscosity of the grease's base oil."""

from math import log10, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import GRAVITY, ZERO_CELSIUS

Array = NDArray[np.float64]

# Bearings are not drawn: one deep-groove ball bearing at each end, sized from the shaft.
SEAT_RATIO = 0.75
"""Bearing bore over shaft diameter in the stack (common practice, no source)."""
MEAN_RATIO = 1.45
"""Mean over bore diameter of light and extra-light deep-groove series (light series of 20 to 30 mm
bore in a public table: 1.53 to 1.68; extra-light about 1.4, from memory)."""
PRELOAD_PER_BORE = 8e3
"""Axial spring preload over bore diameter [N/m] (from memory: 5 to 10 N per mm)."""
STATIC_RATING_PER_AREA = 5.3e6
"""Static load rating over squared mean diameter of deep-groove bearings [N/m^2] (light series of 10
to 30 mm bore in a public table: 5.3e6 to 6.0e6)."""
GREASE_FACTOR = 1.5
"""f0 of greased deep-groove bearings, 0.7 to 2 (Harris, from memory)."""
WALTHER_SLOPE = 3.55
"""Slope of Walther's form: a mineral oil of 100 mm^2/s at 40 and 11.2 at 100 degC (viscosity index
about 98); thinner classes up to 3.75, synthetic oils from 3.2 (from memory)."""


def walther_viscosity(
    temperature: float, *, at: float, viscosity: float, slope: float = WALTHER_SLOPE
) -> float:
    """Return the kinematic viscosity of an oil [m^2/s].

    Parameters
    ----------
    temperature : float
        [degC].
    at, viscosity : float
        Temperature [degC] at which a kinematic viscosity [m^2/s] is known.
    slope : float
        m of lg lg(nu + 0.7) = a - m lg T, nu in mm^2/s, T in K; > 0.

    References
    ----------
    ASTM D341 (from memory). Within a few per cent between 0 and 150 degC.
    """
    w = log10(log10(1e6 * viscosity + 0.7))
    w -= slope * log10((temperature + ZERO_CELSIUS) / (at + ZERO_CELSIUS))
    return float(1e-6 * (10.0 ** (10.0**w) - 0.7))


def grease_viscosity(base_oil: float, temperature: float) -> float:
    """Return the viscosity of a grease's base oil at a temperature [degC] from that at 40 degC.

    Both in m^2/s. Greases are named by it; friction follows the base oil once the grease has
    settled (common practice).
    """
    return walther_viscosity(temperature, at=40.0, viscosity=base_oil)


def bearing_friction(
    speed: Array, *, shaft_radius: float, rotor_mass: float, viscosity: float
) -> Array:
    """Return the friction of both bearings [W].

    Parameters
    ----------
    speed : ndarray, shape (...)
        [rad/s], >= 0.
    shaft_radius : float
        Of the shaft in the stack [m].
    rotor_mass : float
        With shaft [kg]; its weight is shared by both bearings.
    viscosity : float
        As for `bearing_torque`.
    """
    bore = SEAT_RATIO * 2.0 * shaft_radius
    torque = bearing_torque(
        speed,
        mean_diameter=MEAN_RATIO * bore,
        radial_load=0.5 * rotor_mass * GRAVITY,
        axial_load=PRELOAD_PER_BORE * bore,
        viscosity=viscosity,
    )
    return np.asarray(2.0 * speed * torque)


def bearing_torque(
    speed: ArrayLike, *, mean_diameter: float, radial_load: float, axial_load: float,
    viscosity: float, lubrication_factor: float = GREASE_FACTOR,
) -> Array:  # fmt: skip
    """Return the friction torque of one deep-groove ball bearing.

    Parameters
    ----------
    speed : array_like, shape (...)
        [rad/s], >= 0.
    mean_diameter : float
        Mean of bore and outside diameter [m].
    radial_load, axial_load : float
        [N].
    viscosity : float
        Kinematic, of the grease's base oil at working temperature [m^2/s].
    lubrication_factor : float
        f0.

    Returns
    -------
    ndarray, shape (...)
        [N m].

    Notes
    -----
    M = M_0 + M_1. Viscous: M_0 = 1e-7 f0 (nu n)^(2/3) d_m^3 for nu n >= 2000, else
    160e-7 f0 d_m^3 (N mm, mm^2/s, rpm, mm). Load: M_1 = f1 P_1 d_m with f1 = 0.0009
    (P_0/C_0)^0.55, P_1 = max(3 F_a - 0.1 F_r, F_r), P_0 = max(0.6 F_r + 0.5 F_a, F_r). Palmgren's
    empirical form, +-30 % or worse for grease (churning at start is higher).

    References
    ----------
    A. Palmgren 1957; T. A. Harris, *Rolling Bearing Analysis*, ch. on friction (from memory). The
    viscous term and its limit at 2000 stand so in an open manuscript on axle-box bearings, Vehicle
    System Dynamics 58(10), 2020, doi:10.1080/00423114.2019.1645340, eqs. 7-11 (read in a note that
    quotes them); ISO 15312 uses the same form for thermal speed ratings (from memory).
    """
    w = np.asarray(speed, dtype=float)
    d_mm = 1e3 * mean_diameter
    nu_n = viscosity * 1e6 * w * 60.0 / (2.0 * pi)
    viscous = 1e-7 * lubrication_factor * np.maximum(nu_n, 2000.0) ** (2.0 / 3.0) * d_mm**3
    # 2000^(2/3) = 158.7: the slow branch is written as the round 160 in the source.
    static = max(0.6 * radial_load + 0.5 * axial_load, radial_load)
    rating = STATIC_RATING_PER_AREA * mean_diameter**2
    dynamic = max(3.0 * axial_load - 0.1 * radial_load, radial_load)
    load = 0.0009 * (static / rating) ** 0.55 * dynamic * d_mm
    return np.asarray(1e-3 * (viscous + load))
