"""Coolants: each takes heat where it acts, more of it never makes a part hotter."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from models.duty import Cooling
from models.errors import InfeasibleDesignError
from models.losses.mechanical import mechanical_loss
from models.mechanical.mass import masses
from models.thermal.coolants import jacket_pressure_drop
from models.thermal.network import build_network
from models.thermal.nodes import AT, NODES, ThermalNetwork, place_losses
from models.thermal.oil import (
    entry_nusselt,
    flow_conductance,
    oil,
    shaft_coefficient,
    spray_coefficient,
)
from models.thermal.steady import Load, heat_removed, steady_temperatures, winding_loss
from models.thermal.transient import settled_cycle_temperatures, temperatures_after
from tests.machines import areas, machine

LITRE = 1.0 / 60e3


def network(cooling: Cooling, **changes: Any) -> ThermalNetwork:
    m = machine(**{"shaft_bore_ratio": 0.5, **changes})
    return build_network(m, cooling, masses(m, areas(m)))


def load(net: ThermalNetwork, winding: float = 1500.0) -> Load:
    friction = mechanical_loss(machine(), 700.0, rotor_mass=15.0)
    losses = place_losses(net, winding_ac=200.0, iron=500.0, magnet=40.0, mechanical=friction)
    return Load(np.asarray(700.0), losses, np.asarray(winding), 100.0)


def hot(cooling: Cooling, **changes: Any) -> Any:
    net = network(cooling, **changes)
    return steady_temperatures(net, load(net))


def test_oil_on_end_windings_cools_them_most_and_nothing_gets_hotter() -> None:
    cold = Cooling(oil_temperature=65.0)
    track = [hot(replace(cold, spray_flow=q * LITRE)) for q in (0.0, 1.0, 3.0, 6.0, 12.0)]
    assert np.all(np.diff(track, axis=0) < 0.0)
    fall = track[0] - track[-1]
    assert int(np.argmax(fall)) == AT["end_winding"]


def test_oil_in_the_shaft_cools_the_shaft_most_and_the_magnets() -> None:
    cold = Cooling(oil_temperature=65.0)
    track = [hot(replace(cold, shaft_flow=q * LITRE)) for q in (0.0, 1.0, 3.0, 6.0, 12.0)]
    assert np.all(np.diff(track, axis=0) < 0.0)
    fall = track[0] - track[-1]
    assert int(np.argmax(fall)) == AT["shaft"]
    assert fall[AT["magnets"]] > 5.0


def test_hot_oil_heats_a_cold_machine() -> None:
    """Oil of 100 degC at no load brings heat in: flow is no cooling by itself."""
    net = network(Cooling(oil_temperature=100.0, spray_flow=5.0 * LITRE))
    none = Load(np.zeros(()), np.zeros(len(NODES)), np.zeros(()), 100.0)
    removed = heat_removed(net, steady_temperatures(net, none))
    assert removed["spray"] < 0.0 < removed["jacket"]
    assert sum(removed.values()) == pytest.approx(0.0, abs=1e-6)


def test_every_coolant_together_balances() -> None:
    net = network(Cooling(spray_flow=4.0 * LITRE, shaft_flow=4.0 * LITRE))
    p = load(net)
    t = steady_temperatures(net, p)
    removed = heat_removed(net, t)
    assert set(removed) == {"jacket", "ambient", "spray", "shaft"}
    total = p.losses.sum() + winding_loss(net, p, t)
    assert sum(removed.values()) == pytest.approx(float(total), rel=1e-9)


def test_a_machine_without_jacket_has_only_oil_and_air() -> None:
    bare = Cooling(coolant_flow=0.0, spray_flow=6.0 * LITRE)
    net = network(bare)
    t = steady_temperatures(net, load(net))
    assert set(heat_removed(net, t)) == {"ambient", "spray"}
    assert np.all(np.isfinite(t))
    assert t[AT["coolant"]] == pytest.approx(t[AT["frame"]])
    with_jacket = hot(replace(bare, coolant_flow=8.0 * LITRE))
    assert np.all(with_jacket < t)


def test_a_solid_shaft_refuses_oil_by_name() -> None:
    with pytest.raises(InfeasibleDesignError, match="shaft_bore_ratio") as found:
        network(Cooling(shaft_flow=2.0 * LITRE), shaft_bore_ratio=0.0)
    assert found.value.reason == "shaft_bore_too_small"


def test_gap_friction_heats_the_gap_first() -> None:
    net = network(Cooling())
    p = load(net)
    more = Load(p.speed, p.losses.copy(), p.winding_dc, p.reference_temperature)
    more.losses[AT["gap"]] += 100.0
    rise = steady_temperatures(net, more) - steady_temperatures(net, p)
    assert int(np.argmax(rise)) == AT["gap"]
    assert rise[AT["rotor_iron"]] > 0.0
    assert rise[AT["teeth"]] > 0.0


def test_temperatures_converge_from_any_start() -> None:
    """One steady state, met from random starts; one settled cycle, met from random starts."""
    net = network(Cooling(spray_flow=3.0 * LITRE, shaft_flow=3.0 * LITRE))
    p = load(net)
    steady = steady_temperatures(net, p)
    rng = np.random.default_rng(7)
    starts = [np.full(len(NODES), 20.0), np.full(len(NODES), 200.0)]
    starts += [rng.uniform(-20.0, 250.0, len(NODES)) for _ in range(6)]
    for start in starts:
        gap = [
            np.max(np.abs(t - steady))
            for t in temperatures_after(net, p, start=start, times=[0.0, 3e2, 3e3, 1e5])
        ]
        assert gap == sorted(gap, reverse=True)
        assert gap[-1] < 1e-6
    x = np.arange(40)
    winding = 2500.0 * (x % 10 < 3)
    one = load(net, 0.0)
    cycle = Load(np.full(40, 700.0), np.broadcast_to(one.losses, (40, len(NODES))), winding, 100.0)
    settled = settled_cycle_temperatures(net, cycle, np.full(40, 20.0))
    for start in starts[:4]:
        now = start
        for _ in range(12):
            for k in range(40):
                now = temperatures_after(net, cycle.at(k), start=now, times=[20.0])[0]
        np.testing.assert_allclose(now, settled.start, atol=0.3)


class TestForms:
    def test_pressure_drop_grows_faster_than_flow(self) -> None:
        """Darcy-Weisbach: nearly with the square of a turbulent flow; none without a jacket."""
        m = machine()
        low, high = (jacket_pressure_drop(m, Cooling(coolant_flow=q * LITRE)) for q in (8.0, 16.0))
        assert 3.0 * low < high < 4.0 * low
        assert jacket_pressure_drop(m, Cooling(coolant_flow=0.0)) == 0.0

    def test_conductance_of_a_flow_has_both_limits(self) -> None:
        fluid = oil(80.0)
        rate = LITRE * float(fluid.density) * float(fluid.specific_heat)
        weak, strong = (flow_conductance(h, 0.01, fluid, LITRE) for h in (1.0, 1e7))
        assert weak == pytest.approx(0.01, rel=1e-3)
        assert strong == pytest.approx(rate, rel=1e-9)

    def test_spray_lies_in_the_usual_band(self) -> None:
        """300 to 2500 W/(m^2 K) for oil on end windings (common practice) at 2 to 8 L/min on
        0.03 m^2."""
        found = [spray_coefficient(q * LITRE / 0.03, oil(80.0)) for q in (2.0, 4.0, 8.0)]
        assert found == sorted(found)
        assert 300.0 < found[0] < found[-1] < 4000.0

    def test_shaft_grows_with_flow_and_entry_ends_at_the_developed_value(self) -> None:
        found = [
            shaft_coefficient(oil(80.0), flow=q * LITRE, bore_radius=0.015, length=0.14)[0]
            for q in (0.5, 2.0, 8.0, 40.0)
        ]
        assert found == sorted(found)
        assert entry_nusselt(0.0) == 3.66
