"""Control envelopes of constant machines against published formulas."""

from math import atan, degrees, hypot, inf, pi, sqrt

import pytest

from models.control.linear import (
    ConstantMachine,
    base_speed,
    characteristic_current,
    max_torque_per_ampere,
    max_torque_per_volt,
    reluctance_power_factor,
    surface_magnet_speed_ratio,
    top_speed,
)

# Inputs chosen freely; results computed independently from the formulas of Morimoto et al., IEEE
# Trans. Ind. Appl. 26(5), 1990, DOI 10.1109/28.60058, and Soong, Miller, IEE Proc. Electr. Power
# Appl. 141(6), 1994, DOI 10.1049/ip-epa:19941470.
INTERIOR = ConstantMachine(pole_pairs=4, psi=0.1, l_d=0.3e-3, l_q=0.6e-3)
SURFACE = ConstantMachine(pole_pairs=4, psi=0.08, l_d=0.25e-3, l_q=0.25e-3)


def test_interior_magnet_machine() -> None:
    i_d, i_q = max_torque_per_ampere(INTERIOR, 250.0)
    assert i_d == pytest.approx(-112.10066, rel=1e-6)
    assert i_q == pytest.approx(223.45792, rel=1e-6)
    assert degrees(atan(-i_d / i_q)) == pytest.approx(26.64124, rel=1e-6)
    assert INTERIOR.torque(i_d, i_q) == pytest.approx(179.16436, rel=1e-6)
    base = base_speed(INTERIOR, 250.0, 200.0)
    assert base == pytest.approx(1336.874, rel=1e-6)
    assert base / 4 * 30 / pi == pytest.approx(3191.55, rel=1e-5)
    assert characteristic_current(INTERIOR) == pytest.approx(333.333, rel=1e-5)
    assert top_speed(INTERIOR, 250.0, 200.0) == pytest.approx(8000.0)
    assert top_speed(INTERIOR, 250.0, 200.0) / base == pytest.approx(5.98411, rel=1e-5)


def test_surface_magnet_machine() -> None:
    i_d, i_q = max_torque_per_ampere(SURFACE, 200.0)
    assert (i_d, i_q) == (0.0, 200.0)
    assert SURFACE.torque(i_d, i_q) == pytest.approx(96.0)
    base = base_speed(SURFACE, 200.0, 200.0)
    assert base == pytest.approx(2119.996, rel=1e-6)
    assert base / 4 * 30 / pi == pytest.approx(5061.1, rel=1e-5)
    assert characteristic_current(SURFACE) == pytest.approx(320.0)
    assert top_speed(SURFACE, 200.0, 200.0) == pytest.approx(6666.67, rel=1e-5)
    assert top_speed(SURFACE, 200.0, 200.0) / base == pytest.approx(3.14466, rel=1e-5)


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [(0.3, 1.49147), (0.5, 2.23607), (0.7071, 4.18154), (0.8, 6.40312), (0.9, 13.4536), (1, inf)],
)
def test_speed_ratio_without_saliency(ratio: float, expected: float) -> None:
    assert surface_magnet_speed_ratio(ratio) == pytest.approx(expected, rel=1e-4)
    machine = ConstantMachine(pole_pairs=1, psi=0.1, l_d=1e-3, l_q=1e-3)
    current = 100.0 * ratio
    speeds = top_speed(machine, current, 100.0), base_speed(machine, current, 100.0)
    assert speeds[0] / speeds[1] == pytest.approx(expected, rel=1e-4)


# Betz et al., IEEE Trans. Ind. Appl. 29(6), 1993, DOI 10.1109/28.259721
@pytest.mark.parametrize(
    ("saliency", "best", "at_45_degrees"),
    [
        (3, 0.5000, 0.4472),
        (5, 0.6667, 0.5547),
        (7, 0.7500, 0.6000),
        (8, 0.7778, 0.6139),
        (10, 0.8182, 0.6332),
    ],
)
def test_reluctance_power_factor(saliency: float, best: float, at_45_degrees: float) -> None:
    assert reluctance_power_factor(saliency, sqrt(saliency)) == pytest.approx(best, abs=5e-5)
    assert reluctance_power_factor(saliency, 1.0) == pytest.approx(at_45_degrees, abs=5e-5)
    for tangent in (0.9 * sqrt(saliency), 1.1 * sqrt(saliency)):
        assert reluctance_power_factor(saliency, tangent) < best


def test_reluctance_machine() -> None:
    machine = ConstantMachine(pole_pairs=2, psi=0.0, l_d=40e-3, l_q=8e-3)
    i_d, i_q = max_torque_per_ampere(machine, 20.0)
    assert i_d == pytest.approx(i_q)
    assert machine.torque(i_d, i_q) == pytest.approx(19.2)
    assert degrees(atan(sqrt(5.0))) == pytest.approx(65.905, abs=1e-3)
    i_d, i_q = max_torque_per_volt(machine, 100.0, 400.0)
    assert i_q / i_d == pytest.approx(5.0)
    assert hypot(machine.l_d * i_d, machine.l_q * i_q) * 400.0 == pytest.approx(100.0)
