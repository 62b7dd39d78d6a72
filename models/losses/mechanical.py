"""Bearing friction and air friction of the rotor."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import GRAVITY
from models.machine import Machine
from models.thermal.fluids import Fluid, air

Array = NDArray[np.float64]

# Bearings are not drawn: one deep-groove ball bearing at each end, sized from the shaft.
SEAT_RATIO = 0.75
"""Bearing bore over shaft diameter in the stack (common practice, no source)."""
MEAN_RATIO = 1.45
"""Mean over bore diameter of light and extra-light deep-groove series (ISO 15 sizes give 1.35
to 1.5, from memory)."""
PRELOAD_PER_BORE = 8e3
"""Axial spring preload over bore diameter [N/m] (from memory: 5 to 10 N per mm)."""
STATIC_RATING_PER_AREA = 5.3e6
"""Static load rating over squared mean diameter of deep-groove bearings [N/m^2] (from memory)."""
GREASE_VISCOSITY = 20e-6
"""Kinematic viscosity of a high-speed grease's base oil at working temperature [m^2/s] (common
practice, no source)."""
GREASE_FACTOR = 1.5
"""f0 of greased deep-groove bearings, 0.7 to 2 (Harris, from memory)."""


@dataclass(frozen=True, eq=False)
class MechanicalLoss:
    """Friction by place [W], shapes as the speed given.

    Attributes
    ----------
    bearings : ndarray
        Both bearings.
    gap : ndarray
        Air friction in the gap.
    ends : ndarray
        Air friction on both end faces.
    """

    bearings: Array
    gap: Array
    ends: Array

    @property
    def total(self) -> Array:
        """Sum [W]."""
        return self.bearings + self.gap + self.ends


def mechanical_loss(
    machine: Machine, speed: ArrayLike, *, rotor_mass: float, temperature: float = 80.0
) -> MechanicalLoss:
    """Return bearing and air friction.

    Parameters
    ----------
    machine : Machine
        The machine.
    speed : array_like, shape (...)
        Mechanical speed [rad/s]; its size counts.
    rotor_mass : float
        Mass of the rotor with shaft [kg]: radial bearing load.
    temperature : float
        Air in the machine [degC].

    Returns
    -------
    MechanicalLoss
        Arrays of shape (...) [W].
    """
    w = np.abs(np.asarray(speed, dtype=float))
    r = machine.rotor
    bore = SEAT_RATIO * 2.0 * r.shaft_radius
    fluid = air(temperature)
    return MechanicalLoss(
        bearings=2.0
        * w
        * bearing_torque(
            w,
            mean_diameter=MEAN_RATIO * bore,
            radial_load=0.5 * rotor_mass * GRAVITY,
            axial_load=PRELOAD_PER_BORE * bore,
        ),
        gap=gap_windage(
            w, radius=r.outer_radius, gap=machine.air_gap, length=machine.stack_length, fluid=fluid
        ),
        ends=end_windage(w, radius=r.outer_radius, inner_radius=r.shaft_radius, fluid=fluid),
    )


def bearing_torque(
    speed: ArrayLike, *, mean_diameter: float, radial_load: float, axial_load: float,
    viscosity: float = GREASE_VISCOSITY, lubrication_factor: float = GREASE_FACTOR,
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
        Kinematic, at working temperature [m^2/s].
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
    A. Palmgren 1957; T. A. Harris, *Rolling Bearing Analysis*, ch. on friction (from memory).
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


def gap_friction_coefficient(reynolds: ArrayLike, gap_ratio: float) -> Array:
    """Return C_M of a rotating cylinder in a cylinder.

    Parameters
    ----------
    reynolds : array_like, shape (...)
        Couette Reynolds number rho omega r delta / mu, > 0.
    gap_ratio : float
        delta / r.

    Returns
    -------
    ndarray, shape (...)
        C_M = T / (pi/2 rho omega^2 r^4 l).

    Notes
    -----
    (delta/r)^0.3 times 10/Re (Re < 64), 2 Re^-0.6 (to 500), 1.03 Re^-0.5 (to 1e4) and
    0.065 Re^-0.2 above; the branches meet within 6 %. Smooth walls.

    References
    ----------
    E. Bilgen and R. Boulos, J. Fluids Eng. 95(1) 122, 1973 (abstract read; coefficients from
    memory).
    """
    re = np.maximum(np.asarray(reynolds, dtype=float), 1e-9)
    shape = np.select(
        [re < 64.0, re < 500.0, re < 1e4],
        [10.0 / re, 2.0 * re**-0.6, 1.03 * re**-0.5],
        0.065 * re**-0.2,
    )
    return np.asarray(gap_ratio**0.3 * shape)


def gap_windage(
    speed: ArrayLike, *, radius: float, gap: float, length: float, fluid: Fluid
) -> Array:
    """Return air friction in the gap: C_M pi/2 rho omega^3 r^4 l.

    Parameters
    ----------
    speed : array_like, shape (...)
        [rad/s].
    radius, gap, length : float
        Rotor radius, radial gap and length [m].
    fluid : Fluid
        Fluid in the gap.

    Returns
    -------
    ndarray, shape (...)
        [W].
    """
    w = np.abs(np.asarray(speed, dtype=float))
    re = w * radius * gap / fluid.kinematic_viscosity
    c = gap_friction_coefficient(re, gap / radius)
    return np.asarray(c * 0.5 * pi * fluid.density * w**3 * radius**4 * length)


def end_windage(speed: ArrayLike, *, radius: float, inner_radius: float, fluid: Fluid) -> Array:
    """Return air friction on both end faces of the rotor.

    Parameters
    ----------
    speed : array_like, shape (...)
        [rad/s].
    radius, inner_radius : float
        Outer radius of the face and radius of the shaft [m].
    fluid : Fluid
        Fluid around.

    Returns
    -------
    ndarray, shape (...)
        C_M / 2 rho omega^3 (r^5 - r_i^5) [W]; C_M = 3.87 Re^-0.5 below Re = 3e5, 0.146 Re^-0.2
        above, Re = rho omega r^2 / mu.

    References
    ----------
    Free disc, laminar and turbulent: Bird, Stewart, Lightfoot, *Transport Phenomena*, problem on
    the rotating disc (0.616 pi and 0.073 per two sides); for machine ends Wendt 1933 and
    J. E. Vrancik, NASA TN D-4849, 1968 (from memory). A near wall lowers it by up to half.
    """
    w = np.abs(np.asarray(speed, dtype=float))
    re = np.maximum(w * radius**2 / fluid.kinematic_viscosity, 1e-9)
    c = np.where(re < 3e5, 3.87 * re**-0.5, 0.146 * re**-0.2)
    return np.asarray(0.5 * c * fluid.density * w**3 * (radius**5 - inner_radius**5))
