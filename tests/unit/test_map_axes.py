"""Currents of a map: closer near zero, so that what is interpolated between them holds."""

import numpy as np
import pytest

from models.circuit import maps
from models.circuit.solution import Circuit, assemble
from models.control.sudden_short import sudden_short
from models.control.table import TorqueTable, torque_table
from models.flux_maps import map_axes
from models.geometry.build import build

CURRENT = 594.0
SATURATED = {
    "stator_outer_diameter": 0.21, "stack_length": 0.16, "air_gap": 0.8e-3, "slots": 54, "poles": 6,
    "conductor": "rectangular", "parallel_paths": 3, "turns_per_coil": 6, "bore_ratio": 0.68,
    "slot_depth_ratio": 0.62, "tooth_width_ratio": 0.48, "lamination": "NO20-1200H",
    "magnet_grade": "ferrite-31-30", "shaft_ratio": 0.38, "barriers": 2, "insulation_ratio": 0.47,
    "barrier_depth_ratio": 0.82, "bridge_thickness": 1.3e-3, "rib_width": 3.2e-3,
    "magnet_fill_1": 0.0, "magnet_fill_2": 0.5,
}  # fmt: skip
"""A reluctance rotor whose many turns saturate it at a tenth of the largest current."""


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    return assemble(build(SATURATED, family="reluctance"))


def table(circuit: Circuit) -> TorqueTable:
    found = maps.flux_maps(circuit, current_peak=CURRENT, magnet_temperature=100.0)
    pairs = circuit.machine.pole_pairs
    return torque_table(found, pole_pairs=pairs, current_peak=CURRENT, resistance=0.02)


def test_axes_end_where_the_map_does():
    i_d, i_q = map_axes(100.0, d_points=6, q_points=7)
    assert (i_d[0], i_d[-1], i_q[0], i_q[-1]) == (-100.0, 0.0, 0.0, 100.0)
    assert np.all(np.diff(np.diff(i_d)) < 0.0)
    assert np.all(np.diff(np.diff(i_q)) > 0.0)


def test_linkages_between_a_maps_currents_are_those_of_a_finer_map(circuit, monkeypatch):
    coarse = table(circuit)
    monkeypatch.setattr(maps, "D_POINTS", 13)
    monkeypatch.setattr(maps, "Q_POINTS", 19)
    fine = table(circuit)
    for name, bound in (("psi_d", 0.05), ("psi_q", 0.05)):
        a, b = getattr(coarse, name), getattr(fine, name)
        assert np.abs(a - b).max() < bound * np.abs(b).max(), name
    torque = [t.psi_d * t.i_q - t.psi_q * t.i_d[:, None] for t in (coarse, fine)]
    assert np.abs(torque[0] - torque[1]).max() < 0.03 * np.abs(torque[1]).max()


def test_a_sudden_short_circuit_finds_linkages_that_rise_with_current(circuit):
    found = table(circuit)
    run = sudden_short(found, speed=186.0, i_d=-515.0, i_q=296.0)
    assert np.all(np.isfinite(run.torque))
    assert run.largest_current > 515.0
    for values, axis in ((found.psi_d, 0), (found.psi_q, 1)):
        assert np.all(np.diff(values, axis=axis) > 0.0)
