"""A reluctance machine as a magnetic and electrical machine: axes, torque, control, limits."""

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest

from models.axes import from_published, published, published_grid
from models.circuit.model import CircuitModel
from models.circuit.solution import linkages, solve
from models.control.faults import (
    back_emf_line_peak,
    characteristic_current,
    largest_short_circuit_torque,
    open_circuit_flux,
)
from models.control.linear import ConstantMachine
from models.control.operate import base_speed, envelope, operate
from models.control.table import torque_at_angle, torque_table
from models.evaluate import perform_design
from models.geometry.build import build
from models.performance.summary import metrics
from tests.export_case import DUTY
from tests.flux_map_cases import constant_maps

CURRENT = 500.0
NO_MAGNETS = {"air_gap": 0.6e-3, "rib_width": 1.5e-3, "bridge_thickness": 0.8e-3}
ASSISTED = {
    **NO_MAGNETS, "magnet_grade": "N42SH", "magnet_fill_2": 1.0, "magnet_fill_3": 0.8,
}  # fmt: skip


@pytest.fixture(scope="module")
def bare() -> CircuitModel:
    return CircuitModel.of(build(NO_MAGNETS, family="reluctance"))


@pytest.fixture(scope="module")
def assisted() -> CircuitModel:
    return CircuitModel.of(build(ASSISTED, family="reluctance"))


class TestAxes:
    """d on the low-reluctance axis, q 90 electrical degrees ahead, magnets along negative q."""

    def test_torque_power_and_flux_are_the_same(self) -> None:
        i_d, i_q, psi_d, psi_q = -3.0, 4.0, 0.1, 0.5
        a_d, a_q = published("reluctance", i_d, i_q)
        f_d, f_q = published("reluctance", psi_d, psi_q)
        assert (a_d, a_q) == (4.0, 3.0)
        assert f_d * a_q - f_q * a_d == pytest.approx(psi_d * i_q - psi_q * i_d)
        assert hypot(f_d, f_q) == pytest.approx(hypot(psi_d, psi_q))
        assert from_published("reluctance", a_d, a_q) == (i_d, i_q)
        assert published("interior", i_d, i_q) == (i_d, i_q)

    def test_grid_ascends_in_both_published_currents(self) -> None:
        i_d, i_q = np.linspace(-5.0, 0.0, 4), np.linspace(0.0, 5.0, 3)
        grids = [published_grid("reluctance", g) for g in np.meshgrid(i_d, i_q, indexing="ij")]
        a_d, a_q = published("reluctance", *grids)
        assert a_d.shape == (3, 4)
        assert np.all(np.diff(a_d, axis=0) > 0.0)
        assert np.all(np.diff(a_q, axis=1) > 0.0)
        assert a_d.min() == a_q.min() == 0.0

    def test_d_is_the_axis_of_low_reluctance(self, bare: CircuitModel) -> None:
        maps = bare.flux_maps(current_peak=CURRENT, magnet_temperature=80.0)
        along = published("reluctance", maps.i_d[:, None] + 0 * maps.i_q, maps.i_q + 0 * maps.psi_q)
        psi = published("reluctance", maps.psi_d, maps.psi_q)
        l_d = psi[0][-1, -1] / along[0][-1, -1]
        l_q = psi[1][0, 0] / along[1][0, 0]
        # common practice, no source: loaded saliency of 4 to 8 for good machines, less when poor
        assert 1.5 < l_d / l_q < 12.0

    def test_magnets_point_along_negative_q(self, assisted: CircuitModel) -> None:
        maps = assisted.flux_maps(current_peak=CURRENT, magnet_temperature=80.0)
        psi_d, psi_q = published("reluctance", maps.psi_d[-1, 0], maps.psi_q[-1, 0])
        assert abs(psi_d) < 1e-9
        assert psi_q < -1e-3


def test_reluctance_machine_in_published_axes() -> None:
    """Betz et al., IEEE Trans. Ind. Appl. 29(6), 1993, doi 10.1109/28.259721: i_q = i_d for most
    torque per ampere (19.2 N*m at 20 A), L_q i_q = L_d i_d for most torque per volt."""
    # Section axes: the low inductance lies on d_s.
    machine = ConstantMachine(2, 0.0, 8e-3, 40e-3)
    table = torque_table(
        constant_maps(machine, 20.0), pole_pairs=2, current_peak=20.0, resistance=0.0
    )
    best = published("reluctance", float(table.mtpa[1, -1]), float(table.mtpa[2, -1]))
    assert best == pytest.approx((sqrt(200.0), sqrt(200.0)), rel=2e-3)
    assert table.peak_torque == pytest.approx(19.2, rel=1e-4)
    corner = base_speed(table, 300.0)
    found = envelope(table, np.array([6.0 * corner]), 300.0)
    i_d, i_q = published("reluctance", float(found.i_d[0]), float(found.i_q[0]))
    assert i_q / i_d == pytest.approx(5.0, rel=1e-2)
    assert hypot(40e-3 * i_d, 8e-3 * i_q) * 6.0 * corner * 2 == pytest.approx(300.0, rel=1e-3)
    # torque between falls with the square of speed once most torque per volt is reached
    further = envelope(table, np.array([7.2 * corner]), 300.0)
    assert further.torque[0] / found.torque[0] == pytest.approx(1.0 / 1.44, rel=1e-3)


class TestWithoutMagnets:
    """Facts of the trade (common practice, no source)."""

    def test_no_open_circuit_voltage(self, bare: CircuitModel) -> None:
        maps = bare.flux_maps(current_peak=CURRENT, magnet_temperature=80.0)
        table = torque_table(maps, pole_pairs=4, current_peak=CURRENT, resistance=3e-3)
        assert open_circuit_flux(table) == 0.0
        assert back_emf_line_peak(table, 1000.0) == 0.0
        assert characteristic_current(table) == 0.0
        assert largest_short_circuit_torque(table, 1000.0)[0] == 0.0

    def test_torque_is_zero_on_both_axes_and_positive_between(self, bare: CircuitModel) -> None:
        maps = bare.flux_maps(current_peak=CURRENT, magnet_temperature=80.0)
        table = torque_table(maps, pole_pairs=4, current_peak=CURRENT, resistance=3e-3)
        angle = np.linspace(0.0, 0.5 * np.pi, 19)
        torque = torque_at_angle(table, CURRENT, angle)
        peak = torque.max()
        assert abs(torque[0]) < 1e-3 * peak
        assert abs(torque[-1]) < 1e-3 * peak
        assert np.all(torque[1:-1] > 0.0)
        # saturation of the d axis moves the best angle beyond 45 degrees
        assert 45.0 < np.degrees(angle[np.argmax(torque)]) < 75.0

    def test_all_torque_is_reluctance_torque(self, bare: CircuitModel) -> None:
        assert bare.magnet_torque(i_d=-350.0, i_q=350.0, magnet_temperature=80.0) == 0.0

    def test_least_current_for_a_torque(self, bare: CircuitModel) -> None:
        maps = bare.flux_maps(current_peak=CURRENT, magnet_temperature=80.0)
        table = torque_table(maps, pole_pairs=4, current_peak=CURRENT, resistance=3e-3)
        wanted = np.array([0.0, 0.1, 0.5, 0.9]) * table.peak_torque
        points = operate(table, wanted, np.full(4, 50.0), 200.0)
        assert points.is_reached.all()
        assert points.i_d[0] == pytest.approx(0.0, abs=1e-6)
        assert np.all(np.diff(np.hypot(points.i_d, points.i_q)) > 0.0)

    def test_envelope_is_never_below_the_best_current_of_the_table(self) -> None:
        """At small currents bridges are not saturated and torque is negative; with thick ones the
        search stopped there and called field weakening impossible."""
        rotor = {
            "poles": 8, "barriers": 2, "bridge_thickness": 1.3e-3, "rib_width": 3e-3,
            "insulation_ratio": 0.49, "barrier_grading": 1.96, "air_gap": 0.5e-3,
            "barrier_depth_ratio": 0.82, "barrier_lead_ratio": 1.06, "barrier_end_ratio": 0.46,
            "barrier_span_ratio": 0.84, "bore_ratio": 0.66, "slot_depth_ratio": 0.47,
        }  # fmt: skip
        model = CircuitModel.of(build(rotor, family="reluctance"))
        maps = model.flux_maps(current_peak=CURRENT, magnet_temperature=80.0)
        table = torque_table(maps, pole_pairs=4, current_peak=CURRENT, resistance=0.0)
        assert table.torque[-4:-1, 1].min() < 0.0
        amplitude = np.hypot(table.i_d[:, None], table.i_q)
        for speed in np.linspace(300.0, 1600.0, 14):
            within = (amplitude <= CURRENT) & (table.psi_squared * (4.0 * speed) ** 2 <= 190.0**2)
            best = table.torque[within].max()
            assert envelope(table, np.array([speed]), 190.0).torque[0] >= 0.999 * best

    def test_twice_the_current_quadruples_the_torque_while_linear(self, bare: CircuitModel) -> None:
        def torque(current: float) -> float:
            i = np.array([current / sqrt(2.0)])
            s = solve(bare.circuit, -i, i, magnet_temperature=80.0)
            psi_d, psi_q = linkages(bare.circuit, s.potentials, -i, i)
            return float(np.mean(psi_d * i - psi_q * -i))

        # bridges and ribs saturate from a fraction of an ampere on: below that iron is linear
        assert torque(0.02) / torque(0.01) == pytest.approx(4.0, rel=0.05)


def test_assisted_torque_is_magnets_and_reluctance(assisted: CircuitModel) -> None:
    split = assisted.torque_split(current_peak=CURRENT, magnet_temperature=80.0)
    best = int(np.argmax(split.total))
    assert split.magnet[best] > 0.0
    assert split.reluctance[best] > 0.0
    # magnets push most where the current stands across their axis: at angle zero
    assert np.argmax(split.magnet) < best
    assert abs(split.magnet[-1]) < 0.1 * split.magnet.max()


def test_cold_ferrite_is_the_worse_case() -> None:
    """The knee of ferrite is highest in the cold, that of rare-earth magnets in the heat."""
    fills = {"magnet_fill_1": 0.9, "magnet_fill_2": 0.9, "magnet_fill_3": 0.9}
    margins = {}
    for grade in ("ferrite-31-30", "N42SH"):
        given = {**NO_MAGNETS, **fills, "magnet_grade": grade}
        for cold in (-40.0, 20.0):
            duty = replace(DUTY, temperatures=replace(DUTY.temperatures, magnet_cold=cold))
            result = perform_design(given, duty, family="reluctance")
            margins[grade, cold] = metrics(result)["demagnetisation_margin"]
    assert margins["ferrite-31-30", -40.0] < margins["ferrite-31-30", 20.0] - 0.01
    assert margins["N42SH", -40.0] == pytest.approx(margins["N42SH", 20.0])
