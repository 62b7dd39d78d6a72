"""Properties of the coolant (water and ethylene glycol) and of air."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import ZERO_CELSIUS
from models.errors import InvalidInputError

Array = NDArray[np.float64]

# Rows: volume share of glycol 0, 0.1 .. 0.6; columns: 0, 20 .. 100 degC.
# Glycol: ASHRAE Handbook Fundamentals tables, ethylene glycol by volume; water: IAPWS-95. Both
# tabulated with the open property library CoolProp 8.0 (fluids INCOMP::AEG and Water, 2 bar).
_SHARES = np.arange(0.0, 0.65, 0.1)
_TEMPERATURES = np.arange(0.0, 101.0, 20.0)
_DENSITY = np.array([
    [999.89, 998.25, 992.26, 983.24, 971.83, 958.40],
    [1018.7, 1013.3, 1006.0, 996.71, 985.50, 972.32],
    [1035.7, 1029.7, 1021.8, 1012.0, 1000.2, 986.47],
    [1051.8, 1045.2, 1036.8, 1026.4, 1014.0, 999.69],
    [1066.8, 1059.7, 1050.6, 1039.6, 1026.6, 1011.7],
    [1081.1, 1073.3, 1063.7, 1052.0, 1038.5, 1023.0],
    [1094.6, 1086.3, 1076.0, 1063.7, 1049.5, 1033.3],
])  # fmt: skip
_SPECIFIC_HEAT = np.array([
    [4218.9, 4183.7, 4179.2, 4184.7, 4196.5, 4215.4],
    [3937.0, 3971.9, 4006.7, 4041.6, 4076.6, 4111.8],
    [3768.7, 3814.7, 3860.8, 3906.7, 3952.8, 3998.9],
    [3588.7, 3645.4, 3702.1, 3758.8, 3815.5, 3872.2],
    [3401.0, 3468.1, 3535.2, 3602.3, 3669.3, 3736.4],
    [3203.4, 3280.6, 3357.8, 3435.1, 3512.3, 3589.7],
    [2996.7, 3083.8, 3171.0, 3258.2, 3345.4, 3432.8],
])  # fmt: skip
_CONDUCTIVITY = np.array([
    [0.55575, 0.59807, 0.62854, 0.65105, 0.66705, 0.67727],
    [0.51080, 0.54476, 0.57182, 0.59211, 0.60580, 0.61305],
    [0.46796, 0.49686, 0.52003, 0.53752, 0.54939, 0.55573],
    [0.42918, 0.45351, 0.47311, 0.48799, 0.49816, 0.50363],
    [0.39470, 0.41491, 0.43128, 0.44379, 0.45241, 0.45713],
    [0.36379, 0.38032, 0.39379, 0.40417, 0.41145, 0.41562],
    [0.33622, 0.34944, 0.36031, 0.36883, 0.37502, 0.37889],
])  # fmt: skip
_VISCOSITY_MILLI = np.array([
    [1.7909, 1.0016, 0.65274, 0.46606, 0.35408, 0.28161],
    [2.0559, 1.2205, 0.79870, 0.56927, 0.43653, 0.35574],
    [3.0081, 1.6661, 1.0601, 0.74479, 0.55528, 0.42218],
    [4.1526, 2.1564, 1.3264, 0.91239, 0.66254, 0.47937],
    [5.9502, 2.9301, 1.7415, 1.1697, 0.83117, 0.58478],
    [8.2753, 3.8841, 2.2131, 1.4353, 0.99280, 0.68643],
    [12.027, 5.3062, 2.8184, 1.7080, 1.1187, 0.75020],
])  # fmt: skip


@dataclass(frozen=True)
class Fluid:
    """State of a fluid.

    Attributes
    ----------
    density : float or ndarray
        [kg/m^3].
    specific_heat : float or ndarray
        At constant pressure [J/(kg K)].
    conductivity : float or ndarray
        [W/(m K)].
    viscosity : float or ndarray
        Dynamic [Pa s].
    """

    density: Array
    specific_heat: Array
    conductivity: Array
    viscosity: Array

    @property
    def prandtl(self) -> Array:
        """Prandtl number."""
        return self.viscosity * self.specific_heat / self.conductivity

    @property
    def kinematic_viscosity(self) -> Array:
        """Kinematic viscosity [m^2/s]."""
        return self.viscosity / self.density


@cache
def water_glycol(temperature: float, glycol_share: float) -> Fluid:
    """Return the properties of a water and ethylene-glycol mixture.

    Parameters
    ----------
    temperature : float
        0 to 100 degC; the nearest end is used outside.
    glycol_share : float
        Volume share of glycol, 0 to 0.6.

    Returns
    -------
    Fluid

    Raises
    ------
    InvalidInputError
        Glycol share outside the table.

    Notes
    -----
    Bilinear in the table, viscosity in its logarithm: within 1.5 % of the table's source between
    the points (viscosity 3 %).
    """
    if not 0.0 <= glycol_share <= 0.6:
        raise InvalidInputError(
            f"coolant: glycol share {glycol_share:g} given, 0 to 0.6 by volume is allowed"
        )

    def at(table: Array) -> Array:
        columns = [np.interp(temperature, _TEMPERATURES, row) for row in table]
        return np.asarray(np.interp(glycol_share, _SHARES, columns))

    return Fluid(
        at(_DENSITY), at(_SPECIFIC_HEAT), at(_CONDUCTIVITY),
        np.asarray(1e-3 * np.exp(at(np.log(_VISCOSITY_MILLI)))),
    )  # fmt: skip


def air(temperature: ArrayLike) -> Fluid:
    """Return the properties of dry air at 1 atm.

    Parameters
    ----------
    temperature : array_like
        -50 to 250 degC.

    Returns
    -------
    Fluid

    Notes
    -----
    Ideal gas (287.05 J/(kg K)); viscosity by Sutherland's law (1.716e-5 Pa s at 273.15 K,
    110.4 K); conductivity in Sutherland's form (0.0241 W/(m K), 194 K). F. M. White, *Viscous
    Fluid Flow* (from memory).
    """
    kelvin = np.asarray(temperature, dtype=float) + ZERO_CELSIUS
    ratio = kelvin / 273.15
    viscosity = 1.716e-5 * ratio**1.5 * (273.15 + 110.4) / (kelvin + 110.4)
    conductivity = 0.0241 * ratio**1.5 * (273.15 + 194.0) / (kelvin + 194.0)
    return Fluid(
        101325.0 / (287.05 * kelvin), np.full_like(kelvin, 1007.0), conductivity, viscosity
    )
