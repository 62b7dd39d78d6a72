"""What holds for every machine: no torque for nothing, no jumps, no gaps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.control.linear import ConstantMachine
from models.control.operate import base_speed, envelope, operate
from models.control.table import interpolate, torque_table
from tests.flux_map_cases import constant_maps, flux_maps, saturating

machines = st.builds(
    lambda psi, l_d, saliency: ConstantMachine(4, psi, l_d, l_d * saliency),
    psi=st.floats(0.02, 0.2),
    l_d=st.floats(0.1e-3, 0.6e-3),
    saliency=st.floats(1.0, 4.0),
)
SPEED = np.linspace(0.0, 2500.0, 200)


def table_for(machine: ConstantMachine, resistance: float):  # type: ignore[no-untyped-def]
    return torque_table(
        constant_maps(machine, 300.0), pole_pairs=4, current_peak=300.0, resistance=resistance
    )


@settings(deadline=None, max_examples=60)
@given(machine=machines, resistance=st.floats(0.0, 0.05), voltage=st.floats(100.0, 500.0))
def test_envelope(machine: ConstantMachine, resistance: float, voltage: float) -> None:
    table = table_for(machine, resistance)
    motoring = envelope(table, SPEED, voltage)
    braking = envelope(table, SPEED, voltage, is_generating=True)
    peak = table.peak_torque
    for found in (motoring, braking):
        assert np.all(np.isfinite(found.torque) & np.isfinite(found.i_d) & np.isfinite(found.i_q))
        assert np.all(np.hypot(found.i_d, found.i_q) <= 300.0 * (1 + 1e-6))
    assert np.all(np.diff(motoring.torque) <= 1e-4 * peak)
    assert np.all(-braking.torque >= motoring.torque - 1e-4 * peak)
    assert np.all(motoring.torque >= 0.0)
    # continuous; in squares, because torque ends like a square root at the top speed
    start = base_speed(table, voltage)
    fine = envelope(table, start * np.linspace(0.9, 3.0, 2000), voltage)
    assert np.abs(np.diff(fine.torque**2)).max() < 0.01 * peak**2
    # more voltage never hurts
    more = envelope(table, SPEED, 1.1 * voltage)
    assert np.all(more.torque >= motoring.torque - 1e-4 * peak)


@settings(deadline=None, max_examples=40)
@given(machine=machines, voltage=st.floats(100.0, 400.0), factor=st.floats(1.1, 3.0))
def test_envelope_scales_with_voltage(
    machine: ConstantMachine, voltage: float, factor: float
) -> None:
    table = table_for(machine, 0.0)
    one = envelope(table, SPEED, voltage)
    other = envelope(table, SPEED * factor, voltage * factor)
    assert np.allclose(one.torque, other.torque, atol=1e-9 * table.peak_torque, rtol=1e-9)


def least_voltage(machine: ConstantMachine, resistance: float, torque: float, w: float) -> float:
    """Return the least voltage amplitude of a torque within 300 A, by looking everywhere."""
    i_d = np.linspace(-300.0, 0.0, 3001)
    i_q = torque / (6.0 * (machine.psi + (machine.l_d - machine.l_q) * i_d))
    v_d = resistance * i_d - w * machine.l_q * i_q
    v_q = resistance * i_q + w * (machine.psi + machine.l_d * i_d)
    return float(np.hypot(v_d, v_q)[np.hypot(i_d, i_q) <= 300.0].min())


@settings(deadline=None, max_examples=40)
@given(
    machine=machines,
    resistance=st.floats(0.0, 0.05),
    voltage=st.floats(100.0, 500.0),
    seed=st.integers(0, 2**32 - 1),
)
def test_points(machine: ConstantMachine, resistance: float, voltage: float, seed: int) -> None:
    table = table_for(machine, resistance)
    rng = np.random.default_rng(seed)
    speed = rng.uniform(0.0, 2000.0, 200)
    wanted = rng.uniform(-1.3, 1.3, 200) * table.peak_torque
    found = operate(table, wanted, speed, voltage)
    limit = np.where(
        wanted < 0,
        -envelope(table, speed, voltage, is_generating=True).torque,
        envelope(table, speed, voltage).torque,
    )
    peak = table.peak_torque
    # reached exactly when the envelope allows it (but for its interpolation error); a generator
    # with much resistance may reach a large torque and not a small one
    clear = np.abs(np.abs(wanted) - limit) > 3e-3 * peak
    missed = clear & ~found.is_reached & (np.abs(wanted) < limit)
    clear &= ~missed
    assert np.array_equal(found.is_reached[clear], (np.abs(wanted) < limit)[clear])
    for torque_nm, omega in zip(wanted[missed], 4 * speed[missed]):
        assert torque_nm < 0.0
        assert least_voltage(machine, resistance, torque_nm, omega) > voltage * (1 - 2e-3)
    assert np.allclose(found.torque[found.is_reached], wanted[found.is_reached], atol=1e-3 * peak)
    k = 1.5 * 4
    torque = k * (machine.psi + (machine.l_d - machine.l_q) * found.i_d) * found.i_q
    assert np.allclose(torque, found.torque, atol=1e-4 * peak)
    w = 4 * speed
    v_d = resistance * found.i_d - w * machine.l_q * found.i_q
    v_q = resistance * found.i_q + w * (machine.psi + machine.l_d * found.i_d)
    assert np.all(np.hypot(v_d, v_q)[found.is_reached] <= voltage * (1 + 1e-3))


@settings(deadline=None, max_examples=20)
@given(voltage=st.floats(80.0, 400.0), resistance=st.floats(0.0, 0.03))
def test_saturated_machine(voltage: float, resistance: float) -> None:
    maps = flux_maps(saturating, np.linspace(-300, 0, 7), np.linspace(0, 300, 7))
    table = torque_table(maps, pole_pairs=4, current_peak=300.0, resistance=resistance)
    found = envelope(table, SPEED, voltage)
    assert np.all(np.diff(found.torque) <= 1e-4 * table.peak_torque)
    below = operate(table, 0.98 * found.torque, SPEED, voltage)
    assert np.all(below.is_reached[found.is_within])


@pytest.mark.parametrize("voltage", [82.0, 96.0])
def test_last_speed_within_the_limits(voltage: float) -> None:
    # Where voltage meets the end of the current circle its slope along the circle is zero, and
    # Newton's three steps stopped up to 0.3 % above the limit.
    maps = flux_maps(saturating, np.linspace(-300, 0, 7), np.linspace(0, 300, 7))
    table = torque_table(maps, pole_pairs=4, current_peak=300.0, resistance=0.0)
    found = envelope(table, SPEED, voltage)
    last = np.flatnonzero(found.is_within)[-1:]
    psi = np.hypot(
        interpolate(table, table.psi_d, found.i_d[last], found.i_q[last]),
        interpolate(table, table.psi_q, found.i_d[last], found.i_q[last]),
    )
    assert 4 * SPEED[last] * psi <= voltage * (1 + 1e-4)
    assert operate(table, 0.98 * found.torque[last], SPEED[last], voltage).is_reached[0]
