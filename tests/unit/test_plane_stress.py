"""Plane-stress finite elements of the rotor: patch test, balance of forces, scaling, mesh."""

from dataclasses import replace
from math import cos, hypot, pi, sin

import numpy as np
import pytest

from models.field.elements import element_geometry
from models.geometry.interior import pocket_outline
from models.geometry.section import Outline, Region
from models.mechanical.elasticity import Sheet, centrifugal_load, deform, edge_load
from models.mechanical.fillets import rounded_pocket
from models.mechanical.plane_stress import StressMesh, plane_stress, plane_stress_safety_factor
from models.mechanical.sheet_mesh import mesh_sheet
from tests.machines import MAGNET, machine

SPEED = 1.2 * 14000 * pi / 30


def _plate() -> tuple[Sheet, np.ndarray]:
    """A rectangle of 20 x 10 mm with its lower left corner on the x axis at 10 mm."""
    outline = Outline(((0.01, 0.0), (0.03, 0.0), (0.03, 0.01), (0.01, 0.01)), (0.0,) * 4)
    mesh = mesh_sheet(
        Region("plate", "rotor_core", "steel", outline), half_angle=1.0, largest=4e-3,
        growth=0.3, share=0.5, fillet_radius=1e-4, fillet_share=0.3,
    )  # fmt: skip
    return Sheet(mesh.nodes, mesh.elements, 200e9, 0.3, 7650.0), mesh.border


def test_pulled_plate_is_exact() -> None:
    """Patch test: uniform stress 100 MPa, u = s x / E, v = -nu s y / E, to rounding."""
    sheet, border = _plate()
    x, y = sheet.nodes.T
    end = border[np.abs(x[border[:, 2]] - 0.03) < 1e-9]
    load = edge_load(sheet, end, np.array([100e6, 0.0]))
    # The corner is held along x, where the reaction is; across, nothing pulls.
    is_left = np.abs(x - 0.01) < 1e-9
    rollers = (
        (np.nonzero((np.abs(y) < 1e-9) & ~is_left)[0], 0.0),
        (np.nonzero(is_left)[0], 0.5 * pi),
    )
    solved = deform(sheet, load, rollers=rollers)
    assert solved.stress() == pytest.approx(
        np.broadcast_to([100e6, 0.0, 0.0], solved.stress().shape), abs=100.0
    )
    assert solved.nodal_stress()[:, 0] == pytest.approx(100e6, rel=1e-6)
    assert solved.stress_at(np.array([[0.017, 0.004]]))[0] == pytest.approx(
        [100e6, 0.0, 0.0], abs=100.0
    )
    moved = solved.displacement
    assert moved[:, 0] == pytest.approx(100e6 * (x - 0.01) / 200e9, abs=1e-12)
    assert moved[:, 1] == pytest.approx(-0.3 * 100e6 * y / 200e9, abs=1e-12)


def test_load_is_mass_times_centre_times_speed_squared() -> None:
    sheet, _ = _plate()
    load = centrifugal_load(sheet, element_geometry(sheet.nodes, sheet.elements), 1000.0)
    mass = 7650.0 * 0.02 * 0.01
    assert load.sum(axis=0) == pytest.approx(mass * 1e6 * np.array([0.02, 0.005]), rel=1e-9)


def test_stress_grows_with_the_square_of_speed() -> None:
    slow, fast = (plane_stress(machine(), w) for w in (500.0, 1500.0))
    assert fast.equivalent == pytest.approx(9.0 * slow.equivalent, rel=1e-9)
    assert fast.growth == pytest.approx(9.0 * slow.growth, rel=1e-9)


def test_all_lengths_doubled_at_half_speed_give_the_same_stress() -> None:
    names = ("stator_outer_diameter", "magnet_thickness", "bridge_thickness", "rib_width",
             "air_gap", "tip_height", "wedge_height")  # fmt: skip
    m = machine()
    big = machine(**{name: 2.0 * m.parameters[name] for name in names})
    small = plane_stress(m, SPEED, fillet_radius=0.5e-3)
    large = plane_stress(big, 0.5 * SPEED, fillet_radius=1e-3)
    assert large.peak == pytest.approx(small.peak, rel=1e-6)
    assert large.growth == pytest.approx(2.0 * small.growth, rel=1e-6)


def test_mirror_planes_stay_planes() -> None:
    """Nodes of d and q axis move along their own axis, outwards."""
    m = machine()
    f = plane_stress(m, SPEED)
    half = 0.5 * pi / m.pole_pairs
    x, y = f.nodes.T
    across = y * cos(half) - x * sin(half)
    on_q = np.abs(across) < 1e-9
    assert np.abs(f.displacement[on_q] @ np.array([-sin(half), cos(half)])).max() < 1e-18
    assert np.abs(f.displacement[np.abs(y) < 1e-9, 1]).max() < 1e-18
    assert f.displacement[on_q] @ np.array([cos(half), sin(half)]) == pytest.approx(
        np.hypot(*f.displacement[on_q].T)
    )


def test_peaks_hold_on_a_finer_mesh() -> None:
    """Fillets make them converge; at the drawn sharp corners they would grow without end."""
    fine_mesh = StressMesh(largest=0.03, growth=0.15, share=0.18, fillet_share=0.06)
    for changes in ({}, {"bridge_thickness": 0.8e-3, "rib_width": 0.8e-3}):
        coarse = plane_stress(machine(**changes), SPEED)
        fine = plane_stress(machine(**changes), SPEED, mesh=fine_mesh)
        assert len(fine.nodes) > 2.5 * len(coarse.nodes)
        assert coarse.bridge_peak == pytest.approx(fine.bridge_peak, rel=0.015)
        assert coarse.rib_peak == pytest.approx(fine.rib_peak, rel=0.015)
        assert coarse.rib_mean == pytest.approx(fine.rib_mean, rel=3e-3)
        assert coarse.bridge_mean == pytest.approx(fine.bridge_mean, rel=0.015)
        assert coarse.growth == pytest.approx(fine.growth, rel=1e-3)


def test_smaller_fillets_raise_peaks_only() -> None:
    sharp, blunt = (plane_stress(machine(), SPEED, fillet_radius=f) for f in (0.25e-3, 1e-3))
    assert sharp.bridge_peak > 1.1 * blunt.bridge_peak
    assert sharp.rib_peak > 1.1 * blunt.rib_peak
    assert sharp.rib_mean == pytest.approx(blunt.rib_mean, rel=0.03)


def test_magnets_load_the_cap() -> None:
    """Without magnet mass less hangs on the rib."""
    m = machine()
    bare = replace(m, magnet=replace(MAGNET, density=1e-6))
    assert plane_stress(bare, SPEED).rib_mean < 0.9 * plane_stress(m, SPEED).rib_mean


def test_safety_factor() -> None:
    m = machine()
    field = plane_stress(m, SPEED)
    assert field.peak == max(field.bridge_peak, field.rib_peak, field.elsewhere_peak)
    assert field.bridge_percentile < field.bridge_peak
    assert plane_stress_safety_factor(m, SPEED, 20.0) == pytest.approx(350e6 / field.peak)
    # 7.2 % less yield strength at 140 degC (common practice, no source).
    assert plane_stress_safety_factor(m, SPEED, 140.0) == pytest.approx(0.928 * 350e6 / field.peak)


@pytest.mark.parametrize("ratio", [0.5, 1.0])
@pytest.mark.parametrize("depth", [0.0, 0.5, 1.0])
def test_fillets_fill_corners_of_the_pocket_only(ratio: float, depth: float) -> None:
    r = machine(barrier_width_ratio=ratio, v_depth_ratio=depth).rotor
    drawn, blunt = pocket_outline(r), rounded_pocket(r, 0.5e-3)
    assert 0.95 * drawn.area() < blunt.area() < drawn.area()
    circle = r.outer_radius - r.bridge_thickness
    assert max(hypot(x, y) for x, y in blunt.polygon()) <= circle * (1.0 + 1e-9)
    assert min(y for _, y in blunt.polygon()) >= 0.5 * r.rib_width * (1.0 - 1e-9)
    # Vanishing fillets give the drawn pocket back.
    assert rounded_pocket(r, 1e-7).area() == pytest.approx(drawn.area(), rel=1e-6)
