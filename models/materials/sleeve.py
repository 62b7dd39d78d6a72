"""Materials of retaining sleeves."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from models.errors import InvalidInputError
from models.nomenclature import nearest


@dataclass(frozen=True)
class Sleeve:
    """A sleeve material; along means around the rotor.

    Attributes
    ----------
    name : str
    density : float
        [kg/m^3].
    youngs_modulus, poisson_ratio : float
        Along [Pa], [-].
    strength_20 : float
        Yield strength, or tensile design strength of a wound sleeve, along, at 20 degC [Pa].
    strength_slope : float
        Relative change per kelvin [1/K].
    expansion : float
        Thermal expansion along [1/K].
    resistivity : float
        In the axial direction [ohm m].
    thermal_conductivity : float
        Through the thickness [W/(m K)].
    price_row : str
        Row of the price list.
    """

    name: str
    density: float
    youngs_modulus: float
    poisson_ratio: float
    strength_20: float
    strength_slope: float
    expansion: float
    resistivity: float
    thermal_conductivity: float
    price_row: str

    def strength(self, temperature: float) -> float:
        """Return the strength [Pa] at a temperature [degC]."""
        return self.strength_20 * (1.0 + self.strength_slope * (temperature - 20.0))


@cache
def _grades() -> dict[str, Sleeve]:
    text = files("models.materials").joinpath("data/sleeves.toml").read_text(encoding="utf-8")
    return {
        name: Sleeve(
            name=name,
            density=v["density_kg_per_m3"],
            youngs_modulus=v["youngs_modulus_GPa"] * 1e9,
            poisson_ratio=v["poisson_ratio"],
            strength_20=v["strength_MPa"] * 1e6,
            strength_slope=v["strength_percent_per_K"] / 100.0,
            expansion=v["expansion_per_K"],
            resistivity=v["resistivity_microohm_m"] * 1e-6,
            thermal_conductivity=v["thermal_conductivity_W_per_m_K"],
            price_row=v["price_row"],
        )
        for name, v in tomllib.loads(text)["grades"].items()
    }


def sleeve_names() -> tuple[str, ...]:
    """Return the names of all sleeve materials, in the order of the data file."""
    return tuple(_grades())


def sleeve(name: str) -> Sleeve:
    """Return a sleeve material.

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    grades = _grades()
    if name not in grades:
        close = nearest(name, grades)
        raise InvalidInputError(
            f"unknown sleeve material {name!r}; "
            + (f"did you mean {close!r}?" if close else f"allowed: {', '.join(grades)}")
        )
    return grades[name]
