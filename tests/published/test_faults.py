"""Sudden short circuit and uncontrolled rectification of constant machines, against closed forms.

Inputs are chosen freely; results follow from the formulas named.
"""

from math import pi, sqrt

import numpy as np
import pytest
from scipy.linalg import expm

from models.control.linear import ConstantMachine
from models.control.rectification import bridge_voltage, open_circuit_speed, rectification
from models.control.sudden_short import sudden_short
from models.control.table import TorqueTable, torque_table
from tests.flux_map_cases import constant_maps

PSI, L_D, L_Q, POLE_PAIRS = 0.1, 0.3e-3, 0.6e-3, 4


def table(resistance: float = 0.0, l_q: float = L_Q) -> TorqueTable:
    machine = ConstantMachine(psi=PSI, l_d=L_D, l_q=l_q, pole_pairs=POLE_PAIRS)
    return torque_table(
        constant_maps(machine, 600.0), pole_pairs=POLE_PAIRS, current_peak=500.0,
        resistance=resistance,
    )  # fmt: skip


def test_without_resistance_the_linkage_turns_round() -> None:
    """Flux linkage of constant size: i_d,min = -(|psi_0| + psi_m) / L_d, and the current closes
    after one period."""
    i_d, i_q = -100.0, 200.0
    run = sudden_short(table(), speed=300.0, i_d=i_d, i_q=i_q)
    psi_0 = np.hypot(PSI + L_D * i_d, L_Q * i_q)
    assert run.lowest_i_d == pytest.approx(-(psi_0 + PSI) / L_D, rel=1e-3)
    np.testing.assert_allclose(np.hypot(PSI + L_D * run.i_d, L_Q * run.i_q), psi_0, rtol=1e-5)
    assert run.i_d[180] == pytest.approx(i_d, rel=1e-4)


def test_with_resistance_against_the_matrix_exponential() -> None:
    """Linear differential equations solved exactly (SciPy's expm)."""
    r, speed, i_d, i_q = 0.03, 200.0, -50.0, -220.0
    w = speed * POLE_PAIRS
    run = sudden_short(table(r), speed=speed, i_d=i_d, i_q=i_q)
    a = np.array([[-r / L_D, w * L_Q / L_D], [-w * L_D / L_Q, -r / L_Q]])
    steady = np.linalg.solve(a, [0.0, w * PSI / L_Q])
    for k in (37, 90, 141, 180):
        exact = steady + expm(a * run.time[k]) @ (np.array([i_d, i_q]) - steady)
        np.testing.assert_allclose([run.i_d[k], run.i_q[k]], exact, atol=2e-3 * 500.0)
    # T = 1.5 p (psi_d i_q - psi_q i_d)
    torque = 1.5 * POLE_PAIRS * (PSI + (L_D - L_Q) * run.i_d) * run.i_q
    np.testing.assert_allclose(run.torque, torque, atol=1e-3)


def test_the_transient_exceeds_the_steady_short_circuit() -> None:
    run = sudden_short(table(0.01), speed=300.0, i_d=-100.0, i_q=-200.0)
    steady = PSI / L_D
    assert 1.3 * steady < -run.lowest_i_d < 2.5 * steady  # 1.5 to 2.5: common practice
    motoring = sudden_short(table(0.01), speed=300.0, i_d=-100.0, i_q=200.0)
    # generating starts nearer to negative d, so resistance has less time
    assert run.lowest_i_d < motoring.lowest_i_d


@pytest.mark.parametrize("saliency", [3.0, 5.0])
def test_rectification_goes_on_below_the_open_circuit_threshold(saliency: float) -> None:
    """|psi|/psi_m of a constant machine on a resistance has the maximum s / (2 sqrt(s - 1)) for
    s = L_q / L_d > 2 (Jahns and Caliskan 1999 describe the effect; the form by differentiation)."""
    found = rectification(table(l_q=saliency * L_D))
    top = saliency / (2.0 * sqrt(saliency - 1.0))
    assert found.linkage.max() / PSI == pytest.approx(top, rel=2e-3)
    assert found.lowest_speed(400.0) == pytest.approx(
        bridge_voltage(400.0) / (top * PSI * POLE_PAIRS), rel=2e-3
    )


def test_rectification_without_saliency_follows_the_phasor_diagram() -> None:
    """L_d = L_q = L: V^2 + (w L I)^2 = (w psi)^2 at unity displacement factor."""
    found = rectification(table(l_q=L_D))
    volts = 400.0
    speed = 1.4 * bridge_voltage(volts) / (PSI * POLE_PAIRS)
    w = speed * POLE_PAIRS
    expected = sqrt((w * PSI) ** 2 - bridge_voltage(volts) ** 2) / (w * L_D)
    assert found.current_at(speed, volts) == pytest.approx(expected, rel=2e-3)
    assert found.current_at(speed / 1.5, volts) == 0.0
    assert found.lowest_speed(volts) == pytest.approx(
        bridge_voltage(volts) / (PSI * POLE_PAIRS), rel=1e-3
    )
    # the line voltage's peak reaches the link earlier: V / sqrt(3) < 2 V / pi
    assert open_circuit_speed(table(l_q=L_D), volts) == pytest.approx(
        found.lowest_speed(volts) * pi / (2.0 * sqrt(3.0)), rel=1e-3
    )
