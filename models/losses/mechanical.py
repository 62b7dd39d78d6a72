"""Friction of the rotor: its bearings and the air around it."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.bearings import bearing_friction, grease_viscosity
from models.machine import Machine
from models.thermal.fluids import Fluid, air

Array = NDArray[np.float64]


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
    machine: Machine, speed: ArrayLike, *, rotor_mass: float, temperature: float = 80.0,
    bearing_temperature: float = 80.0,
) -> MechanicalLoss:  # fmt: skip
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
    bearing_temperature : float
        Of the grease [degC].

    Returns
    -------
    MechanicalLoss
        Arrays of shape (...) [W].
    """
    w = np.abs(np.asarray(speed, dtype=float))
    r = machine.rotor
    fluid = air(temperature)
    return MechanicalLoss(
        bearings=bearing_friction(
            w,
            shaft_radius=r.shaft_radius,
            rotor_mass=rotor_mass,
            viscosity=grease_viscosity(
                float(machine.parameters["grease_viscosity"]), bearing_temperature
            ),
        ),
        gap=gap_windage(
            w, radius=r.outer_radius, gap=machine.air_gap, length=machine.stack_length, fluid=fluid
        ),
        ends=end_windage(w, radius=r.outer_radius, inner_radius=r.shaft_radius, fluid=fluid),
    )


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
