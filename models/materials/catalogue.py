"""Materials as frozen data. `models.materials.load` reads them from the package's own files."""

from dataclasses import dataclass

from models.constants import MU0
from models.materials.reluctivity import ReluctivityTable


@dataclass(frozen=True)
class LossFit:
    """Iron loss of a sheet per kilogram, fitted to the maker's table.

    P(B, f) = hysteresis f B^(alpha + beta B) + classical (f B)^2 + excess (f B)^1.5   [W/kg]

    Attributes
    ----------
    hysteresis, alpha, beta : float
        Hysteresis coefficient [W/kg/Hz at 1 T] and exponents.
    classical : float
        Classical eddy coefficient [W/kg/Hz^2/T^2]: pi^2 d^2 / (6 rho density).
    excess : float
        Excess coefficient [W/kg/(Hz T)^1.5].
    fit_error : float
        Largest relative error of the fit over its table, for the stated range.
    source : str
        Where the table comes from and the range of the fit.
    """

    hysteresis: float
    alpha: float
    beta: float
    classical: float
    excess: float
    fit_error: float
    source: str


@dataclass(frozen=True)
class Lamination:
    """An electrical-steel grade. SI units."""

    name: str
    thickness: float
    density: float
    resistivity: float
    yield_strength: float
    tensile_strength: float
    youngs_modulus: float
    poisson_ratio: float
    thermal_conductivity: float
    specific_heat: float
    magnetisation: ReluctivityTable
    loss: LossFit
    build_factor: float
    source: str


@dataclass(frozen=True)
class Magnet:
    """A permanent-magnet grade. SI units, temperatures in degC.

    Attributes
    ----------
    remanence_20, coercivity_20 : float
        B_r [T] and intrinsic coercivity H_cJ [A/m] at 20 degC.
    remanence_slope, coercivity_slope : float
        Relative change per kelvin (negative for falling values).
    recoil_permeability : float
        Relative.
    squareness : float
        H_k / H_cJ: where the recoil line ends.
    density, resistivity, specific_heat, thermal_conductivity : float
        [kg/m^3], [ohm m], [J/(kg K)], [W/(m K)].
    heavy_rare_earth_share : float
        Mass share of Dy + Tb.
    temperature_limit : float
        Highest working temperature of the grade [degC].
    """

    name: str
    remanence_20: float
    remanence_slope: float
    coercivity_20: float
    coercivity_slope: float
    recoil_permeability: float
    squareness: float
    density: float
    resistivity: float
    specific_heat: float
    thermal_conductivity: float
    heavy_rare_earth_share: float
    temperature_limit: float
    source: str

    def remanence(self, temperature: float) -> float:
        """Return remanence [T] at a temperature [degC]."""
        return self.remanence_20 * (1.0 + self.remanence_slope * (temperature - 20.0))

    def coercivity(self, temperature: float) -> float:
        """Return intrinsic coercivity H_cJ [A/m] at a temperature [degC], at least zero."""
        return max(0.0, self.coercivity_20 * (1.0 + self.coercivity_slope * (temperature - 20.0)))

    def knee(self, temperature: float) -> float:
        """Return the flux density [T] at which the recoil line ends (the knee)."""
        h_knee = self.squareness * self.coercivity(temperature)
        return self.remanence(temperature) - MU0 * self.recoil_permeability * h_knee


@dataclass(frozen=True)
class Conductor:
    """A winding conductor material. SI units."""

    name: str
    resistivity_20: float
    resistivity_slope: float
    density: float
    specific_heat: float
    thermal_conductivity: float
    source: str

    def resistivity(self, temperature: float) -> float:
        """Return resistivity [ohm m] at a temperature [degC]."""
        return self.resistivity_20 * (1.0 + self.resistivity_slope * (temperature - 20.0))
