"""The cage machine: circuit in rotor-flux axes against its T circuit, slip, pull-out, strength."""

from dataclasses import fields, replace
from math import pi, sqrt

import numpy as np
import pytest

from models.control.operate import envelope
from models.control.slip import slip_frequency as table_slip
from models.control.table import interpolate, torque_table
from models.errors import InfeasibleDesignError, InvalidInputError
from models.evaluate import magnetic_model
from models.flux_maps import FluxMaps
from models.geometry.air_gap import carter_factor
from models.geometry.build import build
from models.geometry.cage import bar_area
from models.induction.circuit import CageCircuit, assemble_cage
from models.induction.combinations import slot_bar_conflicts
from models.induction.equivalent import EquivalentCircuit, pull_out, steady_state
from models.induction.leakage import bar_current_density, bridge_gap_factor, bridge_length
from models.induction.magnetising import gauss_radii, teeth_path
from models.induction.model import CageModel
from models.induction.rotor_flux import slip_frequency, state_of_currents
from models.mechanical.cage_stress import cage_burst_speed, cage_safety_factor, cage_stresses

FOUR_POLES = {
    "poles": 4, "slots": 48, "bore_ratio": 0.62, "slot_depth_ratio": 0.5, "parallel_paths": 2,
    "air_gap": 0.7e-3, "shaft_ratio": 0.3,
}  # fmt: skip


def machine(**changes):
    return build({**FOUR_POLES, "bars": 56, **changes}, family="cage")


@pytest.fixture(scope="module")
def circuit() -> CageCircuit:
    return assemble_cage(machine(), temperature=120.0)


@pytest.fixture(scope="module")
def linear(circuit: CageCircuit) -> CageCircuit:
    """The same with iron that takes nothing and bars without skin effect."""
    curves = replace(
        circuit.curves,
        stator=np.zeros_like(circuit.curves.stator),
        rotor=np.zeros_like(circuit.curves.rotor),
    )
    flat = np.full_like(circuit.resistance, circuit.resistance[0])
    inner = np.full_like(circuit.bar_inductance, circuit.bar_inductance[0])
    return replace(circuit, curves=curves, resistance=flat, bar_inductance=inner)


def t_circuit(c: CageCircuit, frequency: float, resistance: float = 0.0) -> EquivalentCircuit:
    w = 2.0 * pi * frequency
    leakage = float(c.slot_leakage(np.ones(1), np.zeros(1))[0])
    return EquivalentCircuit(
        stator_resistance=resistance,
        rotor_resistance=float(c.resistance[0]),
        stator_reactance=w * (c.stator_slot + c.stator_harmonic),
        rotor_reactance=w * (leakage + c.rotor_harmonic + c.ring),
        magnetising_reactance=w * c.magnetising_inductance,
        pole_pairs=c.machine.pole_pairs,
        frequency=frequency,
    )


def maps_of_circuit(circuit: CageCircuit, peak: float) -> FluxMaps:
    """Maps of a T circuit alone, without end winding and slip."""
    i_d, i_q = peak * np.linspace(0.0, 1.0, 13) ** 1.6, np.linspace(0.0, peak, 9)
    state = state_of_currents(circuit, *(g.ravel() for g in np.meshgrid(i_d, i_q, indexing="ij")))
    zero = np.zeros((13, 9))
    grids = {f.name: zero for f in fields(FluxMaps)}
    scalars = {"remanence": 0.0, "magnet_temperature": 120.0, "end_inductance": 0.0}
    psi = {"psi_d": state.psi_d.reshape(13, 9), "psi_q": state.psi_q.reshape(13, 9)}
    return FluxMaps(**{**grids, **scalars, **psi, "i_d": i_d, "i_q": i_q, "cage_loss": None})


@pytest.mark.parametrize(("i_d", "i_q"), [(20.0, 5.0), (60.0, 90.0), (15.0, 200.0)])
def test_cage_linear_state_is_the_t_circuit(linear, i_d, i_q):
    """Same currents, torque and rotor loss as the textbook's circuit at the same slip, 1e-6."""
    state = state_of_currents(linear, np.array([i_d]), np.array([i_q]))
    slip_w = float(slip_frequency(linear, state.rotor_flux, state.rotor_current)[0])
    frequency = 60.0
    w = 2.0 * pi * frequency
    voltage = w * float(np.hypot(state.psi_d, state.psi_q)[0]) / sqrt(2.0)
    point = steady_state(t_circuit(linear, frequency), slip_w / w, voltage)
    assert abs(point.stator_current) * sqrt(2.0) == pytest.approx(np.hypot(i_d, i_q), rel=1e-6)
    torque = 3.0 * float((state.psi_d * i_q - state.psi_q * i_d)[0])
    assert point.torque == pytest.approx(torque, rel=1e-6)
    assert point.rotor_loss == pytest.approx(float(state.cage_loss[0]), rel=1e-6)


def test_cage_loses_slip_times_gap_power(circuit):
    """Common practice, no source: w_s T / p is what bars and rings dissipate, saturated too."""
    d, q = (g.ravel() for g in np.meshgrid([10.0, 80.0, 400.0], [30.0, 300.0, 560.0]))
    state = state_of_currents(circuit, d, q)
    torque = 3.0 * (state.psi_d * q - state.psi_q * d)
    slip = slip_frequency(circuit, state.rotor_flux, state.rotor_current)
    np.testing.assert_allclose(slip * torque / 2.0, state.cage_loss, rtol=2e-4)
    # torque seen from the rotor
    np.testing.assert_allclose(torque, -3.0 * state.rotor_flux * state.rotor_current, rtol=1e-9)


def test_cage_magnetising_bends_and_unsaturated_follows_the_gap(circuit):
    """At a fifth of the knee psi is within 8 % of gap and leakage alone; later far below."""
    state = state_of_currents(circuit, np.array([10.0, 500.0]), np.zeros(2))
    alone = circuit.magnetising_inductance + circuit.stator_slot + circuit.stator_harmonic
    ratio = state.psi_d / (alone * np.array([10.0, 500.0]))
    assert 0.92 < ratio[0] < 1.0
    assert ratio[1] < 0.3


def test_cage_pull_out_is_most_torque_per_volt(linear):
    """Most torque at a stator frequency within a voltage: Thevenin's pull-out, 0.5 %."""
    peak = 3000.0
    maps = maps_of_circuit(linear, peak)
    table = torque_table(maps, pole_pairs=2, current_peak=peak, resistance=1e-9)
    frequency, voltage = 400.0, 150.0
    speed = np.array([2.0 * pi * frequency / 2.0])
    most = envelope(table, speed, voltage * sqrt(2.0))
    _, torque = pull_out(t_circuit(linear, frequency), voltage)
    assert float(np.hypot(most.i_d, most.i_q)[0]) < 0.9 * peak
    assert float(most.torque[0]) == pytest.approx(torque, rel=5e-3)


def test_cage_voltage_counts_slip(circuit):
    """At the envelope the terminal voltage with slip meets its limit, not that without."""
    maps = CageModel.of(circuit.machine).flux_maps(current_peak=500.0, magnet_temperature=120.0)
    table = torque_table(maps, pole_pairs=2, current_peak=500.0, resistance=0.02)
    speed = np.array([250.0, 500.0, 900.0])
    for generating in (False, True):
        most = envelope(table, speed, 180.0, is_generating=generating)
        slip = table_slip(table, most.torque, most.i_d, most.i_q)
        assert np.all(slip < 0.0) if generating else np.all(slip > 0.0)
        d, q = most.i_d, np.abs(most.i_q)
        psi_d, psi_q = interpolate(table, table.psi_d, d, q), interpolate(table, table.psi_q, d, q)
        psi_q = np.sign(most.i_q) * psi_q
        w = 2.0 * speed + slip
        v = np.hypot(0.02 * d - w * psi_q, 0.02 * most.i_q + w * psi_d)
        np.testing.assert_allclose(v[1:], 180.0, rtol=5e-3)


def test_cage_hot_rotor_needs_more_slip():
    """Resistivity of the cage scales loss and slip, and leaves torque as it was."""
    cold, hot = (
        assemble_cage(machine(cage_material="aluminium"), temperature=t) for t in (20.0, 120.0)
    )
    at = (np.array([90.0]), np.array([150.0]))
    a, b = state_of_currents(cold, *at), state_of_currents(hot, *at)
    ratio = 1.0 + 0.00403 * 100.0
    assert float(b.cage_loss[0] / a.cage_loss[0]) == pytest.approx(ratio, rel=2e-3)
    assert float(b.psi_d[0]) == pytest.approx(float(a.psi_d[0]), rel=1e-3)


def test_cage_closed_slot_leaks_more_at_small_current():
    """A bridge is a short for the leakage flux until it saturates."""
    closed = assemble_cage(machine(rotor_slot_opening=0.0), temperature=120.0)
    leakage = closed.slot_leakage(np.array([1.0, 20.0, 500.0]), np.zeros(3))
    assert leakage[0] > 2.0 * leakage[1] > 2.0 * leakage[2]


def test_cage_current_density_by_hand():
    """All loss in bars and rings; the mean bar current of a known loss."""
    m = machine()
    density = bar_current_density(m, 1000.0, temperature=120.0)
    assert bar_current_density(m, 4000.0, temperature=120.0) == pytest.approx(2.0 * density)
    state = state_of_currents(CageModel.of(m).circuit(120.0), np.array([80.0]), np.array([200.0]))
    c = CageModel.of(m).circuit(120.0)
    by_hand = c.bar_current * float(-state.rotor_current[0]) / sqrt(2.0) / bar_area(c.rotor)
    found = bar_current_density(m, float(state.cage_loss[0]), temperature=120.0)
    assert found == pytest.approx(by_hand, rel=2e-3)


def test_slot_and_bar_numbers_that_are_known_to_sound_or_cog():
    assert slot_bar_conflicts(48, 58, 4) == ()
    assert slot_bar_conflicts(36, 28, 4)[0].startswith("cusps")
    assert slot_bar_conflicts(48, 36, 4)[0].startswith("cogging")
    assert slot_bar_conflicts(48, 46, 4)[0].startswith("noise")


def test_cage_stress_grows_with_squared_speed():
    m = machine()
    slow, fast = cage_stresses(m, 500.0), cage_stresses(m, 1000.0)
    for part in ("tooth", "cover", "ring"):
        assert fast[part] == pytest.approx(4.0 * slow[part])
    # thin free ring: rho v^2 at its mean radius
    r = m.rotor
    thin = r.material.density * (1000.0 * r.ring_radius) ** 2
    assert fast["ring"] == pytest.approx(thin, rel=0.35)
    assert cage_safety_factor(m, 1000.0, temperature=140.0) == pytest.approx(
        cage_safety_factor(m, 500.0, temperature=140.0) / 4.0
    )
    assert 800.0 < cage_burst_speed(m) < 8000.0


def test_cage_field_model_refuses_numbers_it_cannot_cover():
    eight_poles = machine(poles=8, parallel_paths=4, bars=58)
    with pytest.raises(InfeasibleDesignError) as error:
        magnetic_model(eight_poles, "field")
    assert error.value.reason == "bars_per_pole_pair_not_whole"
    with pytest.raises(InvalidInputError, match="CageRotor"):
        CageModel.of(build({}))


def test_bridge_over_a_closed_slot_is_iron_until_it_saturates():
    """Limits: next to nothing of a gap at small flux; Carter's factor of an open slot at most."""
    m = machine(rotor_slot_opening=0.0, bar_shape="rectangular")
    r, table = m.rotor, m.lamination.magnetisation
    gap, pitch = m.air_gap, m.rotor.slot_pitch * m.rotor.outer_radius
    factor = bridge_gap_factor(
        r, np.array([0.01, 0.5, 5.0]), np.array([0.0, 300.0, 1e5]), gap=gap, table=table
    )
    assert factor[0] == pytest.approx(1.0, abs=2e-3)
    assert factor[0] < factor[1] <= factor[2]
    assert factor[2] == pytest.approx(carter_factor(bridge_length(r), gap, pitch), rel=1e-6)


def test_tapered_tooth_takes_what_its_narrow_end_needs():
    """Potential of a tooth from 4 to 8 mm against a fine sum over its height."""
    table = machine().lamination.magnetisation
    inner, outer, pitch = 0.05, 0.07, 0.2

    def path(radii: np.ndarray, weights: np.ndarray) -> np.ndarray:
        widths = 4e-3 + 0.2 * (radii - inner)
        per_pitch = [
            teeth_path(table, radii=np.full(5, r), widths=np.full(5, w), pitch=pitch,
                       gap_radius=inner, length=outer - inner, stacking=0.97, reach=0.9).potential
            for r, w in zip(radii, widths)
        ]  # fmt: skip
        return weights @ np.array(per_pitch)

    fine = inner + (outer - inner) * (np.arange(200) + 0.5) / 200.0
    radii = gauss_radii(inner, outer)
    found = teeth_path(
        table, radii=radii, widths=4e-3 + 0.2 * (radii - inner), pitch=pitch, gap_radius=inner,
        length=outer - inner, stacking=0.97, reach=0.9,
    )  # fmt: skip
    expected = path(fine, np.full(200, 1.0 / 200.0))
    np.testing.assert_allclose(found.potential[1:], expected[1:], rtol=0.04)
    # with flux of 0.75 T in the gap the narrow end is near 2 T
    assert found.potential[-1] == pytest.approx(expected[-1], rel=0.02)
