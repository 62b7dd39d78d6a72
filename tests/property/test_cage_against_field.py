"""Cage circuit against finite elements: linkages, torque in rotor-flux axes, bar loss at slip."""

import numpy as np
import pytest

from models.field.cage_field import CageField, cage_field, covered_poles, solve_at_slip
from models.field.cage_maps import CageFieldModel, solve_rotor_flux
from models.field.factor import Factor
from models.induction.circuit import CageCircuit
from models.induction.model import CageModel
from models.induction.rotor_flux import slip_frequency, state_of_currents
from tests.unit.test_cage_machine import machine


@pytest.fixture(scope="module")
def pair() -> tuple[CageCircuit, CageField]:
    """Four poles, 48 slots, 56 bars: 14 bars a pole, open slots."""
    m = machine()
    return CageModel.of(m).circuit(120.0), cage_field(m)


@pytest.mark.parametrize(
    ("i_d", "i_q", "bound"), [(28.0, 28.0, 0.02), (113.0, 170.0, 0.03), (226.0, 508.0, 0.05)]
)
def test_cage_circuit_against_static_field(pair, i_d, i_q, bound):
    """Torque within the bound; psi_d 2 %; from the field's gap torque and its linkages alike."""
    circuit, field = pair
    factor = Factor(field.system.columns, field.system.rows, field.system.plan)
    found = solve_rotor_flux(field, circuit, i_d, i_q, factor=factor)
    state = state_of_currents(circuit, np.array([i_d]), np.array([i_q]))
    by_circuit = 3.0 * float(state.psi_d[0] * i_q - state.psi_q[0] * i_d)
    by_field = 3.0 * (found.psi_d * i_q - found.psi_q * i_d)
    assert found.torque == pytest.approx(by_field, rel=0.01)
    assert by_circuit == pytest.approx(by_field, rel=bound)
    assert float(state.psi_d[0]) == pytest.approx(found.psi_d, rel=0.02)
    assert float(state.rotor_current[0]) == pytest.approx(found.rotor_current, rel=0.02)


def test_cage_circuit_against_field_at_slip(pair):
    """Unsaturated: torque, bar and ring loss of solid bars at slip frequency within 2 %."""
    circuit, field = pair
    state = state_of_currents(circuit, np.array([28.0]), np.array([28.0]))
    slip = float(slip_frequency(circuit, state.rotor_flux, state.rotor_current)[0])
    found = solve_at_slip(field, 28.0 * 2.0**0.5, slip, temperature=120.0)
    torque = 3.0 * float(state.psi_d[0] - state.psi_q[0]) * 28.0
    assert found.torque == pytest.approx(torque, rel=0.02)
    loss = found.bar_loss + found.ring_loss
    assert loss == pytest.approx(float(state.cage_loss[0]), rel=0.02)
    # common practice, no source: the cage loses slip times gap power
    assert loss == pytest.approx(slip * found.torque / 2.0, rel=0.01)


def test_cage_over_a_pole_pair_is_what_it_is_over_a_pole(pair):
    """The same machine meshed over one pole and over two: linkages within 0.1 %."""
    circuit, field = pair
    assert (covered_poles(field.machine), covered_poles(machine(bars=58))) == (1, 2)
    both = [field, cage_field(field.machine, poles=2)]
    found = [
        solve_rotor_flux(
            f, circuit, 68.0, 68.0,
            factor=Factor(f.system.columns, f.system.rows, f.system.plan),
        )
        for f in both
    ]  # fmt: skip
    assert found[1].psi_d == pytest.approx(found[0].psi_d, rel=1e-3)
    assert found[1].psi_q == pytest.approx(found[0].psi_q, rel=5e-3)
    assert found[1].torque == pytest.approx(found[0].torque, rel=2e-3)


def test_skew_is_the_circuits_on_top_of_the_field():
    """A skewed cage leaks more, in the field's map as in the circuit's: same difference."""
    found = []
    for skew in (0.0, 1.0):
        m = machine(skew_slots=skew)
        models = CageFieldModel(m, cage_field(m), CageModel.of(m)), CageModel.of(m)
        maps = [x.flux_maps(current_peak=200.0, magnet_temperature=120.0) for x in models]
        # the only common current of both grids but zero is the largest
        found.append([x.psi_q[-1, -1] for x in maps])
    (field, circuit), (skewed_field, skewed_circuit) = found
    assert skewed_circuit > circuit * 1.02
    assert skewed_field - field == pytest.approx(skewed_circuit - circuit, rel=1e-3)
