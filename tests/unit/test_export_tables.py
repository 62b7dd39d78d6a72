"""Tables for control, test and vehicle: numbers recomputed from the written files alone."""

import csv
from io import BytesIO, StringIO
from math import pi, sqrt

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from scipy.io import loadmat

from models.nomenclature import CONVENTIONS
from optim.export.bill import bill, bill_table, sensitivity_table
from optim.export.context import provenance
from optim.export.drive_tables import control_table, cycle_table, envelope_table, fault_table
from optim.export.map_tables import efficiency_table, flux_table, loss_coefficient_table
from optim.export.noise_table import force_order_table
from optim.export.table import Column, Table, column, csv_text, mat_bytes
from optim.export.thermal_table import thermal_branch_table, thermal_node_table
from tests.export_case import CONTEXT, DUTY, performance, values

MAKERS = (flux_table, loss_coefficient_table, efficiency_table, control_table, envelope_table,
          fault_table, cycle_table, force_order_table)  # fmt: skip


def _read(table):
    """Read the CSV text back with the standard library: comments, units, columns."""
    text = csv_text(table, provenance(performance(), CONTEXT))
    comments = [line[2:] for line in text.splitlines() if line.startswith("#")]
    rows = list(csv.reader(StringIO("\n".join(x for x in text.splitlines() if x[0] != "#"))))
    units, columns = {}, {}
    for k, cell in enumerate(rows[0]):
        name, unit = cell[:-1].split(" [")
        units[name] = unit
        columns[name] = np.array([float(row[k]) for row in rows[1:]])
    return comments, units, columns


@pytest.mark.parametrize("make", MAKERS)
def test_every_table_has_units_conventions_and_finite_numbers(make):
    table = make(performance())
    comments, units, columns = _read(table)
    head = "\n".join(comments)
    for word in (*CONVENTIONS, "run r7", "candidate 12", "seed 3", "Paretorque 0.1.0", "circuit"):
        assert word in head
    assert all(units.values())
    for name, numbers in columns.items():
        assert np.all(np.isfinite(numbers)), name
        assert numbers == pytest.approx(table[name], rel=1e-9, abs=1e-12)
    if table.shape:
        assert np.prod(table.shape) == len(next(iter(columns.values())))


def _linkages():
    _, _, flux = _read(flux_table(performance()))
    axes = np.unique(flux["i_d"]), np.unique(flux["i_q"])
    shape = (axes[0].size, axes[1].size)
    return [
        RegularGridInterpolator(axes, flux[name].reshape(shape), method="cubic")
        for name in ("psi_d", "psi_q")
    ]


def test_control_currents_give_the_torque_and_keep_the_limits():
    """Torque and voltage from the flux table by another interpolation (SciPy's)."""
    psi_d, psi_q = _linkages()
    _, _, c = _read(control_table(performance()))
    at = np.array([c["i_d"], np.abs(c["i_q"])]).T
    d, q = psi_d(at), np.sign(c["i_q"]) * psi_q(at)
    torque = 1.5 * 4 * (d * c["i_q"] - q * c["i_d"])
    assert torque == pytest.approx(c["air_gap_torque"], rel=2e-3, abs=0.05)
    reached = c["is_reached"] == 1.0
    assert 0.5 < reached.mean() < 1.0
    # drag is settled in three passes to 0.01 % of the torque
    assert c["shaft_torque"][reached] == pytest.approx(
        c["wanted_torque"][reached], rel=1e-3, abs=0.05
    )
    assert np.all(np.abs(c["air_gap_torque"]) >= np.abs(c["shaft_torque"])
                  * np.where(c["wanted_torque"] > 0, 1.0, 0.0))  # fmt: skip
    assert np.max(c["phase_current"]) <= DUTY.supply.phase_current * (1.0 + 1e-6)
    w = c["speed"] * pi / 30.0 * 4
    _, _, limits = _read(envelope_table(performance()))
    r = np.interp(c["speed"], limits["speed"], limits["phase_resistance"])
    voltage = np.hypot(r * c["i_d"] - w * q, r * c["i_q"] + w * d)
    limit = DUTY.supply.modulation * c["dc_voltage"] / sqrt(3.0)
    assert np.all(voltage[reached] <= limit[reached] * (1.0 + 3e-3))


def test_least_current_rises_with_torque_and_falls_with_voltage():
    table = control_table(performance())
    current = table["phase_current"].reshape(table.shape)
    reached = table["is_reached"].reshape(table.shape) == 1.0
    nominal, lowest = current
    both = reached[0] & reached[1]
    # The two searches stop within 1e-5 of the current limit of each other near the corner.
    assert np.all(lowest[both] >= nominal[both] - 1e-5 * DUTY.supply.phase_current)
    motoring = current[0][:, 20:]
    known = reached[0][:, 20:]
    rise = np.diff(motoring, axis=1)[known[:, 1:] & known[:, :-1]]
    assert np.all(rise > -1e-3)


def test_flux_table_differs_by_the_end_winding_only():
    _, _, f = _read(flux_table(performance()))
    end = performance().drive.maps.end_inductance
    assert end > 0.0
    assert f["psi_d"] - f["psi_d_stack"] == pytest.approx(end * f["i_d"], abs=1e-11)
    assert f["psi_q"] - f["psi_q_stack"] == pytest.approx(end * f["i_q"], abs=1e-11)


def test_hot_magnets_link_less_flux():
    cold, hot = flux_table(performance()), flux_table(performance(), 140.0)
    at_zero = (cold["i_d"] == 0.0) & (cold["i_q"] == 0.0)
    assert hot["psi_d"][at_zero][0] < 0.97 * cold["psi_d"][at_zero][0]
    assert "140 degC" in hot.title


def test_losses_add_up_and_balance_the_power():
    _, _, e = _read(efficiency_table(performance()))
    parts = sum(e[f"loss_{k}"] for k in ("winding_dc", "winding_ac", "iron", "rotor_iron", "magnet",
                                         "mechanical"))  # fmt: skip
    assert parts == pytest.approx(e["loss_total"], rel=1e-8)
    shaft = e["shaft_torque"] * e["speed"] * pi / 30.0
    turning = e["speed"] > 0.0
    balance = e["terminal_power"] - shaft - e["loss_total"]
    assert np.max(np.abs(balance[turning])) < 1.0  # of up to 160 kW
    useful = e["efficiency"] > 0.0
    motoring = useful & (shaft > 0.0)
    assert e["efficiency"][motoring] == pytest.approx(
        shaft[motoring] / (shaft + e["loss_total"])[motoring], abs=1e-4
    )
    assert 0.9 < e["efficiency"].max() < 1.0


def test_envelope_agrees_with_the_metrics():
    _, units, e = _read(envelope_table(performance()))
    assert units["torque_motoring_nominal"] == "N*m"
    assert e["power_motoring_nominal"].max() == pytest.approx(values()["peak_power"], rel=2e-3)
    assert e["power_motoring_lowest"][-1] == pytest.approx(
        values()["top_speed_power_low_voltage"], rel=1e-8
    )
    peak = e["torque_motoring_nominal"].max()
    assert np.all(e["torque_motoring_lowest"] <= e["torque_motoring_nominal"] + 1e-5 * peak)
    assert np.all(e["torque_generating_nominal"] < 0.0)


def test_open_and_short_circuit_agree_with_the_metrics():
    _, _, f = _read(fault_table(performance()))
    assert f["emf_line_peak_cold"][-1] == pytest.approx(values()["back_emf_line_peak"], rel=1e-8)
    per_speed = sqrt(3.0) * 4 * values()["open_circuit_flux"]
    assert f["emf_line_peak"] == pytest.approx(per_speed * f["speed"] * pi / 30.0, rel=1e-8)
    # near its asymptote at top speed
    assert f["short_circuit_current"][-1] == pytest.approx(
        values()["characteristic_current"], rel=0.02
    )
    assert np.all(f["short_circuit_torque"] <= 0.0)
    assert -f["short_circuit_torque"].min() == pytest.approx(
        values()["short_circuit_torque"], rel=0.01
    )
    half = int(np.argmin(np.abs(f["speed"] - 6500.0)))
    idle = sum(f[f"no_load_loss_{k}"][half] for k in ("iron", "rotor_iron", "magnet", "mechanical"))
    assert idle == pytest.approx(values()["drag_loss"], rel=1e-8)


def test_cycle_sums_to_the_metrics():
    comments, _, c = _read(cycle_table(performance()))
    energy = float(c["duration"] @ c["loss_total"])
    distance = float(c["duration"] @ c["vehicle_speed"])
    assert energy / distance == pytest.approx(values()["cycle_loss"], rel=1e-3)
    # WLTC class 3b: 23 266 m, 1800 s (UN GTR 15 Annex 1)
    assert distance == pytest.approx(23266.0, rel=1e-3)
    assert float(c["duration"].sum()) == pytest.approx(1800.0)
    assert any("wltc" in line for line in comments)


def test_mat_file_holds_the_tables_in_their_shape_with_units():
    tables = [make(performance()) for make in MAKERS]
    content = mat_bytes(tables, ("about",))
    data = loadmat(BytesIO(content), simplify_cells=True)
    for table in tables:
        for c in table.columns:
            back = data[table.name][c.name]
            assert np.ravel(back) == pytest.approx(np.ravel(c.values), rel=0, abs=0)
            assert data[table.name]["units"][c.name] == c.unit
        if table.shape:
            assert data[table.name][table.columns[0].name].shape == table.shape
    assert content == mat_bytes(tables, ("about",))


def test_bill_is_the_cost_and_the_masses():
    lines = {line.item: line for line in bill(performance(), values(), CONTEXT)}
    assert lines["magnet"].quantity == values()["magnet_block_mass"]
    assert lines["magnet_process"].quantity == 8 * 2 * 6  # poles, legs, axial pieces
    # copper at 8890 kg/m^3 (IEC 60028): mass from the described section and length
    section = performance().machine.winding.conductor_area
    metres = float(lines["conductor"].description.split()[-4])
    assert 8890.0 * section * metres == pytest.approx(lines["conductor"].quantity, rel=1e-3)
    table = bill_table(performance(), values(), CONTEXT)
    assert f"total {table['cost'].sum():.2f} EUR at prices of 2023" in table.notes[0]


def test_cells_with_commas_and_quotes_are_quoted():
    table = Table("t", "t", (Column("a", "-", ('5" x 3, bare',)), column("b", "m", [-0.0])))
    last = csv_text(table, ()).splitlines()[-1]
    assert last == '"5"" x 3, bare",0'
    assert next(csv.reader([last])) == ['5" x 3, bare', "0"]


def test_force_orders_lead_with_the_pole_order_and_are_those_of_the_metric():
    """Eight poles: the largest wave has eight waves round the bore and turns with the rotor."""
    _, _, t = _read(force_order_table(performance()))
    assert (t["space_order"][0], t["time_order"][0], t["rotation_order"][0]) == (8.0, 2.0, 8.0)
    assert t["pressure"][0] == pytest.approx(1e-3 * values()["radial_pressure"], rel=1e-9)
    assert np.all(np.diff(t["pressure"]) <= 0.0)
    assert np.all(t["space_order"] % 8 == 0)
    assert np.all(np.abs(t["time_order"]) <= 4)
    at_mode = t["meeting_speed"] / 60.0 * t["rotation_order"]
    np.testing.assert_allclose(at_mode, t["mode_frequency"], rtol=1e-9)
    assert values()["pole_order_frequency"] == pytest.approx(t["mode_frequency"][0], rel=1e-9)


def test_thermal_tables_hold_the_whole_network():
    """Conductance matrix and boundary heat at top speed rebuilt from the written rows alone."""
    nodes, branches = (make(performance()) for make in (thermal_node_table, thermal_branch_table))
    names = list(nodes["node"])
    matrix, source = np.zeros((len(names), len(names))), np.zeros(len(names))
    for first, second, g, t in zip(
        branches["from"], branches["to"], branches["conductance_top_speed"],
        branches["boundary_temperature"],
    ):  # fmt: skip
        i = names.index(first)
        matrix[i, i] += g
        if second.startswith("outside: "):
            source[i] += g * t
            continue
        j = names.index(second)
        matrix[j, j] += g
        matrix[i, j] -= g
        matrix[j, i] -= g
    network = performance().heat.network
    np.testing.assert_allclose(matrix, network.conductance(DUTY.top_speed), atol=1e-9)
    np.testing.assert_allclose(source, network.source, atol=1e-9)
    assert sum(nodes["winding_share"]) == pytest.approx(1.0)


def test_cost_sensitivity_lists_every_price_and_sums_to_the_whole():
    table = sensitivity_table(performance(), values(), CONTEXT)
    assert set(table["price"]) == set(CONTEXT.prices)
    assert sum(table["share"]) == pytest.approx(100.0)
    total = sum(line.cost for line in bill(performance(), values(), CONTEXT))
    assert 10.0 * sum(table["rise"]) == pytest.approx(total)
    sizes = np.abs(np.asarray(table["share"], dtype=float))
    assert np.all(np.diff(sizes) <= 1e-12)
