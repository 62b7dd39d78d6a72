"""Oil cooling: properties of a thin drive oil, spray on end windings, flow through the shaft."""

from functools import cache
from math import expm1, log10, pi

import numpy as np

from models.constants import ZERO_CELSIUS
from models.losses.bearings import walther_viscosity
from models.thermal.conductances import duct_flow, duct_nusselt
from models.thermal.fluids import Fluid

_COOL = (40.0, 28.0)
_HOT = (90.0, 7.80)
"""Temperature [degC] and kinematic viscosity [mm^2/s] of a thin drive oil. Hot: 6.6 mPa s at
846 kg/m^3 (Energies 18(12) 3134, 2025, an oil-sprayed prototype); cool: common practice, no
source."""
DENSITY_AT_90 = 846.0
"""[kg/m^3], same source."""
SPECIFIC_HEAT_AT_90 = 1963.0
"""[J/(kg K)], same source."""
RELATIVE_DENSITY = 0.89
"""At 15 degC over water: follows from the density at 90 degC and its slope."""
DROPLET = 0.3e-3
"""Sauter mean diameter of the spray's drops [m] (common practice, no source: hollow-cone and jet
nozzles at 1 to 3 bar)."""
WETTED_SHARE = 0.5
"""Share of the end winding's surface that the spray wets (common practice, no source: oil from
above runs down one side)."""
ANNULUS = 2e-3
"""Radial width of the channel between the shaft's bore and the feed tube in it [m] (common
practice, no source)."""


@cache
def oil(temperature: float) -> Fluid:
    """Return the properties of a thin drive oil.

    Parameters
    ----------
    temperature : float
        0 to 150 degC.

    Returns
    -------
    Fluid

    Notes
    -----
    Viscosity by Walther's form (`models.losses.bearings.walther_viscosity`) through two points;
    conductivity 0.117 (1 - 0.00054 t) / s and the slope of the specific heat 3.4 / sqrt(s)
    J/(kg K^2) by Cragoe (NBS Misc. Publ. 97, 1929, from memory), s the relative density; density
    falls by 0.65 kg/(m^3 K) (from memory).
    """
    (cool, thick), (hot, thin) = _COOL, _HOT
    fall = log10(log10(thick + 0.7)) - log10(log10(thin + 0.7))
    slope = fall / log10((hot + ZERO_CELSIUS) / (cool + ZERO_CELSIUS))
    nu = walther_viscosity(temperature, at=hot, viscosity=1e-6 * thin, slope=slope)
    density = DENSITY_AT_90 - 0.65 * (temperature - 90.0)
    return Fluid(
        density=np.asarray(density),
        specific_heat=np.asarray(
            SPECIFIC_HEAT_AT_90 + 3.4 / RELATIVE_DENSITY**0.5 * (temperature - 90.0)
        ),
        conductivity=np.asarray(0.117 * (1.0 - 0.00054 * temperature) / RELATIVE_DENSITY),
        viscosity=np.asarray(nu * density),
    )


def spray_coefficient(volume_flux: float, fluid: Fluid, *, droplet: float = DROPLET) -> float:
    """Return the heat-transfer coefficient of a liquid spray without boiling [W/(m^2 K)].

    Parameters
    ----------
    volume_flux : float
        Volume flow over wetted area [m/s], >= 0.
    fluid : Fluid
        Liquid.
    droplet : float
        Sauter mean diameter of the drops [m].

    Returns
    -------
    float
        Nu k / d with Nu = 4.70 Re^0.61 Pr^0.32, Re = flux d / nu. Measured with thin liquids on
        flat surfaces; used for oil on end windings it is an extrapolation, +-50 % or worse.

    References
    ----------
    J. R. Rybicki and I. Mudawar, Int. J. Heat Mass Transfer 49(1-2) 5, 2006 (from memory). Oil on
    end windings: 300 to 2500 W/(m^2 K) (common practice); its strong growth with flow: T. Davin et
    al., Appl. Therm. Eng. 75, 1, 2015 (abstract read).
    """
    reynolds = volume_flux * droplet / float(fluid.kinematic_viscosity)
    nusselt = 4.70 * reynolds**0.61 * float(fluid.prandtl) ** 0.32
    return float(nusselt * float(fluid.conductivity) / droplet)


def entry_nusselt(graetz: float) -> float:
    """Return the mean Nusselt number of laminar flow in the thermal entry of a duct.

    Parameters
    ----------
    graetz : float
        Re Pr D_h / L, >= 0.

    Returns
    -------
    float
        3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3)).

    References
    ----------
    H. Hausen 1943; open library `ht`, function `laminar_entry_thermal_Hausen`.
    """
    return float(3.66 + 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2.0 / 3.0)))


def shaft_coefficient(
    fluid: Fluid, *, flow: float, bore_radius: float, length: float
) -> tuple[float, float]:
    """Return heat transfer between the shaft's bore and oil that flows along it.

    Parameters
    ----------
    fluid : Fluid
        Oil.
    flow : float
        Volume flow [m^3/s], > 0.
    bore_radius : float
        Radius of the shaft's bore [m], above `ANNULUS`.
    length : float
        Length of the bore [m].

    Returns
    -------
    tuple of 2 float
        Coefficient [W/(m^2 K)] and area of the bore [m^2].

    Notes
    -----
    Oil returns through the channel between a feed tube and the bore: laminar with a thermal
    entry (Hausen), or turbulent (Gnielinski), whichever is more. Rotation is left out: it raises
    the transfer of a laminar flow and lowers that of a turbulent one somewhat (G. Reich and H.
    Beer, Int. J. Heat Mass Transfer 32(3) 551, 1989, from memory).
    """
    area = 2.0 * pi * bore_radius * length
    state = duct_flow(
        fluid, flow=flow, width=2.0 * pi * (bore_radius - 0.5 * ANNULUS), height=ANNULUS
    )
    diameter = 2.0 * ANNULUS
    reynolds = state.velocity * diameter / float(fluid.kinematic_viscosity)
    laminar = entry_nusselt(reynolds * state.prandtl * diameter / length)
    turbulent = float(duct_nusselt(reynolds, state.prandtl))
    return max(laminar, turbulent) * float(fluid.conductivity) / diameter, area


def flow_conductance(coefficient: float, area: float, fluid: Fluid, flow: float) -> float:
    """Return the conductance from a wall to the inlet of a flow that warms along it [W/K].

    Parameters
    ----------
    coefficient, area : float
        [W/(m^2 K)], [m^2].
    fluid : Fluid
        Liquid.
    flow : float
        [m^3/s], > 0.

    Returns
    -------
    float
        m c (1 - exp(-h A / (m c))): exact for a wall of one temperature; h A for a strong flow,
        never more than m c.
    """
    rate = flow * float(fluid.density) * float(fluid.specific_heat)
    return -rate * expm1(-coefficient * area / rate)
