"""Induction-machine circuit against a textbook example and a measured motor."""

from cmath import phase
from dataclasses import replace
from math import cos, degrees, pi, sqrt

import pytest
from scipy.optimize import brentq

from models.induction.equivalent import EquivalentCircuit, pull_out, steady_state

# S. J. Chapman, Electric Machinery Fundamentals, 4th ed., examples 7-3 and 7-5 (5th ed. 6-3, 6-5),
# answers from memory: 460 V, 25 hp, 60 Hz, 4 poles, star.
BOOK = EquivalentCircuit(0.641, 0.332, 1.106, 0.464, 26.3, pole_pairs=2, frequency=60.0)
BOOK_VOLTAGE = 460.0 / sqrt(3.0)
ROTATIONAL = 1100.0


def test_induction_textbook_point():
    """Slip 0.022: exact solution of the same circuit 1e-4, the book's rounded answers 1 %."""
    p = steady_state(BOOK, 0.022, BOOK_VOLTAGE)
    out = p.converted_power - ROTATIONAL
    exact = {
        "current": (abs(p.stator_current), 18.892, 18.88),
        "angle": (degrees(phase(p.stator_current)), -33.683, -33.6),
        "factor": (p.power_factor, 0.83212, 0.833),
        "input": (p.input_power, 12525.1, 12530.0),
        "stator": (p.stator_loss, 686.3, 685.0),
        "gap": (p.gap_power, 11838.8, 11845.0),
        "converted": (p.converted_power, 11578.4, 11585.0),
        "output": (out, 10478.4, 10485.0),
        "torque": (p.torque, 62.807, 62.8),
        "load torque": (out / p.speed, 56.840, 56.9),
        "efficiency": (out / p.input_power, 0.83659, 0.837),
    }
    for name, (value, computed, book) in exact.items():
        assert value == pytest.approx(computed, rel=1e-4), name
        assert value == pytest.approx(book, rel=0.01), name


def test_induction_textbook_pull_out():
    """Exact Thevenin values 1e-4; the book rounds the source (2 %, slip from memory)."""
    slip, torque = pull_out(BOOK, BOOK_VOLTAGE)
    assert (slip, torque) == pytest.approx((0.20141, 230.80), rel=1e-4)
    assert torque == pytest.approx(229.0, rel=0.02)
    assert (1.0 - slip) * 1800.0 == pytest.approx(1437.5, rel=1e-4)
    assert steady_state(BOOK, 1.0, BOOK_VOLTAGE).torque == pytest.approx(106.56, rel=1e-4)
    double = replace(BOOK, rotor_resistance=2.0 * BOOK.rotor_resistance)
    assert pull_out(double, BOOK_VOLTAGE)[0] == pytest.approx(0.40282, rel=1e-4)
    assert pull_out(double, BOOK_VOLTAGE)[1] == pytest.approx(torque, rel=1e-12)
    start = steady_state(double, 1.0, BOOK_VOLTAGE).torque
    assert start == pytest.approx(174.06, rel=1e-4)
    assert start == pytest.approx(170.0, rel=0.03)  # the book reads it with rounded V_th and R_th


def test_induction_measured_motor_losses():
    """18.5 kW, 400 V delta, 50 Hz, 4 poles: measured loss split at the nominal point.

    A. Haumer, C. Kral, H. Kapeller, T. Bauml, J. V. Gragger, "The AdvancedMachines library: loss
    models for electric machines", Modelica Conference 2009, paper 0103; parameters and
    measurement in the Modelica Standard Library, example IMC_withLosses. Tolerances: current
    0.5 %, power factor 1 %, efficiency 0.3 points, speed 1 rpm.
    """
    rise = 70.0  # parameters at 20, operated at 90 degC
    circuit = EquivalentCircuit(
        stator_resistance=0.56 * (1.0 + 3.92e-3 * rise),
        rotor_resistance=0.42 * (1.0 + 4.0e-3 * rise),
        stator_reactance=1.52,
        rotor_reactance=2.31,
        magnetising_reactance=66.4,
        pole_pairs=2,
        frequency=50.0,
        core_conductance=410.0 / (3.0 * 387.9**2),
    )
    nominal_speed = 1462.5 * pi / 30.0
    nominal_current = 32.85 / sqrt(3.0)

    def parts(slip):
        p = steady_state(circuit, slip, 400.0)
        friction = 180.0 * (p.speed / nominal_speed) ** 2
        share = (abs(p.stator_current) / nominal_current) ** 2
        stray = 0.005 * 20443.95 * share * p.speed / nominal_speed
        return p, friction, stray

    def missing(slip):
        p, friction, stray = parts(slip)
        return p.converted_power - friction - stray - 18500.0

    slip = brentq(missing, 1e-4, 0.1)
    p, friction, stray = parts(slip)
    line = sqrt(3.0) * abs(p.stator_current)
    # the same circuit solved by the library's authors
    assert line == pytest.approx(32.849, rel=1e-3)
    assert p.rotor_loss == pytest.approx(476.3, rel=2e-3)
    assert p.stator_loss == pytest.approx(770.09, rel=1e-3)
    assert (stray, friction) == pytest.approx((102.21, 180.10), rel=1e-3)
    # measured
    assert line == pytest.approx(32.85, rel=5e-3)
    assert p.power_factor == pytest.approx(0.898, rel=0.01)
    assert 18500.0 / p.input_power == pytest.approx(0.9049, abs=0.003)
    assert p.speed * 30.0 / pi == pytest.approx(1462.5, abs=1.0)
    assert p.stator_loss == pytest.approx(770.13, rel=5e-3)
    assert p.rotor_loss == pytest.approx(481.60, rel=0.015)


@pytest.mark.parametrize("slip", [-0.05, 0.0, 0.022, 0.3, 1.0])
def test_induction_powers_balance(slip):
    """Common practice, no source: the cage loses slip times gap power; all powers add up."""
    circuit = replace(BOOK, core_conductance=1e-3)
    p = steady_state(circuit, slip, BOOK_VOLTAGE)
    assert p.input_power == pytest.approx(p.stator_loss + p.core_loss + p.gap_power, rel=1e-12)
    loss = 3.0 * abs(p.rotor_current) ** 2 * circuit.rotor_resistance
    assert loss == pytest.approx(slip * p.gap_power, rel=1e-12)
    assert abs(p.stator_current) * cos(phase(p.stator_current)) == pytest.approx(
        p.input_power / 3.0 / BOOK_VOLTAGE
    )
