"""Materials: limits, shapes and errors of the tables, fits and loaders."""

import tomllib
from dataclasses import fields
from importlib.resources import files

import numpy as np
import pytest

from models.constants import MU0
from models.errors import InvalidInputError
from models.materials.catalogue import Lamination, LossFit
from models.materials.load import (
    KINDS,
    conductor,
    lamination,
    loss_points,
    magnet,
    magnetisation_points,
    names,
    sources,
)
from models.materials.loss_fit import fit_loss_class, fit_loss_table, specific_loss
from models.materials.magnetisation import (
    differential_reluctivity,
    magnetisation_curve,
    reluctivity_table,
)
from models.nomenclature import PARAMETERS

LAMINATIONS = names("lamination")
LINE = np.array([100.0, 200.0, 400.0, 1000.0, 3000.0])
RISING = np.array([0.6, 1.0, 1.3, 1.45, 1.6])


@pytest.mark.parametrize("kind", KINDS)
def test_every_value_has_a_source(kind: str) -> None:
    table = tomllib.loads(
        (files("models.materials") / "data" / f"{kind}s.toml").read_text(encoding="utf-8")
    )
    for name, row in table["grades"].items():
        origin = sources(kind, name)
        values = (set(table.get("defaults", {})) | set(row)) - {"sources"}
        assert values == set(origin)
        missing = [key for key in values if len(origin[key]) < 8]
        assert not missing, (name, missing)


def test_default_study_grades_exist() -> None:
    assert PARAMETERS["lamination"].default in names("lamination")
    assert PARAMETERS["magnet_grade"].default in names("magnet")
    assert PARAMETERS["conductor_material"].choices == names("conductor")


@pytest.mark.parametrize(
    ("load", "word", "hint"),
    [
        (lamination, "M400-50", "M400-50A"),
        (magnet, "N42SG", "N42SH"),
        (conductor, "coper", "copper"),
    ],
)
def test_unknown_name_gives_nearest_spelling(load, word, hint) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InvalidInputError, match=f"{word}.*did you mean '{hint}'"):
        load(word)


def test_unknown_kind_is_refused() -> None:
    with pytest.raises(InvalidInputError, match="did you mean 'magnet'"):
        names("magnets")


def test_same_object_is_returned() -> None:
    assert lamination("HP270-35A") is lamination("HP270-35A")


@pytest.mark.parametrize("name", LAMINATIONS)
def test_curve_is_strictly_monotone_with_bounded_slope(name: str) -> None:
    table = lamination(name).magnetisation
    b = np.linspace(0.0, 4.0, 80_001)
    nu, _ = table(b**2)
    assert np.all(np.diff(nu * b) > 0.0)
    slope = differential_reluctivity(table, b)
    assert np.all(slope > 0.0)
    assert np.all(slope <= (1.0 + 1e-9) / MU0)
    # saturated: only mu0 is added past the end of the table
    assert slope[b > 2.61] == pytest.approx(1.0 / MU0, rel=1e-9)
    assert np.isfinite(nu[0])
    assert 100.0 < 1.0 / (MU0 * nu[0]) < 10_000.0  # initial relative permeability of NO sheet


@pytest.mark.parametrize("name", LAMINATIONS)
def test_slope_is_continuous_at_nodes_and_at_the_end(name: str) -> None:
    table = lamination(name).magnetisation
    k = np.arange(1, table.nu.size)
    left = table((k - 1e-7) * table.step)[1]
    right = table((k + 1e-7) * table.step)[1]
    scale = np.max(np.abs(table.slope))
    assert np.max(np.abs(left - right)) < 1e-5 * scale


@pytest.mark.parametrize("name", LAMINATIONS)
def test_slope_is_the_derivative_of_the_value(name: str) -> None:
    table = lamination(name).magnetisation
    b2 = np.linspace(0.05, 8.0, 501)
    step = 1e-6
    numeric = (table(b2 + step)[0] - table(b2 - step)[0]) / (2.0 * step)
    assert table(b2)[1] == pytest.approx(numeric, rel=1e-3, abs=0.05)


@pytest.mark.parametrize("name", LAMINATIONS)
def test_table_meets_its_source_points(name: str) -> None:
    h, b = magnetisation_points(name)
    table = lamination(name).magnetisation
    above = b > 1.2
    nu, _ = table(b[above] ** 2)
    assert nu * b[above] == pytest.approx(h[above], rel=0.01)  # measured: below 1e-5
    fine = np.linspace(0.0, 2.5, 500_001)
    back = np.interp(h, table(fine**2)[0] * fine, fine)
    assert np.max(np.abs(back - b)) < 0.005  # measured: largest 0.0032 T, below 0.1 T only


def test_linear_material_is_reproduced() -> None:
    """A straight line mu_r = 500 stays that line (hand calculation), saturation aside."""
    b = np.array([0.2, 0.5, 0.9, 1.2, 1.6])
    h = b / (500.0 * MU0)
    table = reluctivity_table(h, b)
    inside = np.linspace(0.0, 0.9, 50)
    # asinh between the points of this coarse line costs a little; the points are exact
    assert table(inside**2)[0] == pytest.approx(1.0 / (500.0 * MU0), rel=0.05)
    assert table(b**2)[0] == pytest.approx(1.0 / (500.0 * MU0), rel=1e-4)


def test_end_of_curve_follows_the_stated_law() -> None:
    h, b = magnetisation_points("M400-50A")
    curve = magnetisation_curve(h, b)
    field = np.array([4e4, 1e5, 3e5])
    he, a = curve.saturated_field, curve.approach
    j = (
        curve.end_polarisation
        + a * (1.0 / curve.end_field - 1.0 / field)
        - a * (field - curve.end_field) / he**2
    )
    found, slope = curve.field(j + MU0 * field)
    assert found == pytest.approx(field, rel=1e-9)
    assert 1.0 / slope - MU0 == pytest.approx(a * (1.0 / field**2 - 1.0 / he**2), rel=1e-6)


def test_origin_may_be_left_out() -> None:
    h, b = magnetisation_points("NO20-1200H")
    assert np.array_equal(reluctivity_table(h, b).nu, reluctivity_table(h[1:], b[1:]).nu)


@pytest.mark.parametrize(
    ("field", "flux_density", "message"),
    [
        (LINE, np.array([0.6, 1.0, 0.9, 1.45, 1.6]), "row 3 .*does not rise"),
        (np.array([100.0, 200.0, 200.0, 1000.0, 3000.0]), RISING, "row 3 .*does not rise"),
        (LINE, np.array([0.6, 1.0, 1.3, 1.45, 1.4515]), "row 5 B rises .* less than mu0 H"),
        (LINE, np.array([0.6, np.nan, 1.3, 1.45, 1.6]), "row 2 is not a finite number"),
        (LINE[:3], RISING[:3], "needed are at least 4 points"),
        (LINE / 10.0, RISING, "reaching 2000 A/m"),
        (LINE, RISING[:4], "two equal columns"),
    ],
)
def test_unusable_tables_are_refused_with_the_row(field, flux_density, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InvalidInputError, match=f"my table: .*{message}"):
        reluctivity_table(field, flux_density, where="my table")


def test_row_number_counts_a_given_origin() -> None:
    h, b = np.concatenate(([0.0], LINE)), np.array([0.0, 0.6, 0.5, 1.3, 1.45, 1.6])
    with pytest.raises(InvalidInputError, match="row 3 "):
        reluctivity_table(h, b)


def test_loss_parts_scale_with_frequency() -> None:
    """Hysteresis goes with f, classical with f^2, excess with f^1.5, at any flux density."""
    fit = lamination("NO20-1200H").loss
    b = np.linspace(0.1, 1.8, 18)
    f = np.array([[50.0], [200.0], [800.0]])
    total = specific_loss(fit, b, frequency=f)
    columns = np.column_stack((f.ravel(), f.ravel() ** 2, f.ravel() ** 1.5))
    parts = np.linalg.solve(columns, total)
    assert parts[1] == pytest.approx(fit.classical * b**2, rel=1e-6)
    assert parts[2] == pytest.approx(fit.excess * b**1.5, rel=1e-6)
    assert np.all(parts > 0.0)


def test_fit_recovers_known_coefficients() -> None:
    known = LossFit(0.02, 1.6, 0.3, 5e-5, 8e-4, 0.0, "")
    b, f = (v.ravel() for v in np.meshgrid(np.arange(0.4, 1.61, 0.2), [50.0, 150.0, 400.0, 900.0]))
    p = specific_loss(known, b, frequency=f)
    fit = fit_loss_table(b, frequency=f, loss=p, classical=5e-5, source="made up")
    got = (fit.hysteresis, fit.alpha, fit.beta, fit.excess)
    assert got == pytest.approx((0.02, 1.6, 0.3, 8e-4), rel=1e-5)
    assert fit.fit_error < 1e-6


def test_fit_is_the_same_on_every_run() -> None:
    f, b, p = loss_points("NO20-1200H")
    fits = {
        fit_loss_table(b, frequency=f, loss=p, classical=1e-5, source="x").hysteresis
        for _ in range(3)
    }
    assert len(fits) == 1


def test_fit_refuses_poor_tables() -> None:
    b, f, p = np.array([1.0, 1.0, 1.5]), np.array([50.0, 100.0, 50.0]), np.array([1.0, 2.5, 2.0])
    with pytest.raises(InvalidInputError, match="2 frequencies and 2 flux densities"):
        fit_loss_table(b, frequency=f, loss=p, classical=1e-5, source="x")
    with pytest.raises(InvalidInputError, match="row 2 has a value that is not positive"):
        fit_loss_table(
            np.array([0.5, 1.0, 1.5]), frequency=f, loss=p * [1, -1, 1], classical=1e-5, source="x"
        )


def test_loss_class_by_hand() -> None:
    """A quarter of the resistivity doubles the excess loss; the class is met exactly."""
    reference = LossFit(0.01, 1.6, 0.4, 1e-5, 4e-4, 0.0, "")
    fit = fit_loss_class(
        4.0,
        classical=1e-4,
        resistivity=15e-8,
        density=8000.0,
        reference=reference,
        reference_resistivity=60e-8,
        reference_density=7600.0,
        uncertainty=0.3,
        source="x",
    )
    assert fit.excess == pytest.approx(4e-4 * 2.0 * 0.95)
    remaining = 4.0 - 1e-4 * 75.0**2 - fit.excess * 75.0**1.5
    assert fit.hysteresis == pytest.approx(remaining / (50.0 * 1.5**2.2))
    assert specific_loss(fit, np.array(1.5), frequency=50.0) == pytest.approx(4.0)


def test_loss_class_below_eddy_loss_is_refused() -> None:
    reference = lamination("NO20-1200H")
    with pytest.raises(InvalidInputError, match="eddy losses alone"):
        fit_loss_class(
            0.5,
            classical=1e-4,
            resistivity=59e-8,
            density=7600.0,
            reference=reference.loss,
            reference_resistivity=59e-8,
            reference_density=7600.0,
            uncertainty=0.3,
            source="x",
        )


def test_grades_without_table_say_so() -> None:
    with pytest.raises(InvalidInputError, match="no loss table"):
        loss_points("M400-50A")
    assert "split not measured" in lamination("M400-50A").loss.source
    assert lamination("M400-50A").loss.fit_error == 0.3


@pytest.mark.parametrize("name", LAMINATIONS)
def test_sheet_properties_are_plausible(name: str) -> None:
    sheet = lamination(name)
    assert sheet.thickness == pytest.approx({"A": 0.01, "H": 0.01}[name[-1]] * _figures(name) / 1e3)
    assert 7500.0 < sheet.density < 7900.0
    assert 15e-8 < sheet.resistivity < 65e-8
    assert 250e6 < sheet.yield_strength < sheet.tensile_strength < 650e6
    assert 180e9 < sheet.youngs_modulus < 215e9
    assert 1.3 <= sheet.build_factor <= 2.0
    for item in fields(Lamination):
        assert getattr(sheet, item.name) is not None


def _figures(name: str) -> float:
    return float(name[2:4]) if name.startswith("NO") else float(name.rstrip("A").split("-")[1])


@pytest.mark.parametrize("name", names("lamination")[:-1])
def test_thermal_conductivity_follows_its_stated_law(name: str) -> None:
    sheet = lamination(name)
    law = 2.44e-8 * 300.0 / sheet.resistivity + 8.6
    assert sheet.thermal_conductivity == pytest.approx(law, abs=0.06)


@pytest.mark.parametrize("name", names("magnet"))
def test_knee_moves_the_right_way_with_temperature(name: str) -> None:
    m = magnet(name)
    cold, room, hot = m.knee(-40.0), m.knee(20.0), m.knee(m.temperature_limit)
    if name.startswith("ferrite"):
        assert cold > room > hot  # the ferrite is in danger in the cold
        assert m.coercivity_slope > 0.0
    else:
        assert cold < room < hot  # NdFeB is in danger when hot
        assert m.coercivity_slope < 0.0
    assert m.remanence_slope < 0.0
    assert hot < m.remanence(m.temperature_limit)


def test_knee_by_hand() -> None:
    m = magnet("N42SH")
    # B_r - mu0 mu_rec 0.9 H_cJ with B_r = 1.315, H_cJ = 1592 kA/m at 20 degC
    assert m.knee(20.0) == pytest.approx(1.315 - 4e-7 * np.pi * 1.05 * 0.9 * 1592e3, rel=1e-12)


def test_heavy_rare_earth_rises_with_coercivity() -> None:
    rows = sorted((magnet(n) for n in names("magnet")), key=lambda m: m.coercivity_20)
    shares = [m.heavy_rare_earth_share for m in rows]
    assert shares[:2] == [0.0, 0.0]
    assert shares[-1] == max(shares) < 0.1
