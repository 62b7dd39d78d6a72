"""Control on maps that saturate within a step, end early or are searched from anywhere."""

import numpy as np

from models.control.faults import characteristic_current, currents_into_resistance
from models.control.limits import node_voltage, torque_at_voltage
from models.control.linear import ConstantMachine
from models.control.operate import plane_of
from models.control.sudden_short import sudden_short
from models.control.table import interpolate, resample, torque_table
from tests.flux_map_cases import constant_maps, flux_maps


def test_linkages_rise_where_iron_saturates_within_one_step_of_the_map() -> None:
    """A knee as sharp as a step of the map's currents: a spline through it would fall behind it."""
    i_d, i_q = np.linspace(-250.0, 0.0, 6), np.linspace(0.0, 250.0, 7)
    maps = flux_maps(
        lambda d, q: (0.02 + 1e-5 * d + 0.1 * np.tanh((d + 100.0) / 10.0),
                      1e-5 * q + 0.2 * np.tanh(q / 15.0)),
        i_d, i_q,
    )  # fmt: skip
    assert np.diff(resample(maps, maps.psi_d), axis=0).min() < 0.0
    assert np.diff(resample(maps, maps.psi_q, is_odd=True), axis=1).min() < 0.0
    table = torque_table(maps, pole_pairs=4, current_peak=250.0, resistance=0.01)
    assert np.diff(table.psi_d, axis=0).min() > 0.0
    assert np.diff(table.psi_q, axis=1).min() > 0.0
    np.testing.assert_allclose(
        interpolate(table, table.psi_d, i_d, 0.0 * i_d), maps.psi_d[:, 0], atol=2e-4
    )
    sudden_short(table, speed=300.0, i_d=-150.0, i_q=200.0)


def test_sudden_short_where_interpolation_couples_the_axes_more_than_energy_allows() -> None:
    """Cross slopes above the linkages' own in a part of the map: the march goes through."""
    axes = np.linspace(-250.0, 0.0, 13), np.linspace(0.0, 250.0, 13)

    def coupled(d: float, q: float) -> tuple[float, float]:
        bump = np.exp(-(((d + 100.0) / 40.0) ** 2) - ((q - 100.0) / 40.0) ** 2)
        return 0.05 + 2e-4 * d + 0.012 * bump, 2e-4 * q - 0.012 * bump * np.tanh(q / 20.0)

    maps = flux_maps(coupled, *axes)
    table = torque_table(maps, pole_pairs=4, current_peak=250.0, resistance=0.01)
    cross = np.gradient(table.psi_d, table.step_q, axis=1) * np.gradient(
        table.psi_q, table.step_d, axis=0
    )
    own = np.gradient(table.psi_d, table.step_d, axis=0) * np.gradient(
        table.psi_q, table.step_q, axis=1
    )
    assert (cross - own).max() > 0.0
    found = sudden_short(table, speed=300.0, i_d=-100.0, i_q=150.0)
    assert 100.0 < found.largest_current < 1e4


def test_short_circuit_far_beyond_a_map_with_cross_saturation() -> None:
    """The characteristic current is nine times the map's reach: the solution holds the equations
    with each linkage continued along its own current."""
    maps = flux_maps(
        lambda d, q: (0.02 + 2e-5 * d * (1.0 + 0.3 * np.sin(q / 40.0)),
                      6e-5 * q + 1e-5 * d**2 * 0.0075 * np.cos(q / 40.0) * np.sign(q)),
        np.linspace(-110.0, 0.0, 7), np.linspace(0.0, 110.0, 7),
    )  # fmt: skip
    table = torque_table(maps, pole_pairs=4, current_peak=110.0, resistance=0.05)
    assert characteristic_current(table) > 9.0 * 110.0
    electrical = np.geomspace(1e6, 1e3, 40)
    i_d, i_q = currents_into_resistance(table, electrical, 1.0)
    inside = (np.abs(i_d) < 110.0) & (np.abs(i_q) < 110.0)
    assert inside.any()
    assert np.abs(i_d).max() > 9.0 * 110.0
    psi_d, psi_q = (
        interpolate(table, psi, i_d[inside], i_q[inside]) for psi in (table.psi_d, table.psi_q)
    )
    w = electrical[inside]
    np.testing.assert_allclose(i_d[inside], -w * psi_q, rtol=1e-2)
    np.testing.assert_allclose(-i_q[inside], w * psi_d, rtol=1e-2)


def test_a_lines_torque_at_the_voltage_limit_does_not_depend_on_where_the_search_starts() -> None:
    """From its end too, where the line before was still within the limit."""
    machine = ConstantMachine(pole_pairs=4, psi=0.08, l_d=0.3e-3, l_q=0.6e-3)
    plane = plane_of(
        torque_table(
            constant_maps(machine, 250.0), pole_pairs=4, current_peak=250.0, resistance=0.02
        )
    )
    speed, v2 = 2000.0, 200.0**2
    ends = []
    for line in range(plane.torque.shape[0]):
        found = [
            torque_at_voltage(plane, speed, 1.0, v2, line, start)
            for start in (0.0, 20.0, 47.0, 48.0)
        ]
        np.testing.assert_allclose(found, [found[0]] * 4, rtol=1e-9)
        torque, at_row = found[0]
        ends.append(at_row)
        if torque >= 0.0 and at_row < 48.0:
            below = node_voltage(plane, speed, 1.0, line, int(at_row))
            assert below <= v2 <= node_voltage(plane, speed, 1.0, line, int(at_row) + 1)
    assert 0.0 < max(ends) <= 48.0
