"""Heat-transfer closed forms: duct, slot, contacts."""

from dataclasses import dataclass
from functools import cache
from math import log, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.duty import Cooling
from models.thermal.fluids import Fluid, water_glycol

Array = NDArray[np.float64]

LAMINAR_NUSSELT = 4.36
"""Fully developed laminar duct flow at uniform heat flux (round duct; a rectangle of the usual
shapes lies between 3.6 and 5)."""


def friction_factor(reynolds: ArrayLike) -> Array:
    """Return Petukhov's Darcy friction factor of a smooth duct, (0.79 ln Re - 1.64)^-2."""
    return np.asarray((0.79 * np.log(np.asarray(reynolds, dtype=float)) - 1.64) ** -2.0)


def gnielinski(reynolds: ArrayLike, prandtl: ArrayLike, friction: ArrayLike) -> Array:
    """Return Gnielinski's Nusselt number of turbulent duct flow.

    Parameters
    ----------
    reynolds, prandtl, friction : array_like
        On hydraulic diameter, 3000 < Re < 5e6, 0.5 < Pr < 2000; Darcy friction factor.

    Returns
    -------
    ndarray
        (f/8)(Re - 1000) Pr / (1 + 12.7 (f/8)^0.5 (Pr^(2/3) - 1)), within 10 %.

    References
    ----------
    V. Gnielinski, Int. Chem. Eng. 16, 359, 1976; open library `ht`, function
    `turbulent_Gnielinski`.
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    eighth = np.asarray(friction, dtype=float) / 8.0
    return np.asarray(
        eighth * (re - 1000.0) * pr / (1.0 + 12.7 * np.sqrt(eighth) * (pr ** (2.0 / 3.0) - 1.0))
    )


def duct_nusselt(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Return the Nusselt number of a smooth duct over all flow regimes.

    Laminar below Re = 2300, Gnielinski above 4000, and linear in Re between (Gnielinski, Int. J.
    Heat Mass Transfer 63, 134, 2013, from memory), so that it grows with flow without a step.
    """
    re = np.asarray(reynolds, dtype=float)
    share = np.clip((re - 2300.0) / 1700.0, 0.0, 1.0)
    turbulent = np.maximum(re, 4000.0)
    upper = gnielinski(turbulent, prandtl, friction_factor(turbulent))
    return np.asarray((1.0 - share) * LAMINAR_NUSSELT + share * upper)


@dataclass(frozen=True)
class JacketFlow:
    """Flow and heat transfer in the jacket duct.

    Attributes
    ----------
    velocity, hydraulic_diameter : float
        [m/s], [m].
    reynolds, prandtl : float
        Dimensionless.
    coefficient : float
        Heat-transfer coefficient at the duct wall [W/(m^2 K)].
    pressure_gradient : float
        Pressure drop per length of straight duct [Pa/m].
    capacity_rate : float
        Mass flow times specific heat [W/K].
    """

    velocity: float
    hydraulic_diameter: float
    reynolds: float
    prandtl: float
    coefficient: float
    pressure_gradient: float
    capacity_rate: float


def duct_flow(fluid: Fluid, *, flow: float, width: float, height: float) -> JacketFlow:
    """Return flow and heat transfer in a rectangular duct.

    Parameters
    ----------
    fluid : Fluid
        Properties at mean temperature.
    flow : float
        Volume flow [m^3/s], > 0.
    width, height : float
        Section [m].

    Returns
    -------
    JacketFlow
        For fully developed flow in a smooth, straight duct (bends of a helix transfer more).
    """
    diameter = 2.0 * width * height / (width + height)
    velocity = flow / (width * height)
    reynolds = velocity * diameter / float(fluid.kinematic_viscosity)
    prandtl = float(fluid.prandtl)
    friction = 64.0 / reynolds if reynolds < 2300.0 else float(friction_factor(reynolds))
    return JacketFlow(
        velocity=velocity,
        hydraulic_diameter=diameter,
        reynolds=reynolds,
        prandtl=prandtl,
        coefficient=float(duct_nusselt(reynolds, prandtl)) * float(fluid.conductivity) / diameter,
        pressure_gradient=friction / diameter * 0.5 * float(fluid.density) * velocity**2,
        capacity_rate=flow * float(fluid.density) * float(fluid.specific_heat),
    )


@cache
def jacket_flow(cooling: Cooling) -> JacketFlow:
    """Return the jacket's flow at the coolant's inlet temperature."""
    fluid = water_glycol(cooling.coolant_temperature, cooling.glycol_share)
    return duct_flow(
        fluid, flow=cooling.coolant_flow, width=cooling.duct_width, height=cooling.duct_height
    )


def hashin_shtrikman(share: float, conductor: float, filler: float) -> float:
    """Return the conductivity across round wires in a filler.

    Parameters
    ----------
    share : float
        Volume share of conductor, 0 to 1.
    conductor, filler : float
        Conductivities [W/(m K)].

    Returns
    -------
    float
        k_p ((1 + v) k_c + (1 - v) k_p) / ((1 - v) k_c + (1 + v) k_p) [W/(m K)]; +-20 % on real
        windings.

    References
    ----------
    N. Simpson, R. Wrobel, P. H. Mellor, IEEE Trans. Ind. Appl. 49(6) 2505, 2013,
    doi:10.1109/TIA.2013.2263271 (from memory).
    """
    c, p, v = conductor, filler, share
    return p * ((1.0 + v) * c + (1.0 - v) * p) / ((1.0 - v) * c + (1.0 + v) * p)


def series_conductivity(share: float, conductor: float, filler: float) -> float:
    """Return the conductivity across layers of conductor (share of thickness) and filler."""
    return 1.0 / (share / conductor + (1.0 - share) / filler)


def tube(conductivity: float, *, inner: float, outer: float, length: float) -> float:
    """Return the radial conductance of a tube, 2 pi k l / ln(r_o / r_i) [W/K] (exact)."""
    return 2.0 * pi * conductivity * length / log(outer / inner)


def in_series(*conductances: float) -> float:
    """Return the conductance of several in series [W/K]."""
    return 1.0 / sum(1.0 / g for g in conductances)
