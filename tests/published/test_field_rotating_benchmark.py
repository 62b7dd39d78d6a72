"""Time-harmonic field model against TEAM problem 30a, three-phase.

K. Davey, "Analytic analysis of single- and three-phase induction motors", COMPUMAG TEAM 30a;
table as published with the open code of the Wells group (TEAM30, `ref_three_phase.txt`).
"""

from math import pi, sqrt

import numpy as np
import pytest

from models.constants import MU0
from models.field.assemble import assemble
from models.field.domain import mesh_section
from models.field.harmonic import eddy_loss, harmonic_system, mean_torque, solve_harmonic
from models.field.media import AIR, Medium
from models.field.sizing import Resolution
from models.geometry.section import Region, Section
from tests.field_sections import ring_sector

SUPPLY = 2.0 * pi * 60.0
COIL_AREA = pi / 8.0 * (0.052**2 - 0.032**2)  # 45 degrees
STEEL, ALUMINIUM = 1.6e6, 3.72e7
ORDERS = (1, -5, 7, -11, 13, -17, 19)

# speed [rad/s], torque [N*m/m], voltage [V/m per turn], rotor loss, steel's part [W/m]
ROWS = [
    (0.0, 3.825857, 0.637157, 1455.644, 17.40541),
    (200.0, 6.505013, 0.845368, 1179.541, 16.98615),
    (800.0, -3.59076, 0.617891, 1548.24, 16.88702),
    (1200.0, -2.24996, 0.556196, 1878.926, 12.01166),
]


def motor() -> Section:
    """One pole of two: steel and aluminium rotor, three coil sides, thin steel ring, far air."""
    half = 0.5 * pi
    rotor = (
        Region("steel", "rotor_core", "steel", ring_sector(0.0, 0.020, -half, half)),
        Region("shell", "shell", "aluminium", ring_sector(0.020, 0.030, -half, half)),
    )
    stator = []
    for k in range(3):
        middle = -half + (k + 0.5) * pi / 3.0
        low, high, coil = middle - pi / 6.0, middle + pi / 6.0, pi / 8.0
        stator += [
            Region(f"before_{k}", "slot_air", "air",
                   ring_sector(0.032, 0.052, low, middle - coil), slot=k),
            Region(f"coil_{k}", "slot_conductors", "copper",
                   ring_sector(0.032, 0.052, middle - coil, middle + coil), slot=k),
            Region(f"after_{k}", "slot_air", "air",
                   ring_sector(0.032, 0.052, middle + coil, high), slot=k),
            Region(f"core_{k}", "stator_core", "steel",
                   ring_sector(0.052, 0.057, low, high), slot=k),
            Region(f"outside_{k}", "outside", "air",
                   ring_sector(0.057, 0.6, low, high), slot=k),
        ]  # fmt: skip
    return Section(rotor, tuple(stator), 1, 0.030, 0.032)


@pytest.fixture(scope="module")
def equations():
    media = {part: Medium(1.0 / (30.0 * MU0)) for part in ("rotor_core", "stator_core")}
    domain = mesh_section(motor(), Resolution(segments_per_pole=64, growth=0.6, largest=8.0))
    system = assemble(domain, lambda r: media.get(r.part, AIR))
    sigma = {"rotor_core": STEEL, "shell": ALUMINIUM}
    return harmonic_system(system, lambda r: sigma.get(r.part, 0.0))


def source_and_coil(system, order):
    """Right-hand side of one travelling wave e^(j (w t + n theta)), and the mean over a coil."""
    # coils 60 degrees apart carry e^(j k pi / 3), A -B C -A B -C: only n = 1 + 6 m is excited
    amplitude = sqrt(2.0) * 310e4 * 6.0 / pi * np.sin(order * pi / 8.0) / order
    layer = [k for k, r in enumerate(system.regions) if r.part in ("slot_air", "slot_conductors")]
    coil = [k for k, r in enumerate(system.regions) if r.part == "slot_conductors" and r.slot == 1]
    out = np.zeros(system.size + 1, dtype=complex)
    mean = np.zeros(system.size + 1)
    for members, target in ((layer, out), (coil, mean)):
        index = np.nonzero(np.isin(system.region, members))[0]
        place = system.elements.place[index]
        weight = system.elements.weight[index].astype(complex)
        if target is out:
            weight *= amplitude * np.exp(1j * order * np.arctan2(place[..., 1], place[..., 0]))
        nodes = system.element_nodes[index]
        local = weight @ system.elements.value * system.sign[nodes]
        np.add.at(target, system.unknown[nodes], local if target is out else local.real)
    out[-1] = 0.0
    return out, mean / COIL_AREA


@pytest.mark.parametrize(("speed", "torque", "voltage", "loss", "steel_loss"), ROWS)
def test_field_rotating_benchmark(equations, speed, torque, voltage, loss, steel_loss):
    """Torque, voltage and both losses within 2 % at every speed.

    The rotor is round, so each wave of the winding meets it at its own slip frequency
    w - n W and the waves add up; seven waves leave less than 0.1 %.
    """
    found = np.zeros(3)
    linkage = 0.0
    for order in ORDERS:
        source, coil = source_and_coil(equations.system, order)
        slip = SUPPLY - order * speed
        field = solve_harmonic(equations, angle=0.0, frequency=slip, source=source)
        # two poles; the wave of positive order runs towards falling angle, as the rotor does
        parts = np.array([
            -mean_torque(equations, field, 0.0),
            eddy_loss(equations, field, ("rotor_core", "shell")),
            eddy_loss(equations, field, ("rotor_core",)),
        ])  # fmt: skip
        found += 2.0 * parts
        # one wave passes w T / n through the gap; at its slip frequency that is all loss
        assert parts[1] == pytest.approx(slip / order * parts[0], rel=0.02, abs=2e-4 * loss)
        linkage += 2.0 * coil @ field.potential
    np.testing.assert_allclose(found, [torque, loss, steel_loss], rtol=0.02)
    assert SUPPLY * abs(linkage) / sqrt(2.0) == pytest.approx(voltage, rel=0.02)
