"""Masses, inertia, rotor strength: hand calculation, scaling, monotony."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from models.mechanical.families import rotor_inertia
from models.mechanical.inertia import polygon_moments
from models.mechanical.mass import masses
from models.mechanical.notches import bending_factor, fillet_factor, foot_factor
from models.mechanical.rotor_stress import (
    bridge_safety_factor,
    bridge_stress,
    burst_speed,
    rotor_stress,
)
from tests.machines import COPPER, areas, machine


class TestMass:
    def test_by_hand(self) -> None:
        m = machine()
        a, w = areas(m), m.winding
        result = masses(m, a)
        wire = 48 * 6 * w.conductor_area * (m.stack_length + w.end_turn_length)
        assert result.conductor == pytest.approx(wire * COPPER.density)
        magnet = 16 * m.rotor.magnet_width * m.rotor.magnet_thickness * 0.14
        assert result.magnet == pytest.approx(magnet * 7500, rel=1e-9)
        assert result.heavy_rare_earth == pytest.approx(0.03 * result.magnet)
        assert result.shaft == pytest.approx(pi * m.rotor.shaft_radius**2 * 0.14 * 7850)
        blank = (0.210 + 3e-3) ** 2 * 0.14 * 0.96 * 7650
        assert result.purchased_sheet == pytest.approx(blank)
        assert result.purchased_sheet > result.stator_sheet + result.rotor_sheet
        assert result.stator_teeth + result.stator_yoke == pytest.approx(result.stator_sheet)
        assert result.active == pytest.approx(
            result.stator_sheet + result.rotor_sheet + result.conductor + result.magnet
        )

    def test_polygon_moments_of_a_square(self) -> None:
        square = np.array([[1.0, 0.0], [3.0, 0.0], [3.0, 2.0], [1.0, 2.0]])
        area, centre, polar = polygon_moments(square)
        assert area == pytest.approx(4.0)
        assert centre == pytest.approx((2.0, 1.0))
        # parallel axes: side^4 / 6 about the centre + area * 5
        assert polar == pytest.approx(16.0 / 6.0 + 4.0 * 5.0)

    def test_inertia_between_bounds_and_by_monte_carlo(self) -> None:
        """Density times r^2 at random points of the section, regions told apart by polygons."""
        from matplotlib.path import Path

        from models.geometry.interior import pocket_outline

        m = machine()
        r = m.rotor
        rng = np.random.default_rng(7)
        n = 400_000
        half = pi / 8.0
        angle = rng.uniform(-half, half, n)
        radius = r.outer_radius * np.sqrt(rng.uniform(0.0, 1.0, n))
        xy = np.column_stack([radius * np.cos(angle), np.abs(radius * np.sin(angle))])
        density = np.where(radius < r.shaft_radius, 7850.0, 7650.0 * m.stacking_factor)
        density[Path(pocket_outline(r).polygon()).contains_points(xy)] = 0.0
        density[Path(np.asarray(r.magnet_corners)).contains_points(xy)] = 7500.0
        expected = np.mean(density * radius**2) * pi * r.outer_radius**2 * m.stack_length
        assert rotor_inertia(m) == pytest.approx(expected, rel=3e-3)


class TestRotorStress:
    def test_scales_with_speed_squared_and_size_squared(self) -> None:
        m = machine()
        slow, fast = rotor_stress(m, 500.0), rotor_stress(m, 1500.0)
        assert fast.peak == pytest.approx(9.0 * slow.peak)
        big = machine(
            stator_outer_diameter=0.42, air_gap=1.6e-3, magnet_thickness=10e-3,
            bridge_thickness=2.4e-3, rib_width=3.2e-3, tip_height=1.4e-3, wedge_height=1.2e-3,
        )  # fmt: skip
        assert rotor_stress(big, 250.0, fillet_radius=1e-3).peak == pytest.approx(
            rotor_stress(m, 500.0, fillet_radius=0.5e-3).peak, rel=1e-9
        )

    def test_forces_balance(self) -> None:
        """Rib and bridges together carry the cap: rib force never exceeds it."""
        for changes in ({}, {"rib_width": 4e-3}, {"bridge_thickness": 3e-3}):
            s = rotor_stress(machine(**changes), 1500.0)
            assert 0.0 < s.rib_share < 1.0

    def test_pull_of_a_cap_by_hand(self) -> None:
        """Between the masses' bounds: all of cap and magnets at bridge radius, or at the rib."""
        m = machine()
        r = m.rotor
        s = rotor_stress(m, 1000.0)
        magnet = 2 * r.magnet_width * r.magnet_thickness * 7500 / m.stacking_factor
        sector = r.barrier_near_angle * r.outer_radius**2
        triangle = r.pocket_inner[0][0] * r.barrier_corners[0][1]
        iron = 7650 * (sector - triangle * 0.5)
        assert 0.5 * iron * r.pocket_inner[0][0] * 1e6 < s.force
        assert s.force < (iron + magnet) * 1.1 * r.outer_radius * 1e6

    def test_wider_rib_and_gentler_fillet_help(self) -> None:
        ribs = [rotor_stress(machine(rib_width=w), 1500.0).rib_mean for w in (1e-3, 2e-3, 4e-3)]
        assert ribs == sorted(ribs, reverse=True)
        m = machine()
        peaks = [rotor_stress(m, 1500.0, fillet_radius=f).peak for f in (0.2e-3, 0.5e-3, 1e-3)]
        assert peaks == sorted(peaks, reverse=True)

    def test_heavier_magnets_pull_more(self) -> None:
        m = machine()
        heavy = replace(m, magnet=replace(m.magnet, density=9000.0))
        assert bridge_stress(heavy, 1500.0) > bridge_stress(m, 1500.0)

    def test_safety_factor_and_burst(self) -> None:
        m = machine()
        speed = 1500.0
        cold = bridge_safety_factor(m, speed)
        assert cold == pytest.approx(m.lamination.yield_strength / bridge_stress(m, speed))
        assert bridge_safety_factor(m, speed, temperature=140.0) == pytest.approx(cold * 0.928)
        burst = burst_speed(m)
        mean = rotor_stress(m, burst).mean
        assert mean == pytest.approx(m.lamination.tensile_strength, rel=1e-9)

    def test_fillet_factors_fall_to_one_for_a_large_fillet(self) -> None:
        assert fillet_factor(2e-3, 5e-3, 1.0) == pytest.approx(1.0, abs=0.02)
        assert bending_factor(2e-3, 5e-3, 1.0) == pytest.approx(1.0, abs=0.02)
        # Peterson's chart for D/d = 2, r/d = 0.1: about 2.0 in tension, 1.7 in bending (from
        # memory); Heywood's forms are fits of such charts.
        assert fillet_factor(1.0, 0.5, 0.1) == pytest.approx(2.2, abs=0.25)
        assert bending_factor(1.0, 0.5, 0.1) == pytest.approx(1.8, abs=0.2)


def test_foot_factor_grows_with_the_width_of_the_rib() -> None:
    """Peterson by Heywood: no rib, no stress concentration; a long foot is a full shoulder."""
    factors = [foot_factor(w, 20e-3, 0.5e-3) for w in (0.0, 2e-3, 4e-3, 8e-3)]
    assert factors[0] == 1.0
    assert factors == sorted(factors)
    # By hand: h = 1.2 mm, D/d = 1.06, 1 + (2.4 / 0.968)^0.65.
    assert factors[-1] == pytest.approx(2.804, abs=2e-3)


def test_yoke_tension_reaches_the_fillets_of_a_wide_rib() -> None:
    """The wider the rib, the larger the part of its peak that its own pull does not explain."""
    shares = []
    for width in (2e-3, 6e-3):
        m = machine(rib_width=width)
        s = rotor_stress(m, 1500.0)
        own = s.rib_mean * fillet_factor(width, m.rotor.magnet_thickness, 0.5e-3)
        shares.append(own / s.rib_peak)
    assert shares[1] < shares[0] < 1.0
