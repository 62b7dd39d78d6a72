"""Field model against a field with a closed form: element order, energy, torque, rotor angle.

A ring of current density J0 cos(p theta) around rings of air, A = 0 on the innermost and the
outermost circle. In each ring A = (C r^p + D r^-p + particular) cos(p theta), with the particular
solution mu0 J0 r^2 / (p^2 - 4) in the current ring (p > 2); the constants follow from continuity.
"""

from math import pi

import numpy as np
import pytest

from models.constants import MU0
from models.field.airgap import air_gap
from models.field.assemble import System, assemble
from models.field.domain import mesh_section
from models.field.factor import in_lanes
from models.field.lanes import COUNT
from models.field.media import AIR
from models.field.sizing import Resolution
from models.field.solve import at_angle, solve
from models.field.stiffness import symmetric_product
from models.geometry.section import Section
from tests.field_sections import ring

P = 3
INNER, ROTOR, BORE, OUTER = 0.020, 0.040, 0.042, 0.060
DENSITY = 5e6
PARTICULAR = MU0 * DENSITY / (P**2 - 4)


def closed_form() -> np.ndarray:
    """Return C, D inside of BORE and C, D in the current ring."""
    row = np.array([BORE**P, BORE**-P])
    slope = np.array([P * BORE ** (P - 1), -P * BORE ** (-P - 1)])
    matrix = np.zeros((4, 4))
    matrix[0, :2] = INNER**P, INNER**-P
    matrix[1, 2:] = OUTER**P, OUTER**-P
    matrix[2] = np.concatenate((row, -row))
    matrix[3] = np.concatenate((slope, -slope))
    right = PARTICULAR * np.array([0.0, -(OUTER**2), BORE**2, 2.0 * BORE])
    return np.linalg.solve(matrix, right)


def exact_gradient(r: np.ndarray, theta: np.ndarray) -> np.ndarray:
    """Return grad A in the polar axes, (..., 2)."""
    c_in, d_in, c_out, d_out = closed_form()
    is_out = r > BORE
    c, d = np.where(is_out, c_out, c_in), np.where(is_out, d_out, d_in)
    part = np.where(is_out, PARTICULAR, 0.0)
    value = c * r**P + d * r**-P + part * r**2
    slope = P * (c * r**P - d * r**-P) / r + 2.0 * part * r
    return np.stack((slope * np.cos(P * theta), -P * value / r * np.sin(P * theta)), axis=-1)


def solved(segments: int, angle: float) -> tuple[System, np.ndarray, np.ndarray, np.ndarray]:
    section = Section(
        (ring("inside", "rotor_core", INNER, ROTOR, P),),
        (ring("outside", "stator_core", BORE, OUTER, P),),
        P,
        ROTOR,
        BORE,
    )
    resolution = Resolution(
        segments_per_pole=segments, largest=1.0, growth=0.1, thickness_share=10.0
    )
    system = assemble(mesh_section(section, resolution), lambda _: AIR)
    parts = np.array([r.part for r in system.regions])[system.region]
    theta = np.arctan2(system.elements.place[..., 1], system.elements.place[..., 0])
    load = np.where((parts == "stator_core")[:, None], DENSITY * np.cos(P * theta), 0.0)
    local = np.einsum("mq,qi->mi", system.elements.weight * load, system.elements.value)
    nodes = system.element_nodes
    source = np.zeros(system.size + 1)
    np.add.at(source, system.unknown[nodes], local * system.sign[nodes])
    source[-1] = 0.0
    linear = at_angle(system, angle)
    return system, linear, source, solve(system, linear, source=source).potential


def gradient_error(segments: int, angle: float) -> tuple[float, int]:
    """Return the relative error of grad A and the number of elements."""
    system, _, _, a = solved(segments, angle)
    nodes = system.element_nodes
    values = a[system.unknown[nodes]] * system.sign[nodes]
    gradient = np.einsum("mi,mqci->mqc", values, system.elements.gradient)
    x, y = np.moveaxis(system.elements.place, -1, 0)
    r, theta = np.hypot(x, y), np.arctan2(y, x)
    # rotor elements are given in the rotor's axes
    is_rotor = (r < 0.5 * (ROTOR + BORE))[:, :1]
    exact = exact_gradient(r, theta + np.where(is_rotor, angle, 0.0))
    radial = (gradient[..., 0] * x + gradient[..., 1] * y) / r
    tangential = (gradient[..., 1] * x - gradient[..., 0] * y) / r
    off = np.stack((radial, tangential), axis=-1) - exact
    weight = system.elements.weight[..., None]
    error = float(np.sqrt(np.sum(off**2 * weight) / np.sum(exact**2 * weight)))
    return error, len(nodes)


@pytest.mark.parametrize("angle", [0.0, 0.13])
def test_field_elements_converge_with_second_order(angle):
    """Second-order triangles: the gradient's error falls with the square of the size."""
    (coarse, few), (fine, many) = gradient_error(24, angle), gradient_error(48, angle)
    order = np.log(coarse / fine) / np.log(np.sqrt(many / few))
    assert order > 1.8
    assert fine < 5e-4


def test_field_coarse_gap_takes_fewer_harmonics():
    """More harmonics than the interface resolves would be noise: 6 segments still work."""
    assert gradient_error(6, 0.13)[0] < 2e-2


def test_field_energy_of_the_current_ring():
    """W = 1/2 integral J A over one pole, against the stored energy of elements and annulus."""
    system, linear, source, a = solved(24, 0.07)
    r = np.linspace(BORE, OUTER, 20001)
    _, _, c, d = closed_form()
    value = c * r**P + d * r**-P + PARTICULAR * r**2
    # integral of cos^2 over one pole is pi / (2 p)
    exact = 0.5 * DENSITY * np.trapezoid(value * r, r) * pi / (2 * P)
    product = np.zeros((system.size + 1, COUNT))
    symmetric_product(system.columns, system.rows, in_lanes(linear), in_lanes(a), product)
    assert 0.5 * float(a @ product[:, 0]) == pytest.approx(exact, rel=2e-4)
    assert 0.5 * float(a @ source) == pytest.approx(exact, rel=2e-4)


def test_field_torque_is_the_derivative_of_the_gap_energy():
    """Torque of two given traces against the difference of the annulus energy in angle."""
    angles = np.linspace(-pi / (2 * P), pi / (2 * P), 25)
    gap = air_gap(
        angles_1=angles, angles_2=angles, radius_1=ROTOR, radius_2=BORE, pole_pairs=P,
        harmonics=6,
    )  # fmt: skip
    a1 = np.cos(P * angles) + 0.2 * np.cos(3 * P * angles)
    a2 = np.cos(P * angles - 0.7) + 0.1 * np.sin(5 * P * angles)

    def energy(angle: float) -> float:
        return float(a1 @ gap.mutual_block(angle) @ a2)

    step = 1e-5
    expected = -(energy(0.2 + step) - energy(0.2 - step)) / (2.0 * step)
    assert gap.torque(a1, a2, 0.2) == pytest.approx(expected, rel=1e-7)
    assert gap.torque(a1, a1, 0.0) == pytest.approx(0.0, abs=1e-9 * abs(expected))
