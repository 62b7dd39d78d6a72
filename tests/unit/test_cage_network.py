"""The cage machine's network: rotor condition, energy, limits, numbers that are not whole."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from models.circuit.cage_network import CageNetwork, CageStates, solve_cage, wave_along_q
from models.circuit.cage_pole import cage_pole
from models.circuit.gap import NO_OPENINGS, Openings, effective_width
from models.circuit.solution import solve
from models.induction.leakage import ring_linkage
from models.induction.model import CageModel
from models.induction.rotor_flux import state_of_currents
from tests.unit.test_cage_machine import machine

D, Q = np.array([0.0, 40.0, 120.0, 400.0]), np.array([0.0, 80.0, 240.0, 500.0])


@pytest.fixture(scope="module")
def network() -> CageNetwork:
    return CageModel.of(machine()).network


@pytest.fixture(scope="module")
def states(network: CageNetwork) -> CageStates:
    return solve_cage(network, D, Q)


def states_of(**changes: float | int | str) -> CageStates:
    return solve_cage(CageModel.of(machine(**changes)).network, D, Q)


def test_rotor_has_no_linkage_along_q(network, states):
    """Bars' mean potentials, their own field and the rings': nothing left but rounding."""
    circuit, pole, m = network.circuit, network.pole, network.circuit.machine
    solution = solve(circuit, D, Q, magnet_temperature=20.0, tolerance=1e-9)
    current = network.current_unit * solution.potentials[..., circuit.network.rotor_start - 1]
    wave, body = wave_along_q(pole), pole.body
    mean = np.zeros((*current.shape, pole.count))
    for nodes, share in ((pole.bottom, 1.0 - body.mean_top), (pole.top, body.mean_top)):
        for side in nodes:
            mean += 0.5 * share * solution.potentials[..., circuit.network.rotor_start + side]
    own = 4e-7 * pi * body.own_permeance * wave * current[..., None]
    scale = network.bar_ratio / 1.5 * 2 * m.pole_pairs * m.stack_length
    along_q = scale * ((mean + own) @ wave) + ring_linkage(m) * current / network.bar_ratio
    assert np.abs(along_q).max() < 1e-6 * np.abs(states.psi_d).max()


def test_torque_from_both_sides(states):
    """1.5 p (psi_d i_q - psi_q i_d) is that of the bars' current in the rotor's flux, 1 %."""
    stator = states.psi_d * Q - states.psi_q * D[:, None]
    rotor = -states.rotor_flux * states.rotor_current
    np.testing.assert_allclose(rotor[1:, 1:], stator[1:, 1:], rtol=0.01)


def test_linkages_come_from_one_energy(network):
    """d psi_d / d i_q = d psi_q / d i_d with the bars' current adjusting, saturated, 0.5 %."""
    step = 2.0
    for d, q in ((60.0, 150.0), (300.0, 300.0)):
        around = solve_cage(network, np.array([d - step, d, d + step]), q + step * np.arange(-1, 2))
        across = (around.psi_d[1, 2] - around.psi_d[1, 0], around.psi_q[2, 1] - around.psi_q[0, 1])
        scale = around.psi_d[2, 1] - around.psi_d[0, 1]
        assert across[0] == pytest.approx(across[1], abs=5e-3 * abs(scale))
        assert abs(across[0]) > 0.02 * abs(scale)


def test_axes_are_free_of_each_other_without_the_other_current(states):
    assert np.abs(states.psi_d[0]).max() < 2e-3 * states.psi_d.max()
    assert np.abs(states.psi_q[:, 0]).max() < 2e-3 * states.psi_q.max()
    assert np.all(np.diff(states.psi_d, axis=0) > 0.0)
    assert np.all(np.diff(states.psi_q, axis=1) > 0.0)


def test_unsaturated_network_is_the_t_circuit():
    """Open slots, small currents: magnetising within 2 %, rotor current 1 %, leakage 8 %."""
    model = CageModel.of(machine())
    i = np.array([0.0, 10.0])
    found = solve_cage(model.network, i, i)
    known = state_of_currents(model.circuit(120.0), i[1:], i[1:])
    assert found.psi_d[1, 1] == pytest.approx(float(known.psi_d[0]), rel=0.02)
    assert found.rotor_current[1, 1] == pytest.approx(float(known.rotor_current[0]), rel=0.01)
    assert found.psi_q[1, 1] == pytest.approx(float(known.psi_q[0]), rel=0.08)


def test_bars_that_are_not_whole_lie_between_their_neighbours():
    """57 and 58 bars, 14.25 and 14.5 a pole: each within 3 % of the next."""
    assert [cage_pole(machine(bars=b)).count for b in (56, 57, 58, 60)] == [14, 14, 15, 15]
    found = {b: states_of(bars=b) for b in (56, 57, 58, 60)}
    for few, many in ((56, 57), (57, 58), (58, 60)):
        for name in ("psi_d", "psi_q", "rotor_current"):
            a, b = getattr(found[few], name), getattr(found[many], name)
            np.testing.assert_allclose(b[1:, 1:], a[1:, 1:], rtol=0.03)


def test_turns_scale_linkage_with_their_number(states):
    """Twice the turns, half the current: the same field, twice the linkage."""
    doubled = machine(turns_per_coil=2 * int(machine().parameters["turns_per_coil"]))
    twice = solve_cage(CageModel.of(doubled).network, 0.5 * D, 0.5 * Q)
    np.testing.assert_allclose(twice.psi_d[1:, 1:], 2.0 * states.psi_d[1:, 1:], rtol=1e-3)
    np.testing.assert_allclose(twice.psi_q[1:, 1:], 2.0 * states.psi_q[1:, 1:], rtol=1e-3)


def test_closed_slots_leak_more_where_bridges_are_not_saturated():
    open_slots, closed = states_of(), states_of(rotor_slot_opening=0.0)
    ratio = closed.psi_q[0, 1:] / open_slots.psi_q[0, 1:]
    assert ratio[0] > 1.05
    assert ratio[0] > ratio[-1]


def test_cage_maps_are_the_networks(states):
    """Iron: tooth and yoke peaks plausible; cage loss is 1.5 R i_r^2; none without current."""
    model = CageModel.of(machine())
    found = model.maps_over((D, Q), temperature=120.0)
    maps, r = found.maps, float(model.circuit(120.0).resistance[0])
    assert 1.6 < maps.tooth_peak.max() < 2.4
    assert 1.2 < maps.yoke_peak.max() < 2.3
    assert np.all(maps.iron_hysteresis >= 0.0)
    assert maps.cage_loss is not None
    least = 1.5 * r * states.rotor_current[:, 1:] ** 2
    assert np.all(maps.cage_loss[:, 1:] >= least * (1.0 - 1e-9))
    np.testing.assert_allclose(maps.cage_loss[3, 1:], least[3], rtol=0.05)
    assert not np.any(maps.cage_loss[:, 0])


def test_skew_comes_from_the_t_circuit():
    """What a skew of one slot changes is the T circuit's difference, in every map."""
    skewed = CageModel.of(machine(skew_slots=1.0))
    straight = CageModel(replace(skewed.machine, rotor=replace(skewed.machine.rotor, skew=0.0)))
    a, b = (x.maps_over((D, Q), temperature=120.0).maps for x in (straight, skewed))
    grid = [g.ravel() for g in np.meshgrid(D, Q, indexing="ij")]
    with_skew, without = (state_of_currents(x.circuit(120.0), *grid) for x in (skewed, straight))
    more = (with_skew.psi_q - without.psi_q).reshape(4, 4)
    np.testing.assert_allclose(b.psi_q - a.psi_q, more, atol=1e-9)
    assert more[1, 1] > 0.01 * a.psi_q[1, 1]


def test_gap_in_front_of_openings_by_hand():
    """Plain, one opening, both facing each other, partly covered, and none."""
    stator, rotor = Openings(0.0, 1.0, 0.1, 2.0), Openings(0.05, 0.5, 0.05, 3.0)
    assert effective_width(0.2, 0.3, stator, rotor) == pytest.approx(0.1)
    assert effective_width(-0.3, 0.0, stator, NO_OPENINGS) == pytest.approx(0.2 + 0.1 / 2.0)
    assert effective_width(0.0, 0.1, stator, rotor) == pytest.approx(0.1 / 4.0)
    assert effective_width(0.05, 0.3, NO_OPENINGS, rotor) == pytest.approx(0.2 + 0.05 / 3.0)
    assert effective_width(0.05, 0.3, stator, rotor) == pytest.approx(0.2 + 0.05 / 4.0)
