"""Numerical control against closed forms and against brute force."""

from dataclasses import replace
from math import hypot, inf, pi, sqrt

import numpy as np
import pytest

from models.control import linear
from models.control.faults import (
    back_emf_line_peak,
    characteristic_current,
    largest_short_circuit_torque,
    open_circuit_flux,
    short_circuit,
)
from models.control.least_loss import operate_least_loss
from models.control.linear import ConstantMachine
from models.control.maps import speed_torque_grid
from models.control.operate import base_speed, envelope, operate
from models.control.table import interpolate, resample, torque_at_angle, torque_table
from models.errors import InvalidInputError, SolverError
from tests.flux_map_cases import constant_maps, flux_maps, saturating

CASES = {
    "finite speed": (ConstantMachine(4, 0.1, 0.3e-3, 0.6e-3), 250.0, 200.0),
    "no saliency": (ConstantMachine(4, 0.08, 0.25e-3, 0.25e-3), 200.0, 200.0),
    "max torque per volt": (ConstantMachine(4, 0.06, 0.3e-3, 0.9e-3), 300.0, 200.0),
    "ideal field weakening": (ConstantMachine(4, 0.075, 0.3e-3, 0.6e-3), 250.0, 200.0),
    "reluctance": (ConstantMachine(2, 0.0, 40e-3, 8e-3), 20.0, 300.0),
}


@pytest.fixture(params=CASES, ids=str)
def case(request: pytest.FixtureRequest) -> tuple[ConstantMachine, float, float]:
    return CASES[request.param]


def table_of(machine: ConstantMachine, current: float, resistance: float = 0.0):  # type: ignore[no-untyped-def]
    return torque_table(
        constant_maps(machine, current),
        pole_pairs=machine.pole_pairs,
        current_peak=current,
        resistance=resistance,
    )


def test_envelope_agrees_with_closed_forms(case: tuple[ConstantMachine, float, float]) -> None:
    machine, current, voltage = case
    table = table_of(machine, current)
    peak = machine.torque(*linear.max_torque_per_ampere(machine, current))
    assert table.peak_torque == pytest.approx(peak, rel=1e-4)
    corner = linear.base_speed(machine, current, voltage)
    assert base_speed(table, voltage) * machine.pole_pairs == pytest.approx(corner, rel=1e-3)
    speeds = np.linspace(0.01, 7.0, 120) * corner
    found = envelope(table, speeds / machine.pole_pairs, voltage)
    points = [linear.largest_torque(machine, current, voltage, w) for w in speeds]
    expected = np.array([machine.torque(*point) for point in points])
    assert np.abs(found.torque - expected).max() < 1e-4 * peak
    # currents, where the optimum is not flat
    limited = speeds > 1.05 * corner
    i_q = np.array([point[1] for point in points])
    assert np.abs(found.i_q - i_q)[limited].max() < 0.02 * current


def test_torque_ends_at_the_top_speed() -> None:
    machine, current, voltage = CASES["finite speed"]
    table = table_of(machine, current)
    top = linear.top_speed(machine, current, voltage) / machine.pole_pairs
    assert top < inf
    found = envelope(table, np.array([0.999, 1.001]) * top, voltage)
    assert found.torque[0] > 0.0
    assert found.torque[1] == 0.0
    assert found.is_within.tolist() == [True, False]


@pytest.mark.parametrize("is_generating", [False, True])
def test_resistance_enters_the_voltage(is_generating: bool) -> None:
    machine, current, voltage = CASES["finite speed"]
    resistance = 0.05
    table = table_of(machine, current, resistance)
    speed = np.linspace(0.0, 1200.0, 80)
    found = envelope(table, speed, voltage, is_generating=is_generating)
    w = speed * machine.pole_pairs
    v_d = resistance * found.i_d - w * machine.l_q * found.i_q
    v_q = resistance * found.i_q + w * (machine.psi + machine.l_d * found.i_d)
    amplitude = np.hypot(v_d, v_q)
    assert amplitude.max() <= voltage * (1 + 1e-4)
    base = base_speed(table, voltage, is_generating=is_generating)
    beyond = speed > base * 1.001
    assert np.all(np.abs(amplitude[beyond] / voltage - 1) < 1e-4)
    below = speed < base * 0.999
    assert np.all(np.abs(found.torque[below]) == table.peak_torque)
    lossless = linear.base_speed(machine, current, voltage) / machine.pole_pairs
    assert (base > lossless) == is_generating


def test_points_take_least_current(case: tuple[ConstantMachine, float, float]) -> None:
    machine, current, voltage = case
    resistance = 0.02 * voltage / current
    table = table_of(machine, current, resistance)
    corner = base_speed(table, voltage)
    speed = np.repeat(np.linspace(0.1, 4.0, 12) * corner, 7)
    largest = envelope(table, speed, voltage).torque
    wanted = largest * np.tile(np.linspace(-0.97, 0.97, 7), 12)
    found = operate(table, wanted, speed, voltage)
    k = 1.5 * machine.pole_pairs
    torque = k * (machine.psi + (machine.l_d - machine.l_q) * found.i_d) * found.i_q
    possible = np.abs(largest) > 0
    assert np.all(found.is_reached[possible])
    assert np.abs(torque - wanted)[possible].max() < 1e-6 * table.peak_torque
    # brute force on a dense line of i_d for each point
    i_d = np.linspace(table.i_d[0], table.i_d[-1], 40_001)
    for n in np.nonzero(possible)[0]:
        with np.errstate(divide="ignore", invalid="ignore"):
            i_q = wanted[n] / (k * (machine.psi + (machine.l_d - machine.l_q) * i_d))
        i_q = np.where(np.isfinite(i_q), i_q, 10 * current)
        w = speed[n] * machine.pole_pairs
        v_d = resistance * i_d - w * machine.l_q * i_q
        v_q = resistance * i_q + w * (machine.psi + machine.l_d * i_d)
        amplitude = np.hypot(i_d, i_q)
        allowed = (np.hypot(v_d, v_q) <= voltage * (1 + 1e-9)) & (amplitude <= current)
        least = amplitude[allowed].min()
        assert hypot(found.i_d[n], found.i_q[n]) == pytest.approx(least, abs=5e-4 * current)


def test_torque_beyond_reach_gives_the_envelope() -> None:
    machine, current, voltage = CASES["finite speed"]
    table = table_of(machine, current, 0.01)
    speed = np.array([100.0, 600.0, 1000.0])
    largest = envelope(table, speed, voltage)
    found = operate(table, largest.torque * 1.2, speed, voltage)
    assert not found.is_reached.any()
    assert np.allclose(found.torque, largest.torque)
    assert np.allclose(found.i_d, largest.i_d)
    exact = operate(table, largest.torque, speed, voltage)
    assert exact.is_reached.all()


def test_idle_above_the_back_emf_limit_needs_current() -> None:
    machine, current, voltage = CASES["finite speed"]
    table = table_of(machine, current)
    speed = np.array([300.0, 1000.0])
    found = operate(table, np.zeros(2), speed, voltage)
    assert found.i_d[0] == 0.0
    # w (psi + L_d i_d) = V
    assert found.i_d[1] == pytest.approx((200.0 / 4000.0 - 0.1) / 0.3e-3, rel=1e-5)
    assert np.all(found.i_q == 0.0)
    assert found.is_reached.all()


def test_reluctance_machine_needs_no_magnet() -> None:
    # T = 1.5 p (L_d - L_q) I^2 / 2 at 45 degrees (Betz et al. 1993): 19.2 N m
    machine, current, _ = CASES["reluctance"]
    table = table_of(machine, current)
    assert table.peak_torque == pytest.approx(19.2, rel=1e-5)
    assert table.mtpa[1, -1] == pytest.approx(table.mtpa[2, -1], rel=1e-3)


def test_saturated_map_against_brute_force() -> None:
    current, voltage, resistance, p = 300.0, 200.0, 0.01, 4
    maps = flux_maps(saturating, np.linspace(-current, 0, 7), np.linspace(0, current, 8))
    table = torque_table(maps, pole_pairs=p, current_peak=current, resistance=resistance)
    # Along each direction of current, the largest amplitude within both limits of the formula
    # itself, by bisection of a dense scan; torque rises with amplitude along every direction.
    angle = np.linspace(0, pi / 2, 7201)

    def at(amplitude, w):  # type: ignore[no-untyped-def]
        i_d, i_q = -amplitude * np.sin(angle), amplitude * np.cos(angle)
        psi_d, psi_q = saturating(i_d, i_q)
        v2 = (resistance * i_d - w * psi_q) ** 2 + (resistance * i_q + w * psi_d) ** 2
        return 1.5 * p * (psi_d * i_q - psi_q * i_d), v2 <= voltage**2

    peak = at(current, 0.0)[0].max()
    assert table.peak_torque == pytest.approx(peak, rel=1e-3)
    speed = np.linspace(10.0, 1800.0, 25)
    found = envelope(table, speed, voltage)
    for n, w in enumerate(speed * p):
        low = np.full(angle.size, -1.0)
        for amplitude in np.linspace(0.0, current, 301):
            low = np.where(at(amplitude, w)[1], amplitude, low)
        within = low >= 0.0
        high = np.minimum(low + 1.0, current)
        for _ in range(20):
            middle = 0.5 * (low + high)
            fits = at(middle, w)[1]
            low, high = np.where(fits, middle, low), np.where(fits, high, middle)
        best = np.max(np.where(within, at(low, w)[0], 0.0))
        assert found.torque[n] == pytest.approx(best, abs=1e-3 * peak)


def test_magnet_temperature_moves_the_linkage() -> None:
    machine, current, _ = CASES["finite speed"]
    maps = constant_maps(machine, current)
    args = {"pole_pairs": 4, "current_peak": current, "resistance": 0.0}
    cold = torque_table(maps, remanence=1.32, **args)
    assert open_circuit_flux(cold) == pytest.approx(0.11)
    assert back_emf_line_peak(cold, 1000.0) == pytest.approx(sqrt(3) * 4000 * 0.11)
    assert characteristic_current(cold) == pytest.approx(0.11 / 0.3e-3)


def test_end_inductance_adds_to_both_axes() -> None:
    machine, current, _ = CASES["finite speed"]
    args = {"pole_pairs": 4, "current_peak": current, "resistance": 0.0}
    with_end = torque_table(constant_maps(machine, current, end_inductance=0.05e-3), **args)
    without = torque_table(constant_maps(machine, current), **args)
    assert np.allclose(with_end.psi_d, without.psi_d)
    assert np.allclose(with_end.psi_q, without.psi_q)


def test_smaller_current_limit() -> None:
    machine, current, voltage = CASES["finite speed"]
    table = table_of(machine, current).with_current(100.0)
    expected = machine.torque(*linear.max_torque_per_ampere(machine, 100.0))
    assert table.peak_torque == pytest.approx(expected, rel=1e-5)
    found = envelope(table, np.array([500.0]), voltage)
    point = linear.largest_torque(machine, 100.0, voltage, 2000.0)
    assert found.torque[0] == pytest.approx(machine.torque(*point), rel=1e-3)
    assert torque_at_angle(table, 100.0, np.array([0.0]))[0] == pytest.approx(60.0)


@pytest.mark.parametrize("name", ["finite speed", "no saliency", "max torque per volt"])
def test_short_circuit_agrees_with_closed_form(name: str) -> None:
    # R i_d = w psi_q, R i_q = -w psi_d with constant parameters
    machine, current, _ = CASES[name]
    r = 0.02
    table = table_of(machine, current, r)
    speed = np.array([300.0, 0.0, 5.0, 40.0, 1500.0])
    w = speed * machine.pole_pairs
    found = short_circuit(table, speed)
    below = r**2 + w**2 * machine.l_d * machine.l_q
    assert np.allclose(found.i_d, -(w**2) * machine.l_q * machine.psi / below)
    assert np.allclose(found.i_q, -w * r * machine.psi / below)
    k = 1.5 * machine.pole_pairs
    expected = k * (machine.psi + (machine.l_d - machine.l_q) * found.i_d) * found.i_q
    assert np.allclose(found.torque, expected)
    torque, at_speed = largest_short_circuit_torque(table, 1500.0)
    dense = short_circuit(table, np.linspace(1.0, 100.0, 4000))
    assert torque == pytest.approx(-dense.torque.min(), rel=1e-3)
    assert at_speed == pytest.approx(dense.speed[np.argmin(dense.torque)], rel=0.03)


def test_least_loss_against_brute_force() -> None:
    machine, current, voltage = CASES["finite speed"]
    r, k = 0.02, 1.5 * machine.pole_pairs
    maps = constant_maps(machine, current)
    table = table_of(machine, current, r)
    flux2 = maps.psi_d**2 + maps.psi_q**2
    rng = np.random.default_rng(7)
    speed = rng.uniform(50.0, 1200.0, 60)
    wanted = envelope(table, speed, voltage).torque * rng.uniform(-0.95, 0.95, 60)
    weight = 0.3 * (speed * machine.pole_pairs) ** 1.5
    found = operate_least_loss(
        table,
        wanted,
        speed,
        voltage,
        resistance=np.full(60, r),
        loss_maps=resample(maps, flux2)[None],
        loss_weights=weight[:, None],
    )
    assert found.is_reached.all()
    assert np.allclose(found.torque, wanted)

    def loss(i_d, i_q, n):  # type: ignore[no-untyped-def]
        flux = (machine.psi + machine.l_d * i_d) ** 2 + (machine.l_q * i_q) ** 2
        return 1.5 * r * (i_d**2 + i_q**2) + weight[n] * flux

    least_current = operate(table, wanted, speed, voltage)
    saved = 0
    i_d = np.linspace(-current, 0.0, 20_001)
    for n in range(60):
        i_q = wanted[n] / (k * (machine.psi + (machine.l_d - machine.l_q) * i_d))
        w = speed[n] * machine.pole_pairs
        v_d, v_q = r * i_d - w * machine.l_q * i_q, r * i_q + w * (machine.psi + machine.l_d * i_d)
        allowed = (np.hypot(v_d, v_q) <= voltage * (1 + 1e-9)) & (np.hypot(i_d, i_q) <= current)
        best = np.min(loss(i_d, i_q, n)[allowed])
        got = loss(found.i_d[n], found.i_q[n], n)
        assert got == pytest.approx(best, rel=1e-3)
        saved += got < 0.999 * loss(least_current.i_d[n], least_current.i_q[n], n)
    assert saved > 5


def test_interpolation_ignores_the_sign_of_i_q() -> None:
    table = table_of(*CASES["finite speed"][:2])
    i_d, i_q = np.array([-13.0, -240.0]), np.array([111.0, -37.0])
    assert np.allclose(interpolate(table, table.psi_d, i_d, i_q), 0.1 + 0.3e-3 * i_d)


def test_grid_fills_the_envelope() -> None:
    machine, current, voltage = CASES["finite speed"]
    table = table_of(machine, current, 0.01)
    edge = envelope(table, np.linspace(50.0, 1500.0, 30), voltage)
    grid = speed_torque_grid(edge, 15, lowest_share=0.02)
    assert grid.torque.shape == (30, 15)
    assert np.array_equal(grid.torque[:, -1], edge.torque)
    found = operate(table, grid.flat_torque, grid.flat_speed, voltage)
    assert found.is_reached.all()
    assert np.array_equal(grid.shaped(grid.flat_torque), grid.torque)
    assert np.allclose(edge.power, edge.torque * edge.speed)
    with pytest.raises(InvalidInputError, match="at least 2"):
        speed_torque_grid(edge, 1)


def test_refusals_say_what_is_allowed() -> None:
    machine, current, voltage = CASES["finite speed"]
    maps = constant_maps(machine, current)
    with pytest.raises(InvalidInputError, match=r"flux map reaches 250\.0 A"):
        torque_table(maps, pole_pairs=4, current_peak=260.0, resistance=0.0)
    table = table_of(machine, current)
    with pytest.raises(InvalidInputError, match="current limit"):
        table.with_current(0.0)
    with pytest.raises(InvalidInputError, match="at least zero"):
        envelope(table, np.array([-1.0]), voltage)
    with pytest.raises(InvalidInputError, match="positive number"):
        operate(table, np.array([1.0]), np.array([1.0]), 0.0)
    with pytest.raises(InvalidInputError, match="not a finite number"):
        operate(table, np.array([np.nan]), np.array([1.0]), voltage)
    with pytest.raises(InvalidInputError, match="at least zero"):
        short_circuit(table, np.array([np.inf]))
    with pytest.raises(InvalidInputError, match="shapes"):
        operate_least_loss(
            table,
            np.zeros(3),
            np.zeros(2),
            voltage,
            resistance=np.zeros(3),
            loss_maps=np.zeros((1, 2, 2)),
            loss_weights=np.zeros((3, 1)),
        )
    implausible = flux_maps(lambda d, q: (0.1 - 0.3e-3 * d, 0.6e-3 * q), maps.i_d, maps.i_q)
    rising = torque_table(implausible, pole_pairs=4, current_peak=250.0, resistance=0.0)
    with pytest.raises(SolverError, match="not plausible"):
        characteristic_current(rising)


def test_voltage_too_low_for_the_current_has_no_base_speed() -> None:
    machine, current, _ = CASES["finite speed"]
    assert base_speed(table_of(machine, current, 1.0), 100.0) == 0.0


def test_resistance_that_rises_with_speed() -> None:
    """Twice the resistance at every speed is twice the resistance; a rise by speed lies between."""
    machine = ConstantMachine(pole_pairs=4, psi=0.08, l_d=0.3e-3, l_q=0.6e-3)
    plain, double = table_of(machine, 250.0, 0.02), table_of(machine, 250.0, 0.04)
    speed = np.linspace(0.0, 1500.0, 40)
    axis = 4.0 * speed
    flat = replace(plain, rise_speed=axis, rise=np.full(40, 2.0))
    rising = replace(plain, rise_speed=axis, rise=1.0 + (axis / axis[-1]) ** 2)
    found = [envelope(t, speed, 200.0).torque for t in (plain, double, flat, rising)]
    assert np.array_equal(found[1], found[2])
    assert np.all(found[3] <= found[0] + 1e-9)
    assert np.all(found[3] >= found[1] - 1e-9)
    assert base_speed(flat, 200.0) == base_speed(double, 200.0)
    start = base_speed(rising, 200.0)
    assert base_speed(double, 200.0) < start < base_speed(plain, 200.0)
    # the voltage there, by hand
    torque, *_, psi2 = rising.circle[:, 0]
    w, r = 4.0 * start, 0.02 * (1.0 + (4.0 * start / axis[-1]) ** 2)
    square = r**2 * 250.0**2 + w**2 * psi2 + 2.0 * r * w * torque / 6.0
    assert np.sqrt(square) == pytest.approx(200.0, rel=1e-4)
