"""What the field model refuses, by name: sections, B-H tables, currents."""

from math import inf, nan

import numpy as np
import pytest

from models.constants import MU0
from models.control.table import torque_table
from models.errors import InfeasibleDesignError, InvalidInputError, SolverError
from models.field import FieldMagnetics, solve_point
from models.field.domain import mesh_section
from models.field.media import Medium
from models.field.sizing import SizeField
from models.field.triangulate import triangulate
from models.geometry.build import build
from models.geometry.section import Outline, Region, Section
from models.materials.load import lamination
from models.materials.magnetisation import reluctivity_table
from models.materials.reluctivity import ReluctivityTable
from tests.field_sections import published_surface_machine


@pytest.fixture(scope="module")
def demo():
    return FieldMagnetics.of(build({}))


def test_needle_in_the_section_is_infeasible_and_says_where():
    """A barrier cut from the core whose tip closes at half a degree."""
    s = published_surface_machine()
    core = next(r for r in s.rotor if r.part == "rotor_core")
    needle = Outline(
        ((0.015, -1e-4), (0.021, -1e-4), (0.021, -1e-4 + 0.006 * 0.0087)), (0.0, 0.0, 0.0)
    )
    cut = Region(core.name, core.part, core.material, core.outline, (needle,))
    barrier = Region("needle", "barrier", "air", needle)
    rotor = (*(cut if r is core else r for r in s.rotor), barrier)
    with pytest.raises(InfeasibleDesignError, match="degrees near") as caught:
        mesh_section(Section(rotor, s.stator, s.pole_pairs, s.rotor_radius, s.bore_radius))
    assert caught.value.reason == "section_too_narrow"


def test_crossing_edges_are_infeasible_and_say_where():
    nodes = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    segments = np.array([[0, 1], [1, 2], [2, 3], [3, 0], [0, 2], [1, 3]])
    left, right = np.zeros(6, dtype=np.int64), np.full(6, -1)
    field = SizeField(nodes, np.ones(4), 0.5, 1.0)
    with pytest.raises(InfeasibleDesignError, match=r"cross near \(500\.000, 500\.000\)") as caught:
        triangulate(
            nodes, segments, left=left, right=right, radii=(0.0, 2.0), angles=(0.0, 1.5),
            field=field,
        )  # fmt: skip
    assert caught.value.reason == "section_edges_cross"


def test_open_region_is_named():
    """A side is missing: inside and outside cannot be told apart."""
    nodes = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    segments = np.array([[0, 1], [1, 2], [2, 3]])
    left, right = np.zeros(3, dtype=np.int64), np.full(3, -1)
    with pytest.raises(SolverError, match="mesh_regions_leak"):
        triangulate(
            nodes, segments, left=left, right=right, radii=(0.0, 2.0), angles=(0.0, 1.5),
            field=SizeField(nodes, np.ones(4), 0.5, 1.0),
        )  # fmt: skip


def test_bh_table_that_falls_is_refused_with_its_row():
    field = np.array([50.0, 100.0, 500.0, 400.0, 5000.0])
    flux = np.array([0.5, 1.0, 1.4, 1.5, 1.7])
    with pytest.raises(InvalidInputError, match="row 4"):
        reluctivity_table(field, flux)
    with pytest.raises(InvalidInputError, match="row 4"):
        reluctivity_table(np.sort(field), flux[[0, 1, 3, 2, 4]])


@pytest.mark.parametrize("change", [-0.5, nan])
def test_reluctivity_that_falls_is_refused_by_the_field_model(change):
    """Given directly, past the reader of B-H tables."""
    good = lamination("HP270-35A").magnetisation
    nu = good.nu.copy()
    nu[2000:2100] *= 1.0 + change
    with pytest.raises(InvalidInputError, match=r"H does not rise with B at 1\.\d+ T"):
        Medium(ReluctivityTable(good.step, nu, good.slope))


@pytest.mark.parametrize("reluctivity", [0.0, -1.0 / MU0, inf, nan])
def test_medium_needs_a_reluctivity(reluctivity):
    with pytest.raises(InvalidInputError, match="above zero and finite"):
        Medium(reluctivity)
    with pytest.raises(InvalidInputError, match="remanence"):
        Medium(1.0 / MU0, nan)


@pytest.mark.parametrize("current", [0.0, -5.0, inf, nan])
def test_maps_need_a_current(demo, current):
    with pytest.raises(InvalidInputError, match="finite current above zero"):
        demo.flux_maps(current_peak=current, magnet_temperature=90.0)


@pytest.mark.parametrize(("i_d", "i_q"), [(nan, 0.0), (0.0, inf)])
def test_point_needs_finite_currents(demo, i_d, i_q):
    with pytest.raises(InvalidInputError, match="finite numbers"):
        solve_point(demo.model, i_d, i_q)
    with pytest.raises(InvalidInputError, match="finite numbers"):
        demo.torque_wave(i_d=i_d, i_q=i_q, magnet_temperature=90.0)


def test_current_beyond_the_map_is_refused(demo):
    maps = demo.flux_maps(current_peak=200.0, magnet_temperature=90.0)
    with pytest.raises(
        InvalidInputError, match=r"201\.0 A \(peak\): the flux map reaches 200\.0 A"
    ):
        torque_table(maps, pole_pairs=demo.machine.pole_pairs, current_peak=201.0, resistance=0.01)


def test_large_current_still_has_a_solution(demo):
    """Ten times the demo's current: far in saturation the machine adds mu0 only."""
    low, high = (solve_point(demo.model, 0.0, current).psi_q for current in (6000.0, 7000.0))
    air = solve_point(demo.model, 0.0, 100.0).psi_q / 100.0
    assert 0.0 < (high - low) / 1000.0 < 0.2 * air
