"""Heat-transfer closed forms and fluid properties against published values."""

from math import pi

import numpy as np
import pytest

from models.thermal.air_films import gap_nusselt, taylor_number
from models.thermal.conductances import (
    duct_flow,
    duct_nusselt,
    friction_factor,
    gnielinski,
    hashin_shtrikman,
)
from models.thermal.fluids import Fluid, air, water_glycol
from models.thermal.oil import entry_nusselt, oil

GLYCOL_45_AT_65 = (1042.768, 3538.157, 0.425763, 1.195243e-3)


class TestDuct:
    def test_gnielinski(self) -> None:
        """Open library `ht` 1.2.0, docstring of turbulent_Gnielinski: Re 1e5, Pr 1.2, f 0.0185."""
        assert float(gnielinski(1e5, 1.2, 0.0185)) == pytest.approx(254.62682749, rel=1e-9)

    def test_jacket_example(self) -> None:
        """20 x 6 mm duct, 1.5 m/s water of 60 degC (computed apart from the project)."""
        rho, mu, k, pr = 983.2, 4.66e-4, 0.654, 2.98
        water = Fluid(*(np.asarray(x) for x in (rho, pr * k / mu, k, mu)))
        flow = duct_flow(water, flow=1.5 * 0.02 * 0.006, width=0.02, height=0.006)
        assert flow.hydraulic_diameter == pytest.approx(9.2308e-3, rel=1e-5)
        assert flow.reynolds == pytest.approx(29213.6, rel=1e-5)
        assert float(friction_factor(flow.reynolds)) == pytest.approx(0.0237923, rel=1e-5)
        assert float(duct_nusselt(flow.reynolds, pr)) == pytest.approx(143.569, rel=1e-5)
        assert flow.coefficient == pytest.approx(10171.9, rel=1e-5)
        assert flow.pressure_gradient == pytest.approx(2850.97, rel=1e-5)

    def test_grows_without_steps(self) -> None:
        nu = duct_nusselt(np.geomspace(100.0, 1e5, 2000), 8.0)
        assert np.all(np.diff(nu) >= 0.0)
        assert np.max(nu[1:] / nu[:-1]) < 1.1


@pytest.mark.parametrize(
    ("radius", "gap", "rpm", "viscosity", "taylor", "nusselt"),
    [
        (0.050, 0.7e-3, 3000, 1.9e-5, 4688.75, 2.84766),
        (0.080, 1.0e-3, 6000, 2.1e-5, 71616.0, 6.05036),
        (0.080, 0.7e-3, 12000, 2.1e-5, 98257.0, 6.52955),
    ],
)
def test_air_gap(
    radius: float, gap: float, rpm: float, viscosity: float, taylor: float, nusselt: float
) -> None:
    """Becker and Kaye, J. Heat Transfer 84, 1962 (forms from memory, values computed apart)."""
    ta = taylor_number(rpm * pi / 30, radius, gap, viscosity)
    assert float(ta) == pytest.approx(taylor, rel=1e-4)
    assert float(gap_nusselt(ta)) == pytest.approx(nusselt, rel=1e-4)


@pytest.mark.parametrize(
    ("filler", "values"),
    [
        (0.25, (0.58261, 0.65813, 0.74870, 0.99757)),
        (0.20, (0.46621, 0.52666, 0.59917, 0.79844)),
    ],
)
def test_slot_conductivity(filler: float, values: tuple[float, ...]) -> None:
    """Hashin and Shtrikman's form, Simpson, Wrobel, Mellor, IEEE TIA 49(6) 2013: k_c = 385."""
    for share, expected in zip((0.40, 0.45, 0.50, 0.60), values):
        assert hashin_shtrikman(share, 385.0, filler) == pytest.approx(expected, abs=1e-5)


def test_dry_air() -> None:
    """Reference equations of state, open library CoolProp 8.0, 101325 Pa: density, viscosity,
    conductivity at 20, 60 and 100 degC."""
    gas = air([20.0, 60.0, 100.0])
    np.testing.assert_allclose(gas.density, [1.20458, 1.05963, 0.94587], rtol=1e-3)
    np.testing.assert_allclose(gas.viscosity, [1.82057e-5, 2.00991e-5, 2.18965e-5], rtol=1e-2)
    np.testing.assert_allclose(gas.conductivity, [0.025874, 0.028804, 0.031620], rtol=1e-2)


def test_water_glycol_between_the_table_points() -> None:
    """CoolProp 8.0, ASHRAE ethylene glycol (AEG) at 65 degC and 45 % by volume, and pure water at
    70 degC (IAPWS: 977.8 kg/m^3, 4190 J/(kg K), 0.660 W/(m K), 0.404 mPa s)."""
    mixture = water_glycol(65.0, 0.45)
    for got, expected, error in zip(
        (mixture.density, mixture.specific_heat, mixture.conductivity, mixture.viscosity),
        GLYCOL_45_AT_65, (2e-3, 3e-3, 1.5e-2, 3e-2),
    ):  # fmt: skip
        assert float(got) == pytest.approx(expected, rel=error)
    water = water_glycol(70.0, 0.0)
    assert float(water.density) == pytest.approx(977.8, rel=1e-3)
    assert float(water.specific_heat) == pytest.approx(4190.0, rel=1e-3)
    assert float(water.conductivity) == pytest.approx(0.660, rel=5e-3)
    assert float(water.viscosity) == pytest.approx(0.404e-3, rel=1e-2)


def test_laminar_entry() -> None:
    """Open library `ht`, docstring of laminar_entry_thermal_Hausen (from memory): Re 1e5, Pr 1.1,
    length 5, diameter 0.5."""
    assert entry_nusselt(1e5 * 1.1 * 0.5 / 5.0) == pytest.approx(39.01352358988535, rel=1e-12)


def test_drive_oil() -> None:
    """Energies 18(12) 3134, 2025: oil of an oil-sprayed prototype at 90 degC, 846 kg/m^3,
    1963 J/(kg K), 6.6 mPa s. Its conductivity, 0.2 W/(m K), is half as much again as Cragoe's
    form gives for mineral oil, which is used."""
    fluid = oil(90.0)
    assert float(fluid.density) == pytest.approx(846.0, rel=1e-3)
    assert float(fluid.specific_heat) == pytest.approx(1963.0, rel=1e-3)
    assert float(fluid.viscosity) == pytest.approx(6.6e-3, rel=2e-2)
    assert 0.6 * 0.2 < float(fluid.conductivity) < 0.2
