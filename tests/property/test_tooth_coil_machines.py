"""Machines whose winding repeats over several poles: both models, sector against whole machine."""

from dataclasses import replace
from functools import cache
from math import atan2, cos, pi, tan

import numpy as np
import pytest

import models.circuit.solution as circuit_solution
import models.field.machine_field as machine_field
from models.circuit.model import CircuitModel
from models.circuit.solution import assemble, linkages, solve
from models.evaluate import evaluate
from models.field import FieldMagnetics
from models.field.waves import TorqueWave, torque_wave
from models.geometry.build import section
from models.geometry.sector import Sector, sector_of
from models.machine import Machine, Stator
from optim.study.load import load
from tests.machines import tooth_coil_machine
from tests.tooth_coil_designs import tooth_coil_design

HOT = 100.0
AMPERE_TURNS = 7000.0
"""Series turns of a phase times current amplitude: a load of the invented machines."""

CASES = [
    ("surface", 12, 8), ("surface", 12, 10), ("surface", 12, 14), ("surface", 9, 8),
    ("interior", 12, 8), ("interior", 12, 10), ("interior", 9, 6), ("interior", 9, 8),
    ("interior", 27, 6), ("interior", 36, 8), ("reluctance", 27, 6), ("reluctance", 36, 8),
]  # fmt: skip


def current(machine: Machine) -> float:
    return AMPERE_TURNS / machine.winding.series_turns


def turns(slots: int) -> int:
    return 12 if slots < 20 else 5


@cache
def waves(family: str, slots: int, poles: int) -> tuple[Machine, TorqueWave, TorqueWave]:
    """The machine, and its field without current and at full current 45 degrees ahead of q."""
    machine = tooth_coil_machine(family, slots, poles, turns_per_coil=turns(slots))
    model = FieldMagnetics.of(machine).model
    count = 7 if sector_of(machine).passings % 7 else 5
    i = current(machine) * 0.5**0.5
    still, loaded = (
        torque_wave(model, i_d=-x, i_q=x, remanence=machine.magnet.remanence(HOT), positions=count)
        for x in (0.0, i)
    )
    return machine, still, loaded


@pytest.mark.parametrize(("family", "slots", "poles"), CASES)
def test_circuit_against_field(family: str, slots: int, poles: int) -> None:
    """Flux at no current within 1 % of the field's, torque within 4 %."""
    machine, still, loaded = waves(family, slots, poles)
    i = current(machine) * 0.5**0.5
    circuit = assemble(machine)
    i_d, i_q = np.array([-i, 0.0]), np.array([0.0, i])
    psi_d, psi_q = linkages(
        circuit, solve(circuit, i_d, i_q, magnet_temperature=HOT).potentials, i_d, i_q
    )
    if family != "reluctance":
        assert psi_d[:, 1, 0].mean() == pytest.approx(still.psi_d.mean(), rel=0.01)
    torque = 1.5 * machine.pole_pairs * i * (psi_d[:, 0, 1] + psi_q[:, 0, 1]).mean()
    assert torque == pytest.approx(loaded.mean, rel=0.04)
    # q flux without q current is rounding: the positions see every slot alike
    assert abs(psi_q[:, 0, 0].mean()) < 1e-5 * abs(psi_q[:, 0, 1].mean())


def yoke_outline_area(stator: Stator) -> float:
    """Area between the straight bottoms of all slots and the outside, teeth cut at the corners."""
    half = atan2(0.5 * stator.slot_width_outer, stator.slot_bottom_radius)
    behind_slot = half * stator.outer_radius**2 - stator.slot_bottom_radius**2 * tan(half)
    corner = stator.slot_bottom_radius / cos(half)
    behind_tooth = (0.5 * stator.slot_pitch - half) * (stator.outer_radius**2 - corner**2)
    return stator.slots * (behind_slot + behind_tooth)


@pytest.mark.parametrize(("slots", "poles"), [(12, 8), (9, 6), (9, 8)])
def test_yoke_cells_fill_the_yoke(slots: int, poles: int) -> None:
    circuit = assemble(tooth_coil_machine("interior", slots, poles))
    network = circuit.network
    cells = sum(a for a, part in zip(network.cell_area, network.cell_part) if part == "yoke")
    whole = cells * circuit.sector.repeats / circuit.machine.stacking_factor
    assert whole == pytest.approx(yoke_outline_area(circuit.machine.stator), rel=2e-4)


@pytest.mark.parametrize(("slots", "poles", "yoke"), [(9, 6, 0.66), (9, 8, 0.70), (12, 8, 0.66)])
def test_low_yoke_behind_wide_slots(slots: int, poles: int, yoke: float) -> None:
    """q flux where the yoke saturates behind slot corners: with one height 6 to 7 % high."""
    machine = tooth_coil_machine(
        "interior", slots, poles, turns_per_coil=12, slot_depth_ratio=yoke, tooth_width_ratio=0.5
    )
    i = current(machine)
    circuit, model = assemble(machine), FieldMagnetics.of(machine).model
    zero, full = np.zeros(1), np.array([i])
    psi_q = linkages(circuit, solve(circuit, zero, full, magnet_temperature=HOT).potentials,
                     zero, full)[1].mean()  # fmt: skip
    count = 7 if sector_of(machine).passings % 7 else 5
    wave = torque_wave(
        model, i_d=0.0, i_q=i, remanence=machine.magnet.remanence(HOT), positions=count
    )
    assert psi_q == pytest.approx(wave.psi_q.mean(), rel=0.04)


@pytest.mark.parametrize(("slots", "poles"), [(12, 8), (9, 6), (12, 10)])
def test_thin_tips_under_full_current_against_the_magnets(slots: int, poles: int) -> None:
    """Leakage through tips that saturate: within 3.5 % of the flux it opposes."""
    machine = tooth_coil_machine(
        "interior", slots, poles, turns_per_coil=12, tip_height=1.6e-3, slot_opening_ratio=0.13
    )
    i = 1.4 * current(machine)
    circuit, model = assemble(machine), FieldMagnetics.of(machine).model
    zero, full = np.zeros(1), np.array([-i])
    count = 7 if sector_of(machine).passings % 7 else 5
    found = []
    for i_d in (zero, full):
        solution = solve(circuit, i_d, zero, magnet_temperature=HOT)
        wave = torque_wave(
            model, i_d=float(i_d[0]), i_q=0.0, remanence=machine.magnet.remanence(HOT),
            positions=count,
        )  # fmt: skip
        found.append((linkages(circuit, solution.potentials, i_d, zero)[0].mean(),
                      wave.psi_d.mean()))  # fmt: skip
    scale = max(abs(field) for _, field in found)
    assert found[1][0] == pytest.approx(found[1][1], abs=0.035 * scale)


@pytest.mark.parametrize(("slots", "poles"), [(12, 10), (9, 8)])
def test_lowest_magnet_field_is_that_of_the_worst_pole(slots: int, poles: int) -> None:
    """Poles of a sector stand differently to the slots: the share of area is of each pole's own."""
    machine = tooth_coil_machine("surface", slots, poles)
    at = {"i_d": -1.2 * current(machine), "magnet_temperature": 120.0}
    network, field = (
        model.of(machine).lowest_magnet_field(**at) for model in (CircuitModel, FieldMagnetics)
    )
    assert network == pytest.approx(field, abs=0.03)


@pytest.mark.parametrize(("family", "slots", "poles"), CASES)
def test_torque_of_the_gap_and_of_the_linkages_agree(family: str, slots: int, poles: int) -> None:
    _, _, loaded = waves(family, slots, poles)
    assert loaded.torque_difference < 2e-3


@pytest.mark.parametrize(("slots", "poles", "passings"), [(12, 10, 2), (12, 14, 2), (9, 8, 3)])
def test_cogging_repeats_with_the_common_multiple(slots: int, poles: int, passings: int) -> None:
    """lcm(Q, 2p) times a turn (common practice, no source): harmonics of the belt below that are
    noise of the mesh."""
    _, still, _ = waves("surface", slots, poles)
    size = np.abs(still.torque_harmonics)
    load = waves("surface", slots, poles)[2].mean
    assert size[1:passings].max() < 2e-3 * load


def whole(part: Sector) -> Sector:
    return replace(part, poles=2 * part.pole_pairs, slots=part.all_slots)


@pytest.mark.parametrize(("family", "slots", "poles"), [("surface", 12, 8), ("interior", 12, 10)])
def test_sector_is_the_whole_machine_in_the_circuit(
    monkeypatch: pytest.MonkeyPatch, family: str, slots: int, poles: int
) -> None:
    machine = tooth_coil_machine(family, slots, poles)
    i_d, i_q = np.array([-current(machine), 0.0]), np.array([0.0, current(machine)])

    def found() -> np.ndarray:
        circuit = assemble(machine)
        solution = solve(circuit, i_d, i_q, magnet_temperature=HOT, tolerance=1e-8)
        return np.array(linkages(circuit, solution.potentials, i_d, i_q))

    part = found()
    known = sector_of(machine)
    monkeypatch.setattr(circuit_solution, "sector_of", lambda _: whole(known))
    np.testing.assert_allclose(found(), part, rtol=1e-6, atol=2e-6 * np.abs(part).max())


def test_sector_is_the_whole_machine_in_the_field(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = tooth_coil_machine("surface", 12, 8)
    i = current(machine)
    arguments = {"i_d": -i, "i_q": i, "remanence": 1.1, "positions": 4}
    part = torque_wave(FieldMagnetics.of(machine).model, **arguments)
    known = sector_of(machine)
    monkeypatch.setattr(machine_field, "sector_of_winding", lambda *_: whole(known))
    monkeypatch.setattr(machine_field, "sector_section", lambda m: section(m, poles=8))
    full = torque_wave(FieldMagnetics.of(machine).model, **arguments)
    np.testing.assert_allclose(full.psi_d, part.psi_d, rtol=1e-3)
    np.testing.assert_allclose(full.psi_q, part.psi_q, rtol=1e-3)
    np.testing.assert_allclose(full.torque, part.torque, rtol=2e-3)


def open_field(machine: Machine) -> float:
    """Fundamental of the radial magnets' field on a smooth bore, mu_r = 1 [T].

    Z. Q. Zhu, D. Howe, E. Bolte, B. Ackermann, IEEE Trans. Magn. 29(1) 124, 1993,
    doi:10.1109/20.195557 (from memory).
    """
    r, p = machine.rotor, machine.pole_pairs
    bore, face = machine.stator.bore_radius, r.magnet_radius
    core = face - r.magnet_thickness
    size = 4.0 / pi * machine.magnet.remanence_20 * np.sin(p * r.arc_half_angle)
    shape = (p - 1) + 2.0 * (core / face) ** (p + 1) - (p + 1) * (core / face) ** (2 * p)
    return float(
        size * p / (p**2 - 1) * (face / bore) ** (p + 1) * shape / (1 - (core / bore) ** (2 * p))
    )


@pytest.mark.parametrize(("slots", "poles"), [(12, 8), (12, 10), (9, 8)])
def test_open_circuit_linkage_of_surface_magnets(slots: int, poles: int) -> None:
    """psi = 2 r L N k_w B / p with the slotless field, by both models.

    Magnets of 0.6 T, so that iron drops nothing, and narrow openings, whose Carter factor is left
    out.
    """
    machine = tooth_coil_machine(
        "surface", slots, poles, slot_opening_ratio=0.08, strand_diameter=0.5e-3, copper_fill=0.3,
        magnetisation="radial", sleeve_thickness=1e-3,
    )  # fmt: skip
    magnet = replace(machine.magnet, remanence_20=0.6, recoil_permeability=1.0)
    machine = replace(machine, magnet=magnet)
    w, s = machine.winding, machine.stator
    expected = (
        2.0 * s.bore_radius * machine.stack_length * w.series_turns * w.winding_factor
        * open_field(machine) / machine.pole_pairs
    )  # fmt: skip
    circuit = assemble(machine)
    zero = np.zeros(1)
    solution = solve(circuit, zero, zero, magnet_temperature=20.0)
    psi = linkages(circuit, solution.potentials, zero, zero)[0].mean()
    assert psi == pytest.approx(expected, rel=0.02)
    wave = torque_wave(FieldMagnetics.of(machine).model, i_d=0.0, i_q=0.0, remanence=0.6)
    assert wave.psi_d.mean() == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("slots", "poles", "order"), [(12, 10, 2), (12, 8, 4), (9, 8, 1), (9, 6, 3)]
)
def test_lowest_force_wave(slots: int, poles: int, order: int) -> None:
    """Known combinations (common practice, no source); at load the lowest wave is there, with twice
    electrical frequency, in both models alike."""
    machine = tooth_coil_machine("interior", slots, poles)
    i = 0.7 * current(machine)
    at = {"i_d": -i, "i_q": i, "magnet_temperature": HOT}
    network, field = (
        model.of(machine).radial_pressure(**at) for model in (CircuitModel, FieldMagnetics)
    )
    assert network.space_orders[1] == order
    lowest = [wave for wave in network.dominant(40) if wave[0] == order]
    assert abs(lowest[0][1]) == 2
    assert lowest[0][2] > 0.1 * network.dominant(1)[0][2]
    assert network.amplitude[1].max() == pytest.approx(field.amplitude[1].max(), rel=0.15)
    assert (network.of_order_one > 0.0) == (order == 1)


def test_ready_study_of_tooth_coils() -> None:
    """The baseline passes through both models; losses, ripple and linkages are close."""
    study = load("studies/orchard-tractor-tooth-coils.toml")
    machine = tooth_coil_machine("interior", 12, 10)
    parameters = {
        **dict(machine.parameters.items()),
        "turns_per_coil": 9, "stator_outer_diameter": 0.22, "stack_length": 0.065,
        "magnet_axial_segments": 12, "magnet_width_segments": 3,
    }  # fmt: skip
    found = {m: evaluate(parameters, study.duty, model=m) for m in ("circuit", "field")}
    assert {m: e.status for m, e in found.items()} == {"circuit": "ok", "field": "ok"}
    network, field = found["circuit"].metrics, found["field"].metrics
    assert network["lowest_force_order"] == field["lowest_force_order"] == 2
    assert network["unbalanced_pull"] == 0.0
    assert network["peak_torque"] == pytest.approx(field["peak_torque"], rel=0.04)
    assert network["cycle_loss_iron"] == pytest.approx(field["cycle_loss_iron"], rel=0.25)
    assert network["top_speed_magnet_loss"] == pytest.approx(
        field["top_speed_magnet_loss"], rel=0.3
    )


@pytest.mark.parametrize(
    ("family", "seed", "changes", "duty"),
    [
        # few turns: the characteristic current is many times the inverter's
        ("surface", 37, {"turns_per_coil": 4, "stack_length": 0.15}, "orchard-tractor-tooth-coils"),
        ("surface", 43, {"turns_per_coil": 4, "stack_length": 0.15}, "orchard-tractor-tooth-coils"),
        # four times the current: iron saturates within one step of the map
        ("interior", 41, {}, "island-post-van"), ("interior", 47, {}, "island-post-van"),
        ("reluctance", 8, {}, "island-post-van"), ("reluctance", 48, {}, "island-post-van"),
    ],
)  # fmt: skip
def test_short_circuits_beyond_the_map_and_round_sharp_knees(
    family: str, seed: int, changes: dict[str, float], duty: str
) -> None:
    table = tooth_coil_design(np.random.default_rng(seed), family)
    found = evaluate({**table, **changes}, load(f"studies/{duty}.toml").duty, family=family)
    assert found.status == ("ok" if family == "surface" else "infeasible"), found.message
    assert family == "surface" or found.reason == "thermal_runaway"
