"""Field model against closed forms of permanent-magnet fields."""

from math import log, pi

import numpy as np
import pytest

from models.constants import MU0
from models.field.assemble import System, assemble
from models.field.domain import mesh_section
from models.field.media import AIR, Medium
from models.field.sizing import Resolution
from models.field.solve import at_angle, solve
from models.geometry.section import Region, Section
from tests.field_sections import ring, ring_sector


def solved(section: Section, media: dict[str, Medium], resolution: Resolution, angle: float):
    system = assemble(mesh_section(section, resolution), lambda r: media.get(r.part, AIR))
    solution = solve(system, at_angle(system, angle), source=system.magnet_source, tolerance=1e-10)
    return system, solution.potential


def flux_density(system: System, potential: np.ndarray) -> np.ndarray:
    """B at integration points, (m, 3, 2)."""
    local = potential[system.unknown[system.element_nodes]] * system.sign[system.element_nodes]
    slope = np.einsum("mi,mqci->mqc", local, system.elements.gradient)
    return np.stack((slope[..., 1], -slope[..., 0]), axis=-1)


@pytest.mark.parametrize("angle", [0.0, 0.037])
def test_field_slotless_radial_magnets(angle):
    """Amplitudes of B_r in the middle of the gap.

    Z. Q. Zhu, D. Howe, E. Bolte, B. Ackermann, IEEE Trans. Magn. 29(1) 124-135, 1993
    (DOI 10.1109/20.195557); values computed from its formula.
    """
    p, half = 4, pi / 8
    edge = 0.8 * half
    rotor = (
        ring("iron", "rotor_core", 0.020, 0.040, p),
        Region("m", "magnet", "m", ring_sector(0.040, 0.044, -edge, edge),
               magnetisation=(1.0, 0.0)),
        Region("a", "filler", "f", ring_sector(0.040, 0.044, edge, half)),
        Region("b", "filler", "f", ring_sector(0.040, 0.044, -half, -edge)),
    )  # fmt: skip
    section = Section(rotor, (ring("core", "stator_core", 0.045, 0.060, p),), p, 0.044, 0.045)
    iron = Medium(1.0 / (1e8 * MU0))
    nu = 1.0 / (1.05 * MU0)
    media = {
        "rotor_core": iron,
        "stator_core": iron,
        "magnet": Medium(nu, 1.2, magnetisation_order=1.0),
        "filler": Medium(nu),
    }
    system, a = solved(section, media, Resolution(segments_per_pole=96, harmonics=40), angle)
    gap = system.gap
    share = log(0.0445 / (0.044 + 0.001 / 3)) / gap.log_ratio
    amplitude = gap.radial_flux_density(
        a[system.gap_rotor], a[system.gap_stator], angle, share
    ) * np.exp(1j * gap.orders * angle)
    found = amplitude.real[:7] / 0.0445
    expected = [1.086037, -0.206188, 0.0, 0.067349, -0.073423, 0.052267, -0.023910]
    np.testing.assert_allclose(found[0], expected[0], rtol=2e-3)
    np.testing.assert_allclose(found, expected, atol=2e-3 * expected[0])
    assert np.max(np.abs(amplitude.imag[:7])) / 0.0445 < 1e-4


@pytest.mark.parametrize(("p", "bore_field"), [(1, 0.486558), (2, 0.8), (4, 1.125926)])
def test_field_halbach_cylinder(p, bore_field):
    """Bore field of the ideal Halbach cylinder, Br 1.2 T, 20 to 30 mm.

    K. Halbach, Nucl. Instr. Meth. 169, 1980 (from memory):
    p = 1: Br ln(Ro/Ri); p > 1, at Ri: p/(p-1) Br (1 - (Ri/Ro)^(p-1)).
    """
    half = pi / (2 * p)
    magnet = Region(
        "m", "magnet", "m", ring_sector(0.020, 0.030, -half, half), magnetisation=(1.0, 0.0)
    )
    bore = Region("bore", "bore", "air", ring_sector(0.0, 0.020, -half, half))
    section = Section(
        (bore, magnet), (ring("outside", "stator_core", 0.0315, 0.045, p),), p, 0.030, 0.0315
    )
    media = {"magnet": Medium(1.0 / MU0, 1.2, magnetisation_order=1.0 + p)}
    system, a = solved(section, media, Resolution(segments_per_pole=96), 0.0)
    b = flux_density(system, a)
    inside = system.region == [r.name for r in system.regions].index("bore")
    size = np.hypot(b[inside, :, 0], b[inside, :, 1])
    radius = np.hypot(*np.moveaxis(system.elements.place[inside], -1, 0))
    # |B| grows as r^(p-1) in the bore: carry every point to the bore radius
    scaled = size / (radius / 0.020) ** (p - 1)
    middle = np.average(scaled, weights=system.elements.weight[inside] * radius ** (2 * p - 2))
    np.testing.assert_allclose(middle, bore_field, rtol=2e-3)
    if p == 1:
        np.testing.assert_allclose(size, bore_field, rtol=1e-2)
