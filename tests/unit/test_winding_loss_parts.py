"""Winding loss by part: bar at the slot opening, slot and end turns, strands in parallel."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from models.constants import MU0
from models.duty import Cooling
from models.losses.copper import OPENING_HEIGHT, resistance_ratios, winding_shares
from models.losses.mechanical import mechanical_loss
from models.losses.rectangular import layer_ratios, opening_share
from models.losses.strands import circulating_ratio
from models.mechanical.mass import masses
from models.thermal.network import CORE_SHARE, build_network
from models.thermal.nodes import AT, place_losses
from models.thermal.steady import Load, steady_temperatures
from tests.machines import COPPER, areas, machine


def test_share_at_the_opening_by_hand() -> None:
    ratios = np.array([1.0, 2.0, 3.0, 6.0])
    assert opening_share(ratios, 0.25) == pytest.approx(6.0 / 12.0)
    assert opening_share(ratios, 0.5) == pytest.approx(9.0 / 12.0)
    # a third of four bars: the last whole, a third of the one before
    assert opening_share(ratios, 1.0 / 3.0) == pytest.approx((6.0 + 1.0) / 12.0)
    assert opening_share(ratios, 1.0) == pytest.approx(1.0)


def test_the_bar_at_the_opening_loses_most() -> None:
    m = machine()
    f = np.array([0.0, 200.0, 800.0, 1600.0])
    parts = resistance_ratios(m, f, 100.0)
    layers = layer_ratios(m, f, 100.0)
    assert np.all(np.diff(layers[1:], axis=-1) > 0.0)
    assert parts.opening[0] == pytest.approx(OPENING_HEIGHT)
    assert np.all(np.diff(parts.opening) > 0.0)
    np.testing.assert_allclose(parts.slot, layers.mean(axis=-1))
    slot, end = winding_shares(m)
    np.testing.assert_allclose(parts.phase, slot * parts.slot + end * parts.end)
    assert np.all(parts.slot[1:] > parts.end[1:])


def test_flatter_bars_lose_less_than_high_ones() -> None:
    """Twice the bars of half the height: less extra loss at equal copper, at any frequency where
    bars are thin against the skin depth; far above it more layers lose more (Dowell)."""
    few = machine(turns_per_coil=3)
    many = machine(turns_per_coil=6)
    f = np.array([300.0, 1000.0])
    extra_few = resistance_ratios(few, f, 100.0).slot - 1.0
    extra_many = resistance_ratios(many, f, 100.0).slot - 1.0
    assert np.all(extra_many < extra_few)
    high = np.array([1e6])
    assert resistance_ratios(many, high, 100.0).slot > resistance_ratios(few, high, 100.0).slot


class TestStrandsSideBySide:
    def test_against_voltages_summed_strand_by_strand(self) -> None:
        """Low frequency: flux density mu0 I (p - 1 + u) / b_s in turn p of m at height u; the
        voltage of a strand is the sum over turns, its mean over the strands drives the load
        current, the rest a current through twice the length of slot and end turn."""
        m = machine(conductor="round", strand_diameter=0.5e-3)
        w, s = m.winding, m.stator
        f, rho = 5.0, COPPER.resistivity(20.0)
        turns, height = w.conductors_per_slot, s.body_height / w.conductors_per_slot
        width = 0.5 * (s.slot_width_inner + s.slot_width_outer)
        u = (np.arange(2000) + 0.5) / 2000
        linkage = np.zeros_like(u)
        for p in range(1, turns + 1):
            linkage += MU0 / width * height * m.stack_length * ((p - 1) * u + 0.5 * u**2)
        voltage = 2 * pi * f * (linkage - linkage.mean())
        length = turns * (m.stack_length + w.end_turn_length)
        density = voltage / (rho * length)
        circulating = rho * np.mean(density**2) * w.conductor_area * length
        direct = rho * length / w.conductor_area
        assert float(circulating_ratio(m, f, rho)) == pytest.approx(circulating / direct, rel=1e-3)

    def test_twisting_removes_it_and_one_strand_has_none(self) -> None:
        twisted = machine(conductor="round")
        flat = replace(twisted, winding=replace(twisted.winding, is_transposed=False))
        f = np.array([0.0, 200.0, 800.0])
        with_loop = resistance_ratios(flat, f, 100.0).phase
        without = resistance_ratios(twisted, f, 100.0).phase
        assert with_loop[0] == pytest.approx(without[0])
        assert np.all(with_loop[1:] > without[1:])
        one = replace(flat, winding=replace(flat.winding, strands=1))
        np.testing.assert_array_equal(circulating_ratio(one, f, 2e-8), 0.0)


def test_the_hot_spot_sees_the_bar_at_the_opening() -> None:
    """Loss placed node by node keeps its sum; what arises at the opening heats the hot spot."""
    assert OPENING_HEIGHT == CORE_SHARE
    m = machine()
    parts = masses(m, areas(m))
    net = build_network(m, Cooling(), parts)
    friction = mechanical_loss(m, 800.0, rotor_mass=parts.rotor)
    common = {"winding_ac": 300.0, "iron": 400.0, "magnet": 10.0, "mechanical": friction}
    even = place_losses(net, **common)
    uneven = place_losses(net, **common, winding_ac_opening=200.0, rotor_iron=50.0)
    assert uneven.sum() == pytest.approx(even.sum() + 50.0)
    assert uneven[AT["hot_spot"]] == pytest.approx(200.0)
    assert uneven[AT["slot_winding"]] == pytest.approx(100.0)
    assert uneven[AT["rotor_iron"]] == pytest.approx(even[AT["rotor_iron"]] + 50.0)

    def hottest(losses: np.ndarray) -> float:
        load = Load(np.asarray(800.0), losses, np.asarray(1500.0), 100.0)
        return float(steady_temperatures(net, load)[AT["hot_spot"]])

    alone = place_losses(net, **common, winding_ac_opening=200.0)
    assert hottest(alone) > hottest(even) + 0.5
