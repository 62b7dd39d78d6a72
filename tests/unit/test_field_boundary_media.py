"""Boundary graph, stacked iron, and what the field model refuses."""

from math import pi

import numpy as np
import pytest

from models.constants import MU0
from models.errors import InfeasibleDesignError, InvalidInputError
from models.field import model_of_section
from models.field.boundary import build_graph
from models.field.domain import mesh_section
from models.geometry.section import Outline, Region, Section
from models.materials.load import lamination
from models.materials.reluctivity import beside, stacked
from tests.field_sections import published_surface_machine, ring, ring_sector


def square(x0: float, y0: float, x1: float, y1: float) -> Outline:
    return Outline(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), (0.0,) * 4)


def test_boundary_partly_shared_edge_is_cut_and_merged():
    """A small square on the middle of a large one's side: the side becomes three pieces."""
    large = Region("large", "a", "air", square(0.0, 0.0, 3.0, 1.0))
    small = Region("small", "b", "air", square(1.0, 1.0, 2.0, 2.0))
    graph = build_graph([large, small], tolerance=1e-9)
    assert len(graph.edges) == 4 + 4 + 2 - 1
    shared = (graph.left >= 0) & (graph.right >= 0)
    assert shared.sum() == 1
    assert graph.region_area(0) == pytest.approx(3.0)
    assert graph.region_area(1) == pytest.approx(1.0)


def test_boundary_arcs_keep_areas():
    region = Region("r", "a", "air", ring_sector(0.02, 0.03, -0.3, 0.4))
    graph = build_graph([region], tolerance=1e-9, extra=[(0.03, 0.0)])
    assert len(graph.edges) == 5
    assert graph.region_area(0) == pytest.approx(0.5 * 0.7 * (0.03**2 - 0.02**2), rel=1e-12)


def test_boundary_overlap_is_named():
    regions = [
        Region("one", "a", "air", square(0.0, 0.0, 1.0, 1.0)),
        Region("two", "a", "air", square(0.0, 0.0, 1.0, 2.0)),
    ]
    with pytest.raises(InfeasibleDesignError, match=r"section_overlap.*'one'.*'two'"):
        build_graph(regions, tolerance=1e-9)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"bore_radius": 0.0255}, "no_air_gap"),
        ({"rotor": published_surface_machine().rotor[:-1]}, "section_not_covered"),
        ({"stator": ()}, "no_stator_core"),
    ],
)
def test_bad_section_is_infeasible_with_a_reason(change, reason):
    s = published_surface_machine()
    values = {
        "rotor": s.rotor, "stator": s.stator, "pole_pairs": s.pole_pairs,
        "rotor_radius": s.rotor_radius, "bore_radius": s.bore_radius,
    }  # fmt: skip
    with pytest.raises(InfeasibleDesignError) as caught:
        mesh_section(Section(**{**values, **change}))
    assert caught.value.reason == reason


def test_winding_that_is_not_antiperiodic_is_refused():
    belts = np.zeros((3, 24))
    for slot in range(24):
        belts[slot % 3, slot] = 1.0
    with pytest.raises(InvalidInputError, match="repeats over 2"):
        model_of_section(
            published_surface_machine(), media={}, slot_phases=belts, conductors=1.0,
            stack_length=0.035, remanence=0.0,
        )  # fmt: skip


def test_mesh_is_deterministic_and_keeps_areas():
    section = published_surface_machine()
    first, second = mesh_section(section), mesh_section(section)
    np.testing.assert_array_equal(first.stator.nodes, second.stator.nodes)
    np.testing.assert_array_equal(first.rotor.elements, second.rotor.elements)
    plain = ring("x", "y", 0.02602 - 0.00014, 0.046, 4)
    corners = first.stator.nodes[first.stator.elements[:, :3]]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = 0.5 * np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    # straight sides cut a little off the arcs
    assert area == pytest.approx(plain.area(), rel=2e-3)


@pytest.mark.parametrize("share", [0.9, 0.97])
def test_stacked_iron_divides_flux_between_sheet_and_space(share):
    """B = k B_iron + (1 - k) mu0 H at equal H: pick B_iron, form B, and get H back."""
    table = lamination("HP270-35A").magnetisation
    iron = np.linspace(0.05, 2.4, 40)
    nu, slope = table(iron**2)
    field = nu * iron
    mean = share * iron + (1.0 - share) * MU0 * field
    stacked_nu, stacked_slope = stacked(table, share)(mean**2)
    np.testing.assert_allclose(stacked_nu * mean, field, rtol=2e-4)
    differential = nu + 2.0 * iron**2 * slope
    expected = differential / (share + (1.0 - share) * MU0 * differential)
    np.testing.assert_allclose(stacked_nu + 2.0 * mean**2 * stacked_slope, expected, rtol=2e-2)
    # far in saturation it is air
    far_nu, far_slope = stacked(table, share)(np.array([25.0]))
    assert (far_nu + 2.0 * 25.0 * far_slope)[0] * MU0 == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize("share", [0.25, 0.6])
def test_tooth_with_wide_slot_beside_it(share):
    """The same law with much air, exact to the sheet's last point, and mu0 beyond."""
    table = lamination("HP270-35A").magnetisation
    iron = np.linspace(0.05, float(np.sqrt(table.step * (len(table.nu) - 1))), 40)
    field = table(iron**2)[0] * iron
    mean = share * iron + (1.0 - share) * MU0 * field
    both = beside(table, share)
    np.testing.assert_allclose(both(mean**2)[0] * mean, field, rtol=1e-3)
    further = mean[-1] + 0.5
    rise = both(np.array([further**2]))[0][0] * further - field[-1]
    assert rise == pytest.approx(0.5 / MU0, rel=1e-6)


def test_stacking_factor_out_of_range():
    with pytest.raises(InvalidInputError, match="stacking factor"):
        stacked(lamination("HP270-35A").magnetisation, 0.0)


def test_sector_angle_of_the_ring_sections():
    assert ring("x", "y", 0.02, 0.03, 3).area() == pytest.approx(0.5 * pi / 3 * (0.03**2 - 0.02**2))
