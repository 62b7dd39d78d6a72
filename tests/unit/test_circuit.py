"""The magnetic network: symmetry, limits, derivatives, energy."""

from math import pi

import numpy as np
import pytest

from models.circuit import lanes
from models.circuit.coupling import gap_factors
from models.circuit.elimination import plan_at
from models.circuit.gap import NO_OPENINGS, add_gap
from models.circuit.maps import flux_maps, magnet_flux_density
from models.circuit.newton import fill_hessian, fill_residual, new_field
from models.circuit.solution import (
    Circuit,
    Solution,
    assemble,
    linkages,
    position_count,
    solve,
)
from models.circuit.sparse import (
    back_substitute,
    elimination_targets,
    factorise,
    order_and_fill,
    packed_slots,
)
from models.circuit.torque_split import torque_split
from models.circuit.waveforms import stator_waveforms
from models.geometry.air_gap import carter_factor
from models.geometry.build import build

PEAK = 500.0


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    return assemble(build({}))


@pytest.fixture(scope="module")
def solution(circuit: Circuit) -> Solution:
    return solve(
        circuit,
        np.linspace(-PEAK, 0.0, 5),
        np.linspace(0.0, PEAK, 5),
        magnet_temperature=90.0,
    )


def test_sparse_factorisation_solves_eight_random_systems_of_one_pattern() -> None:
    rng = np.random.default_rng(3)
    n = 30
    pattern = np.where(rng.random((n, n)) < 0.06, 1.0, 0.0)
    order, start, rows = order_and_fill(pattern + pattern.T)
    place = np.argsort(order)
    slots = packed_slots(start, rows)
    packed = np.zeros((n + len(rows), lanes.COUNT))
    matrices = []
    for lane in range(lanes.COUNT):
        matrix = (pattern + pattern.T) * rng.random((n, n))
        matrix = matrix + matrix.T
        matrix += np.diag(np.abs(matrix).sum(axis=1) + 1.0)
        matrices.append(matrix)
        for i, j in zip(*np.nonzero(matrix)):
            high, low = max(place[i], place[j]), min(place[i], place[j])
            packed[slots[high, low], lane] = matrix[i, j]
    rhs = rng.random((n, lanes.COUNT))
    x = rhs[order].copy()
    factorise(packed, start, elimination_targets(start, rows, slots))
    back_substitute(packed, start, rows.astype(np.uint64), x)
    for lane, matrix in enumerate(matrices):
        np.testing.assert_allclose(matrix @ x[place, lane], rhs[:, lane], rtol=1e-12)


def test_hessian_is_the_derivative_of_the_residual(circuit: Circuit, solution: Solution) -> None:
    network = circuit.network
    order, plan = circuit.elimination.order[0], plan_at(circuit.elimination, 0)
    point = np.repeat(solution.potentials[0, 1, 3][order][:, None], lanes.COUNT, axis=1)
    n = network.size
    loads = np.zeros((n, lanes.COUNT))

    def evaluate(potentials: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        residual = np.empty((n, lanes.COUNT))
        field = new_field(len(network.cell_count))
        packed = np.empty((circuit.elimination.linear.shape[1], lanes.COUNT))
        fill_residual(potentials, loads, plan, circuit.iron, field, residual)
        fill_hessian(plan, circuit.iron, field, False, packed)
        lower = np.diag(packed[:n, 0])
        for k in range(n):
            for a in range(plan.start[k], plan.start[k + 1]):
                lower[int(plan.rows[a]), k] = packed[n + a, 0]
        return residual[:, 0], lower + np.tril(lower, -1).T

    _, hessian = evaluate(point)
    direction = np.random.default_rng(0).standard_normal(n) * np.abs(point).max()
    h, step = 1e-6, direction[:, None]
    numeric = (evaluate(point + h * step)[0] - evaluate(point - h * step)[0]) / (2 * h)
    np.testing.assert_allclose(
        hessian @ direction, numeric, rtol=1e-4, atol=1e-4 * np.abs(numeric).max()
    )


def test_a_point_does_not_depend_on_the_points_solved_beside_it(circuit: Circuit) -> None:
    currents = np.linspace(0.0, PEAK, 11)
    i_d = np.array([-0.5 * PEAK])
    grid = solve(circuit, i_d, currents, magnet_temperature=90.0, tolerance=1e-9)
    for q in (0, 5, 10):
        alone = solve(circuit, i_d, currents[q : q + 1], magnet_temperature=90.0, tolerance=1e-9)
        np.testing.assert_allclose(
            alone.potentials[:, 0, 0], grid.potentials[:, 0, q], rtol=1e-7, atol=1e-9
        )


def test_no_current_gives_flux_on_the_magnet_axis_only(
    circuit: Circuit,
) -> None:
    zero = np.zeros(1)
    still = solve(circuit, zero, zero, magnet_temperature=90.0, tolerance=1e-8)
    psi_d, psi_q = linkages(circuit, still.potentials, zero, zero)
    assert psi_d.min() > 0.0
    assert abs(psi_q.mean()) < 1e-6 * psi_d.mean()


def test_reversed_q_current_mirrors_the_field(circuit: Circuit) -> None:
    i_d = np.array([-200.0])
    both = solve(circuit, i_d, np.array([-300.0, 300.0]), magnet_temperature=90.0, tolerance=1e-10)
    psi_d, psi_q = linkages(circuit, both.potentials, i_d, both.i_q)
    assert psi_d.mean(axis=0)[0, 0] == pytest.approx(psi_d.mean(axis=0)[0, 1], rel=1e-6)
    assert psi_q.mean(axis=0)[0, 0] == pytest.approx(-psi_q.mean(axis=0)[0, 1], rel=1e-6)


def test_cross_coupling_is_reciprocal(circuit: Circuit) -> None:
    """d psi_d / d i_q = d psi_q / d i_d: the linkages derive from one co-energy."""
    h = 0.5
    i_d, i_q = np.array([-200.0 - h, -200.0 + h]), np.array([250.0 - h, 250.0 + h])
    near = solve(circuit, i_d, i_q, magnet_temperature=90.0, tolerance=1e-11)
    psi_d, psi_q = linkages(circuit, near.potentials, i_d, i_q)
    d_by_q = (psi_d[:, :, 1] - psi_d[:, :, 0]).mean(axis=1) / (2 * h)
    q_by_d = (psi_q[:, 1, :] - psi_q[:, 0, :]).mean(axis=1) / (2 * h)
    np.testing.assert_allclose(d_by_q, q_by_d, rtol=1e-3)  # central differences over 1 A


def test_remanence_sensitivity_matches_a_second_solution(circuit: Circuit) -> None:
    i_d, i_q = np.linspace(-PEAK, 0.0, 5), np.linspace(0.0, PEAK, 5)
    cool, warm = (
        solve(circuit, i_d, i_q, magnet_temperature=t, tolerance=1e-8) for t in (90.0, 100.0)
    )
    predicted = cool.potentials + (warm.remanence - cool.remanence) * cool.per_remanence
    scale = np.abs(warm.potentials).max()
    np.testing.assert_allclose(predicted, warm.potentials, atol=5e-4 * scale)


def test_without_magnets_flux_is_proportional_to_small_currents() -> None:
    circuit = assemble(build({"magnet_grade": "N42SH"}))
    # Remanence scales the source; a hundredth of an ampere keeps iron near its initial slope.
    small = np.array([-0.02, -0.01]), np.array([0.0, 0.01])
    dead = _without_magnets(circuit)
    result = solve(dead, *small, magnet_temperature=20.0)
    psi_d, _ = linkages(dead, result.potentials, *small)
    assert psi_d[:, 0, 0].mean() == pytest.approx(2.0 * psi_d[:, 1, 0].mean(), rel=1e-3)


def _without_magnets(circuit: Circuit) -> Circuit:
    from dataclasses import replace

    network = replace(circuit.network, magnet_source=0.0 * circuit.network.magnet_source)
    return replace(circuit, network=network)


def test_waveforms_are_continuous_over_half_a_period(circuit: Circuit, solution: Solution) -> None:
    waves = stator_waveforms(circuit, solution)
    closed = np.concatenate([waves.first, -waves.first[..., :1]], axis=-1)
    # a wrongly sorted belt would jump by twice the peak, above 3.5 T
    assert np.abs(np.diff(closed, axis=-1)).max() < 2.0
    size = np.sqrt(waves.first**2 + waves.second**2).max(axis=-1)
    np.testing.assert_allclose(waves.largest, size)


def test_torque_parts_sum_and_reluctance_vanishes_on_both_axes(circuit: Circuit) -> None:
    split = torque_split(circuit, current_peak=PEAK, magnet_temperature=90.0, points=13)
    np.testing.assert_allclose(split.magnet + split.reluctance, split.total, atol=1e-9)
    assert abs(split.total[-1]) < 1e-3 * split.total.max()
    assert abs(split.reluctance[0]) < 0.03 * split.total.max()
    # common practice, no source: magnet torque is largest on the q axis, the total in between
    assert split.magnet.argmax() == 0
    assert 0 < split.total.argmax() < 12


def test_magnets_lose_field_against_negative_d_current(
    circuit: Circuit, solution: Solution
) -> None:
    field = magnet_flux_density(circuit, solution)
    lowest = field.min(axis=(0, 3, 4))[:, 0]
    assert np.all(np.diff(lowest) > 0.0)
    assert lowest[-1] < solution.remanence


def test_maps_are_finite_and_ordered(circuit: Circuit) -> None:
    maps = flux_maps(circuit, current_peak=PEAK, magnet_temperature=90.0)
    assert np.all(np.diff(maps.psi_d, axis=0) > 0.0)
    assert np.all(np.diff(maps.psi_q, axis=1) > 0.0)
    for name in ("iron_hysteresis", "iron_classical", "iron_excess", "magnet_ripple"):
        values = getattr(maps, name)
        assert np.all(np.isfinite(values))
        assert np.all(values >= 0.0)


@pytest.mark.parametrize(("per_belt", "count"), [(1, 5), (2, 5), (3, 5), (4, 5), (5, 6), (6, 5)])
def test_positions_never_repeat_the_slotting(per_belt: int, count: int) -> None:
    assert position_count(per_belt) == count


@pytest.mark.parametrize(("slots", "paths", "count"), [(24, 4, 5), (48, 4, 5), (72, 4, 7)])
def test_positions_tell_the_slots_harmonic(slots: int, paths: int, count: int) -> None:
    found = assemble(build({"slots": slots, "parallel_paths": paths, "tooth_width_ratio": 0.45}))
    assert len(found.positions) == count
    assert count > 2 * found.sector.passings


def test_gap_in_sectors_is_as_long_as_carter_says(circuit: Circuit) -> None:
    """However nodes divide it: one flux round the gap meets the sectors one after the other."""
    stator, gap, slots = circuit.machine.stator, circuit.machine.air_gap, circuit.slots
    plain, openings = gap_factors(circuit.machine, slots, gap, is_local=True)
    assert plain == 1.0
    rng = np.random.default_rng(3)
    span = pi / circuit.machine.pole_pairs
    pitch = stator.bore_radius * stator.slot_pitch
    carter = carter_factor(stator.slot_opening, gap, pitch)
    for _ in range(5):
        angles = np.concatenate([slots.gap_angles, rng.uniform(-0.5 * span, 0.5 * span, 9)])
        n = len(angles)
        stiffness = np.zeros((n, n))
        nodes, signs = np.arange(n), np.ones(n)
        add_gap(stiffness, nodes, angles, signs, span, -1.0, 2.0, openings, NO_OPENINGS)
        place = angles - np.floor((angles + 0.5 * span) / span) * span
        sign = np.where(place == angles, 1.0, -1.0)
        order = np.argsort(place)
        after = np.roll(order, -1)
        sectors = -stiffness[order, after] * sign[order] * sign[after]
        sectors[-1] *= -1.0  # over the pole's boundary
        assert 2.0 * np.sum(1.0 / sectors) == pytest.approx(span / carter, rel=1e-5)  # arc, chord


def test_tooth_takes_the_flux_of_its_face(circuit: Circuit) -> None:
    """A sector in front of an opening is stiffer than one as wide under a tooth."""
    _, openings = gap_factors(
        circuit.machine, circuit.slots, circuit.machine.air_gap, is_local=True
    )
    half = openings.half_angle
    at = openings.first + np.array(
        [-half, half, 0.5 * openings.pitch - half, 0.5 * openings.pitch + half]
    )
    stiffness = np.zeros((4, 4))
    span = pi / circuit.machine.pole_pairs
    add_gap(stiffness, np.arange(4), at, np.ones(4), span, -1.0, 1.0, openings, NO_OPENINGS)
    assert stiffness[0, 1] / stiffness[2, 3] == pytest.approx(openings.factor)
    assert openings.factor > 1.1


def test_yoke_cells_fill_the_yoke(circuit: Circuit) -> None:
    network, s = circuit.network, circuit.machine.stator
    cells = sum(a for a, part in zip(network.cell_area, network.cell_part) if part == "yoke")
    whole = cells * circuit.sector.repeats / circuit.machine.stacking_factor
    ring = np.pi * (s.outer_radius**2 - s.slot_bottom_radius**2)
    assert whole == pytest.approx(ring, rel=1e-6)


def test_flux_prefers_the_short_way_round_inside_the_yoke() -> None:
    """Far from saturation, where a sheet conducts the better the more it carries; B r = const is
    what constant permeability would give."""
    circuit = assemble(build({"slot_depth_ratio": 0.45}))
    solution = solve(circuit, np.array([-1.0, 0.0]), np.zeros(1), magnet_temperature=90.0)
    waves = stator_waveforms(circuit, solution)
    stator = circuit.machine.stator
    peak = waves.largest[-1, 0][waves.is_yoke].reshape(-1, 4)
    inner, outer = peak[:, 0], peak[:, 2]
    radius = stator.slot_bottom_radius + stator.yoke_height * np.array([0.25, 0.75])
    assert inner.max() < 1.3
    assert np.all(inner / outer > 1.05 * radius[1] / radius[0])
