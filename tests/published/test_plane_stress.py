"""Plane-stress finite elements against the exact rotating disc and an independent program."""

from math import pi
from pathlib import Path

import numpy as np
import pytest

from models.errors import InfeasibleDesignError
from models.field.elements import element_geometry
from models.geometry.build import build
from models.geometry.section import Outline, Region, arc_bulge
from models.mechanical.disc import rim_growth
from models.mechanical.elasticity import (
    Deformed,
    Sheet,
    centrifugal_load,
    deform,
    equivalent_stress,
)
from models.mechanical.plane_stress import plane_stress
from models.mechanical.rotor_stress import rotor_stress
from models.mechanical.sheet_mesh import SheetMesh, mesh_sheet
from optim.study.load import load
from optim.study.space import decode, sample
from tests.machines import machine
from tests.published.test_rotating_disc import FINITE_ELEMENTS

ROOT = Path(__file__).parents[2]
INNER, OUTER, SPEED, HALF = 0.025, 0.080, 16000 * pi / 30, pi / 8


def _ring_mesh(largest: float) -> SheetMesh:
    c, s, bulge = np.cos(HALF), np.sin(HALF), arc_bulge(HALF)
    outline = Outline(
        ((INNER, 0.0), (OUTER, 0.0), (OUTER * c, OUTER * s), (INNER * c, INNER * s)),
        (0.0, bulge, 0.0, -bulge),
    )
    return mesh_sheet(
        Region("ring", "rotor_core", "steel", outline), half_angle=HALF, largest=largest,
        growth=0.3, share=1.0, fillet_radius=1e-4, fillet_share=0.3,
    )  # fmt: skip


def _spun_ring(largest: float) -> Deformed:
    mesh = _ring_mesh(largest)
    sheet = Sheet(mesh.nodes, mesh.elements, 200e9, 0.3, 7650.0)
    geometry = element_geometry(sheet.nodes, sheet.elements)
    x, y = sheet.nodes.T
    across = y * np.cos(HALF) - x * np.sin(HALF)
    rollers = (
        (np.nonzero(np.abs(y) < 1e-9)[0], 0.0),
        (np.nonzero(np.abs(across) < 1e-9)[0], HALF),
    )
    return deform(sheet, centrifugal_load(sheet, geometry, SPEED), rollers=rollers)


class TestRing:
    """Timoshenko and Goodier, art. 32: 25/80 mm ring, 7650 kg/m^3, nu 0.3, 16000 rpm: hoop stress
    115.744 MPa at the bore, 35.127 MPa at the rim; radial stress at most 26.798 MPa."""

    def test_stresses(self) -> None:
        solved = _spun_ring(3e-3)
        radius = np.hypot(*solved.sheet.nodes.T)
        equivalent = equivalent_stress(solved.nodal_stress())
        # Both edges are free: hoop stress alone.
        assert equivalent[radius < INNER + 1e-9] == pytest.approx(115.744e6, rel=5e-3)
        assert equivalent[radius > OUTER - 1e-9] == pytest.approx(35.127e6, rel=5e-3)
        middle = np.array([[np.cos(0.2), np.sin(0.2)]]) * np.sqrt(INNER * OUTER)
        x, y, shear = solved.stress_at(middle)[0]
        c, s = np.cos(0.2), np.sin(0.2)
        radial = x * c**2 + y * s**2 + 2.0 * shear * s * c
        assert radial == pytest.approx(26.798e6, rel=5e-3)

    def test_growth(self) -> None:
        solved = _spun_ring(3e-3)
        radius = np.hypot(*solved.sheet.nodes.T)
        rim = radius > OUTER - 1e-9
        grown = np.hypot(*solved.displacement[rim].T)
        exact = rim_growth(
            inner=INNER, outer=OUTER, density=7650.0, speed=SPEED, poisson=0.3,
            youngs_modulus=200e9,
        )  # fmt: skip
        assert grown == pytest.approx(exact, rel=1e-4)

    def test_error_falls_with_the_mesh(self) -> None:
        """At least by four for half the size: between second and third order in the maximum."""
        errors = []
        for largest in (8e-3, 4e-3, 2e-3):
            solved = _spun_ring(largest)
            radius = np.hypot(*solved.sheet.nodes.T)
            bore = np.hypot(*solved.displacement[radius < INNER + 1e-9].T)
            exact = INNER / 200e9 * 115.7440e6
            errors.append(float(np.abs(bore / exact - 1.0).max()))
        assert errors[1] < errors[0] / 4.0
        assert errors[2] < errors[1] / 4.0


@pytest.mark.parametrize(
    ("changes", "bridge_peak", "rib_peak", "bridge_mean", "rib_mean"), FINITE_ELEMENTS
)
def test_rotor_against_an_independent_program(
    changes: dict[str, float], bridge_peak: float, rib_peak: float, bridge_mean: float,
    rib_mean: float,
) -> None:  # fmt: skip
    """The same sections by scikit-fem and gmsh, whose geometry, mesh and loads are not ours."""
    field = plane_stress(machine(**changes), 1.2 * 14000 * pi / 30)
    assert field.bridge_mean == pytest.approx(1e6 * bridge_mean, rel=0.02)
    assert field.rib_mean == pytest.approx(1e6 * rib_mean, rel=0.02)
    assert field.bridge_peak == pytest.approx(1e6 * bridge_peak, rel=0.04)
    assert field.rib_peak == pytest.approx(1e6 * rib_peak, rel=0.04)


def test_closed_form_on_random_designs() -> None:
    """The closed form of the search against these elements, 40 random designs of a ready study.

    Our own two models, so nothing published. Measured on 120 designs when this was written:
    governing peak stress -11 to +19 % (5th to 95th percentile), median 0 %, at worst -24 and
    +44 %; without the yoke's hoop tension and the cap's bending in the rib's fillets it was -23 to
    +38 %, with the rib's own peak at half of the right value.
    """
    study = load(ROOT / "studies" / "island-post-van.toml")
    speed = 1.2 * study.duty.top_speed
    peak, rib_mean, bridge_mean = [], [], []
    for vector in sample(study, np.random.default_rng(6), count=100):
        try:
            built = build(decode(study, vector), family=study.family)
        except InfeasibleDesignError:
            continue
        closed, field = rotor_stress(built, speed), plane_stress(built, speed)
        peak.append(closed.peak / max(field.bridge_peak, field.rib_peak))
        rib_mean.append(closed.rib_mean / field.rib_mean)
        bridge_mean.append(closed.bridge_mean / field.bridge_mean)
        if len(peak) == 40:
            break
    assert len(peak) == 40
    low, middle, high = np.quantile(peak, [0.05, 0.5, 0.95])
    assert 0.94 < middle < 1.06
    assert low > 0.84
    assert high < 1.30
    assert 0.88 < np.median(rib_mean) < 1.0
    assert 1.0 < np.median(bridge_mean) < 1.35
