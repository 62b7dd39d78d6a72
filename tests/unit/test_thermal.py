"""Thermal network: balance, monotony, exact transients, settled cycle, ratings."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.duty import Cooling
from models.errors import InvalidInputError
from models.losses.mechanical import mechanical_loss
from models.mechanical.mass import masses
from models.thermal.network import build_network
from models.thermal.nodes import AT, NODES, ThermalNetwork, place_losses
from models.thermal.rating import continuous_rating
from models.thermal.steady import (
    Load,
    heat_removed,
    hottest_winding,
    magnet_temperature,
    standstill,
    steady_temperatures,
    system,
    winding_loss,
)
from models.thermal.transient import hold_time, settled_cycle_temperatures, temperatures_after
from tests.machines import areas, machine


def network(cooling: Cooling | None = None, **changes: Any) -> ThermalNetwork:
    m = machine(**changes)
    return build_network(m, cooling or Cooling(), masses(m, areas(m)))


def load(net: ThermalNetwork, winding: Any, speed: Any = 500.0, iron: float = 500.0) -> Load:
    p = np.asarray(winding, dtype=float)
    w = np.broadcast_to(np.asarray(speed, dtype=float), p.shape)
    friction = mechanical_loss(machine(), w, rotor_mass=15.0)
    losses = place_losses(
        net, winding_ac=0.1 * p, iron=np.full(p.shape, iron), magnet=np.full(p.shape, 40.0),
        mechanical=friction,
    )  # fmt: skip
    return Load(w, losses, p, 100.0)


class TestNetwork:
    @pytest.mark.parametrize("conductor", ["rectangular", "round"])
    def test_symmetric_and_definite(self, conductor: str) -> None:
        matrix = network(conductor=conductor).conductance([0.0, 500.0, 1500.0])
        np.testing.assert_array_equal(matrix, np.swapaxes(matrix, -1, -2))
        assert np.all(np.linalg.eigvalsh(matrix) > 0.0)
        off = matrix - matrix * np.eye(len(NODES))
        assert np.all(off <= 0.0)

    def test_rows_sum_to_boundary_conductances(self) -> None:
        net = network()
        rows = net.conductance(700.0).sum(axis=-1)
        expected = np.zeros(len(NODES))
        for boundary in net.boundaries:
            expected[boundary.node] += boundary.conductance
        np.testing.assert_allclose(rows, expected, atol=1e-8)

    def test_all_at_coolant_temperature_without_loss(self) -> None:
        net = network(Cooling(coolant_temperature=40.0, ambient_temperature=40.0))
        zero = Load(np.zeros(()), np.zeros(len(NODES)), np.zeros(()), 100.0)
        np.testing.assert_allclose(steady_temperatures(net, zero), 40.0, atol=1e-9)

    def test_placed_losses_keep_their_sum(self) -> None:
        net = network()
        friction = mechanical_loss(machine(), 900.0, rotor_mass=15.0)
        placed = place_losses(
            net, winding_ac=120.0, iron=300.0, magnet=25.0, mechanical=friction
        )  # fmt: skip
        assert placed.sum() == pytest.approx(445.0 + float(friction.total), rel=1e-12)
        assert net.winding_split.sum() == pytest.approx(1.0, rel=1e-12)

    def test_slot_profile_is_the_parabola(self) -> None:
        """Round strands: over a wall at fixed temperature the mean rise is w^2 q / (12 k) and the
        peak w^2 q / (8 k) for a slot of width w cooled at both sides (textbook)."""
        m = machine(conductor="round")
        net = network(conductor="round")
        slot, hot, teeth = AT["slot_winding"], AT["hot_spot"], AT["teeth"]
        matrix = net.fixed[np.ix_([slot, hot], [slot, hot])].copy()
        side = -net.fixed[slot, teeth]
        matrix[0, 0] = side - net.fixed[slot, hot]  # only the way to the teeth, held at zero
        rise = np.linalg.solve(matrix, [2.0 / 3.0, 1.0 / 3.0])
        mean = rise @ [2.0 / 3.0, 1.0 / 3.0]
        s, w = m.stator, m.winding
        liner = m.parameters["liner_thickness"]
        inside = 0.5 * (s.slot_width_inner + s.slot_width_outer) - 2 * liner
        area = inside * (s.body_height - liner)
        share = w.conductors_per_slot * w.conductor_area / area
        from models.thermal.conductances import hashin_shtrikman
        from models.thermal.network import INSULATION, LINER_CONTACT, STILL_AIR

        k = hashin_shtrikman(share, 385.0, INSULATION)
        face = s.slots * 2 * s.body_height * m.stack_length
        wall = (liner / INSULATION + LINER_CONTACT / STILL_AIR) / face
        # a slab's mean and peak rise per watt: w/(6 k) and w/(4 k) over both faces
        assert mean - wall == pytest.approx(inside / (6 * k) / face, rel=1e-9)
        assert rise[1] - wall == pytest.approx(1.5 * inside / (6 * k) / face, rel=1e-9)


class TestSteady:
    def test_heat_out_is_loss_in(self) -> None:
        net = network()
        p = load(net, np.linspace(0.0, 2500.0, 7), np.linspace(0.0, 1500.0, 7))
        t = steady_temperatures(net, p)
        removed = heat_removed(net, t)
        assert set(removed) == {"jacket", "ambient"}
        total = p.losses.sum(axis=-1) + winding_loss(net, p, t)
        np.testing.assert_allclose(sum(removed.values()), total, rtol=1e-9)

    def test_resistance_follows_temperature_as_by_iteration(self) -> None:
        net = network()
        p = load(net, 1500.0)
        t = np.full(len(NODES), 100.0)
        for _ in range(60):
            copper = 1500.0 * net.winding_split * (1 + 0.00393 * (t - 20)) / (1 + 0.00393 * 80)
            t = np.linalg.solve(net.conductance(500.0), net.source + p.losses + copper)
        np.testing.assert_allclose(steady_temperatures(net, p), t, rtol=1e-9)

    def test_rises_with_loss_and_coolant_falls_with_flow(self) -> None:
        net = network()
        assert np.all(
            np.diff(steady_temperatures(net, load(net, [200.0, 900.0, 1800.0])), axis=0) > 0
        )

        def hot(**changes: float) -> Any:
            n = network(replace(Cooling(), **changes))
            return steady_temperatures(n, load(n, 1200.0))

        coolant = [hot(coolant_temperature=x) for x in (20.0, 50.0, 80.0)]
        assert np.all(np.diff(coolant, axis=0) > 0)
        flow = [hot(coolant_flow=x / 60e3) for x in (1.0, 2.0, 3.0, 4.0, 6.0, 10.0, 20.0)]
        assert np.all(np.diff(flow, axis=0) < 0)

    def test_runaway_is_told(self) -> None:
        net = network()
        t = steady_temperatures(net, load(net, [500.0, 1e6]))
        assert np.all(np.isfinite(t[0]))
        assert np.all(np.isposinf(t[1]))

    def test_shapes_must_match(self) -> None:
        with pytest.raises(InvalidInputError, match=rf"losses \(3, {len(NODES)}\)"):
            Load(np.zeros(3), np.zeros((3, 4)), np.zeros(3), 100.0)


class TestTransient:
    def test_against_scipy(self) -> None:
        net = network(conductor="round")
        p = load(net, 9000.0)
        start = steady_temperatures(net, load(net, 500.0))
        matrix, rhs = system(net, p)
        reference = solve_ivp(
            lambda _, t: (rhs - matrix @ t) / net.capacity, (0, 60), start,
            method="LSODA", t_eval=[5.0, 20.0, 60.0], rtol=1e-9, atol=1e-9,
        )  # fmt: skip
        got = temperatures_after(net, p, start=start, times=[5.0, 20.0, 60.0])
        np.testing.assert_allclose(got, reference.y.T, rtol=1e-6)

    def test_begins_adiabatically_and_ends_steady(self) -> None:
        net = network()
        p = load(net, 2000.0)
        start = np.full(len(NODES), 65.0)
        got = temperatures_after(net, p, start=start, times=[0.0, 1e-3, 1e6])
        np.testing.assert_allclose(got[0], start)
        k = AT["hot_spot"]
        copper = 2000.0 * net.winding_split[k] * (1 - 0.00393 / (1 + 0.00393 * 80) * 35)
        slope = (p.losses[k] + copper) / net.capacity[k]
        assert (got[1, k] - 65.0) / 1e-3 == pytest.approx(slope, rel=0.1)
        np.testing.assert_allclose(got[2], steady_temperatures(net, p), rtol=1e-6)

    def test_hold_time_is_where_the_limit_is_met(self) -> None:
        net = network()
        start = steady_temperatures(net, load(net, 800.0))
        p = load(net, 12000.0)
        held = hold_time(net, p, start=start, winding_limit=155.0, magnet_limit=140.0)
        assert held.limit == "winding"
        then = temperatures_after(net, p, start=start, times=[held.time])
        assert float(hottest_winding(then)[0]) == pytest.approx(155.0, abs=0.02)
        longer = hold_time(
            net, load(net, 9000.0), start=start, winding_limit=155.0, magnet_limit=140.0
        )
        assert longer.time > held.time
        never = hold_time(
            net, load(net, 800.0), start=start, winding_limit=155.0, magnet_limit=140.0
        )
        assert (never.limit, never.time) == ("none", 3600.0)
        at_once = hold_time(net, p, start=start, winding_limit=50.0, magnet_limit=140.0)
        assert (at_once.limit, at_once.time) == ("winding", 0.0)

    def test_magnet_can_be_the_limit(self) -> None:
        net = network()
        start = np.full(len(NODES), 70.0)
        p = load(net, 1000.0, iron=500.0)
        p.losses[AT["magnets"]] += 2000.0
        held = hold_time(net, p, start=start, winding_limit=180.0, magnet_limit=120.0)
        assert held.limit == "magnet"
        then = temperatures_after(net, p, start=start, times=[held.time])
        assert float(magnet_temperature(then)[0]) == pytest.approx(120.0, abs=0.02)

    def test_worst_phase_at_standstill_has_twice_the_loss(self) -> None:
        net = network()
        p = load(net, [3000.0, 6000.0], 0.0)
        stalled = standstill(p)
        np.testing.assert_array_equal(stalled.winding_dc, [6000.0, 12000.0])
        after = temperatures_after(net, stalled, start=np.full(len(NODES), 65.0), times=[10.0])
        assert after.shape == (2, 1, len(NODES))
        assert hottest_winding(after)[0, 0] < hottest_winding(after)[1, 0]


class TestCycle:
    def cycle(self, net: ThermalNetwork, n: int = 240) -> Load:
        x = np.arange(n)
        winding = 3000.0 * np.maximum(0.0, np.sin(x / 11.0)) ** 3 + 200.0 * (x % 60 < 20)
        return load(net, winding, 700.0 * (1.0 - np.cos(x / 25.0)))

    def test_same_as_many_repeats(self) -> None:
        """March the cycle until it repeats itself, by exact exponentials over each interval."""
        net = network(conductor="round")
        p, dt = self.cycle(net), np.full(240, 5.0)
        settled = settled_cycle_temperatures(net, p, dt, step=5.0)
        now = settled.start.copy()
        for _ in range(3):
            track = []
            for k in range(240):
                now = temperatures_after(net, p.at(k), start=now, times=[5.0])[0]
                track.append(now)
        track = np.array(track)
        assert settled.winding == pytest.approx(hottest_winding(track).max(), abs=0.3)
        assert settled.magnet == pytest.approx(magnet_temperature(track).max(), abs=0.05)
        np.testing.assert_allclose(now, settled.start, atol=0.1)
        cold = np.full(len(NODES), 65.0)
        for _ in range(12):
            for k in range(240):
                cold = temperatures_after(net, p.at(k), start=cold, times=[5.0])[0]
        np.testing.assert_allclose(cold, settled.start, atol=0.3)

    def test_constant_load_settles_at_its_steady_state(self) -> None:
        net = network()
        p = load(net, np.full(50, 1200.0))
        settled = settled_cycle_temperatures(net, p, np.full(50, 20.0))
        steady = steady_temperatures(net, p.at(0))
        np.testing.assert_allclose(settled.start, steady, atol=1e-6)
        np.testing.assert_allclose(settled.mean, steady, atol=1e-6)

    def test_joining_intervals_changes_little(self) -> None:
        net = network(conductor="round")
        p, dt = self.cycle(net, 900), np.full(900, 1.0)
        fine = settled_cycle_temperatures(net, p, dt, step=1.0)
        coarse = settled_cycle_temperatures(net, p, dt)
        assert coarse.winding == pytest.approx(fine.winding, abs=2.0)
        assert coarse.magnet == pytest.approx(fine.magnet, abs=0.2)

    @pytest.mark.parametrize(("burst", "is_held"), [(40e3, True), (80e3, False)])
    def test_bursts_too_hot_for_the_mean_network(self, burst: float, is_held: bool) -> None:
        """A mean load that could be held, in bursts: cycles settle, or each is hotter than the
        last, as exact exponentials over every interval say."""
        net = network(conductor="round")
        winding = np.zeros(40)
        winding[:4] = burst
        p = load(net, winding)
        assert np.isfinite(steady_temperatures(net, load(net, winding.mean()))).all()
        settled = settled_cycle_temperatures(net, p, np.full(40, 10.0))
        assert np.isfinite(settled.winding) == is_held
        now, gains = np.full(len(NODES), 65.0), []
        for _ in range(60):
            before = now
            for k in range(40):
                now = temperatures_after(net, p.at(k), start=now, times=[10.0])[0]
            gains.append(np.abs(now - before).max())
        assert (gains[-1] < 0.1) == is_held
        if is_held:
            np.testing.assert_allclose(now, settled.start, rtol=0.05)
        else:
            assert gains[-1] > gains[-2] > gains[-3]
            hot = temperatures_after(net, p.at(0), start=settled.start, times=[1.0])
            assert np.isposinf(hot).all()
            at_once = hold_time(
                net, p.at(0), start=settled.start, winding_limit=155.0, magnet_limit=140.0
            )
            assert at_once.time == 0.0

    def test_runaway_and_wrong_lengths(self) -> None:
        net = network()
        p = load(net, np.full(10, 1e6))
        assert np.isposinf(settled_cycle_temperatures(net, p, np.ones(10)).winding)
        with pytest.raises(InvalidInputError, match="one duration per load"):
            settled_cycle_temperatures(net, p, np.ones(9))


class TestRating:
    levels = np.linspace(0.0, 300.0, 7)

    def rated(self, net: ThermalNetwork, magnet_limit: float = 140.0) -> Any:
        p = load(net, 6000.0 * (self.levels / 300.0) ** 2)
        return continuous_rating(
            net, p, self.levels, winding_limit=155.0, magnet_limit=magnet_limit
        )

    def test_limit_is_met_exactly(self) -> None:
        net = network()
        rating = self.rated(net)
        assert rating.limit == "winding"
        t = steady_temperatures(net, load(net, 6000.0 * (rating.torque / 300.0) ** 2))
        assert float(hottest_winding(t)) == pytest.approx(155.0, abs=0.05)
        assert float(hottest_winding(rating.temperatures)) == pytest.approx(155.0, abs=0.05)

    def test_magnet_may_bind_first(self) -> None:
        net = network()
        rating = self.rated(net, magnet_limit=95.0)
        assert rating.limit == "magnet"
        assert float(magnet_temperature(rating.temperatures)) == pytest.approx(95.0, abs=0.05)

    def test_better_cooling_gives_more(self) -> None:
        torque = [
            self.rated(network(replace(Cooling(), coolant_temperature=t))).torque
            for t in (85.0, 65.0, 45.0)
        ]
        assert torque == sorted(torque)

    def test_ends(self) -> None:
        net = network()
        p = load(net, 6000.0 * (self.levels / 300.0) ** 2)
        free = continuous_rating(net, p, self.levels, winding_limit=900.0, magnet_limit=900.0)
        assert (free.torque, free.limit) == (300.0, "none")
        hot = continuous_rating(net, p, self.levels, winding_limit=60.0, magnet_limit=140.0)
        assert (hot.torque, hot.limit) == (0.0, "winding")
        with pytest.raises(InvalidInputError, match="at least two ascending"):
            continuous_rating(net, p, self.levels[::-1], winding_limit=155.0, magnet_limit=140.0)

    def test_runaway_level_still_gives_a_rating(self) -> None:
        net = network()
        torque = np.array([0.0, 3000.0])
        p = load(net, 6000.0 * (torque / 300.0) ** 2)
        rating = continuous_rating(net, p, torque, winding_limit=155.0, magnet_limit=140.0)
        assert 0.0 < rating.torque < 400.0
        assert np.all(np.isfinite(rating.temperatures))
