"""Materials by name, read from the package's own data files."""

import csv
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.materials.catalogue import Conductor, Lamination, LossFit, Magnet
from models.materials.loss_fit import classical_coefficient, fit_loss_class, fit_loss_table
from models.materials.magnetisation import reluctivity_table
from models.nomenclature import nearest

Array = NDArray[np.float64]
Kind = Literal["lamination", "magnet", "conductor"]

KINDS: tuple[str, ...] = ("lamination", "magnet", "conductor")
REFERENCE_LAMINATION = "NO20-1200H"
"""Grade with a full loss table, whose loss shape grades known by class alone take over."""

# T, Hz: what teeth and yokes of a traction machine meet. Stopping at 1.5 T would fit better
# there (6 %) but leave the exponent to run away to +35 % at 1.9 T.
_FIT_RANGE = ((0.5, 1.9), (50.0, 1000.0))
_CLASS_UNCERTAINTY = 0.3


def names(kind: str) -> tuple[str, ...]:
    """Return the names of all grades of a kind, in the order of the data file.

    Parameters
    ----------
    kind : {"lamination", "magnet", "conductor"}
        Kind of material.

    Raises
    ------
    InvalidInputError
        For an unknown kind.
    """
    return tuple(_file(kind)["grades"])


def sources(kind: str, name: str) -> Mapping[str, str]:
    """Return where each property of a grade comes from, by key of the data file.

    Raises
    ------
    InvalidInputError
        For an unknown kind or name, with the nearest spelling.
    """
    return dict(_row(kind, name)[1])


@cache
def lamination(name: str) -> Lamination:
    """Return an electrical-steel grade.

    Parameters
    ----------
    name : str
        One of `names("lamination")`.

    Returns
    -------
    Lamination
        One shared object per name; its loss coefficients are fitted at the first call.

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    v, origin = _row("lamination", name)
    h, b = magnetisation_points(name)
    return Lamination(
        name=name,
        thickness=v["thickness_mm"] * 1e-3,
        density=v["density_kg_per_m3"],
        resistivity=v["resistivity_microohm_cm"] * 1e-8,
        yield_strength=v["yield_strength_MPa"] * 1e6,
        tensile_strength=v["tensile_strength_MPa"] * 1e6,
        youngs_modulus=v["youngs_modulus_GPa"] * 1e9,
        poisson_ratio=v["poisson_ratio"],
        thermal_conductivity=v["thermal_conductivity_W_per_m_K"],
        specific_heat=v["specific_heat_J_per_kg_K"],
        magnetisation=reluctivity_table(h, b, where=f"lamination {name}"),
        loss=_loss(name),
        build_factor=v["build_factor"],
        source=_text(origin),
    )


@cache
def magnet(name: str) -> Magnet:
    """Return a permanent-magnet grade.

    Parameters
    ----------
    name : str
        One of `names("magnet")`.

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    v, origin = _row("magnet", name)
    return Magnet(
        name=name,
        remanence_20=v["remanence_T"],
        remanence_slope=v["remanence_percent_per_K"] / 100.0,
        coercivity_20=v["coercivity_kA_per_m"] * 1e3,
        coercivity_slope=v["coercivity_percent_per_K"] / 100.0,
        recoil_permeability=v["recoil_permeability"],
        squareness=v["squareness"],
        density=v["density_kg_per_m3"],
        resistivity=v["resistivity_microohm_m"] * 1e-6,
        specific_heat=v["specific_heat_J_per_kg_K"],
        thermal_conductivity=v["thermal_conductivity_W_per_m_K"],
        heavy_rare_earth_share=v["heavy_rare_earth_percent"] / 100.0,
        temperature_limit=v["temperature_limit_degC"],
        source=_text(origin),
    )


@cache
def conductor(name: str) -> Conductor:
    """Return a winding conductor.

    Parameters
    ----------
    name : str
        One of `names("conductor")`.

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    v, origin = _row("conductor", name)
    return Conductor(
        name=name,
        resistivity_20=v["resistivity_microohm_m"] * 1e-6,
        resistivity_slope=v["resistivity_per_K"],
        density=v["density_kg_per_m3"],
        specific_heat=v["specific_heat_J_per_kg_K"],
        thermal_conductivity=v["thermal_conductivity_W_per_m_K"],
        source=_text(origin),
    )


def magnetisation_points(name: str) -> tuple[Array, Array]:
    """Return the source points of a grade: H [A/m] and B [T], each shape (n,).

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    v, _ = _row("lamination", name)
    table = _columns(v["magnetisation"], name)
    return table[:, 0], table[:, 2]


def loss_points(name: str) -> tuple[Array, Array, Array]:
    """Return a grade's loss table: frequency [Hz], peak flux density [T], loss [W/kg].

    Raises
    ------
    InvalidInputError
        For an unknown name, or a grade without a table.
    """
    v, _ = _row("lamination", name)
    if "loss_table" not in v:
        raise InvalidInputError(f"lamination {name!r} has no loss table, only its loss class")
    table = _columns(v["loss_table"], name)
    return table[:, 0], table[:, 1], table[:, 2]


@cache
def _loss(name: str) -> LossFit:
    v, origin = _row("lamination", name)
    resistivity = v["resistivity_microohm_cm"] * 1e-8
    density = v["density_kg_per_m3"]
    classical = classical_coefficient(v["thickness_mm"] * 1e-3, resistivity, density=density)
    if "loss_table" in v:
        f, b, p = loss_points(name)
        (b_low, b_high), (f_low, f_high) = _FIT_RANGE
        inside = (b > b_low - 1e-9) & (b < b_high + 1e-9) & (f >= f_low) & (f <= f_high)
        return fit_loss_table(
            b[inside],
            frequency=f[inside],
            loss=p[inside],
            classical=classical,
            source=f"{origin['loss_table']}; fitted for {b_low:g} to {b_high:g} T, "
            f"{f_low:g} to {f_high:g} Hz",
        )
    base, _ = _row("lamination", REFERENCE_LAMINATION)
    return fit_loss_class(
        v["guaranteed_loss_W_per_kg"],
        classical=classical,
        resistivity=resistivity,
        density=density,
        reference=_loss(REFERENCE_LAMINATION),
        reference_resistivity=base["resistivity_microohm_cm"] * 1e-8,
        reference_density=base["density_kg_per_m3"],
        uncertainty=_CLASS_UNCERTAINTY,
        source=f"{origin['guaranteed_loss_W_per_kg']}; hysteresis exponents and excess loss "
        f"taken over from {REFERENCE_LAMINATION}, hysteresis fills the class at 1.5 T, 50 Hz; "
        f"split not measured, stated error {_CLASS_UNCERTAINTY:.0%} (common practice, no source)",
    )


@cache
def _file(kind: str) -> dict[str, Any]:
    if kind not in KINDS:
        hint = nearest(kind, KINDS)
        raise InvalidInputError(
            f"unknown kind of material {kind!r}; allowed are {', '.join(KINDS)}"
            + (f"; did you mean {hint!r}?" if hint else "")
        )
    path = files("models.materials") / "data" / f"{kind}s.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _row(kind: str, name: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Values and sources of one grade, defaults filled in."""
    table = _file(kind)
    if name not in table["grades"]:
        hint = nearest(name, table["grades"])
        raise InvalidInputError(
            f"unknown {kind} {name!r}; allowed are {', '.join(table['grades'])}"
            + (f"; did you mean {hint!r}?" if hint else "")
        )
    values = {**table.get("defaults", {}), **table["grades"][name]}
    own = values.pop("sources", {})
    origin = {key: own.get(key, table["sources"].get(key, "")) for key in values}
    return values, origin


def _columns(file: str, grade: str) -> Array:
    """Numeric columns of one grade's rows in a data file of this package."""
    text = (files("models.materials") / "data" / file).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return np.array([[float(x) for x in row[1:]] for row in csv.reader(lines) if row[0] == grade])


def _text(origin: Mapping[str, str]) -> str:
    return "; ".join(f"{key}: {text}" for key, text in origin.items())
