"""Radial-pressure waves and ring modes: made-up fields, closed forms, both models."""

from math import pi

import numpy as np
import pytest

from models.circuit.model import CircuitModel
from models.constants import MU0
from models.geometry.sector import Sector, sector_of_winding
from models.geometry.star_of_slots import layout
from models.mechanical.mass import masses
from models.mechanical.ring_modes import ring_frequency, stator_frequency, thick_factor
from models.radial_pressure import radial_pressure
from tests.machines import areas, machine


def field(
    amplitudes: dict[int, tuple[float, float]], positions: int, angles: int = 96
) -> np.ndarray:
    """Sum of B cos(nu p theta - k w t - phase) by odd nu: {nu: (B, k)}, theta electrical."""
    theta = pi / angles * (np.arange(angles) + 0.5)
    time = pi / 3.0 / positions * np.arange(positions)
    return sum(b * np.cos(nu * theta - k * time[:, None]) for nu, (b, k) in amplitudes.items())


def belts(pole_pairs: int) -> Sector:
    """The sector of two slots per pole and phase."""
    slots = 12 * pole_pairs
    return sector_of_winding(layout(slots, pole_pairs, 2, 6), pole_pairs)


def test_one_wave_of_field_makes_mean_and_pole_order() -> None:
    """B^2 cos^2 = B^2/2 (1 + cos 2(..)): one wave of twice the order, as large as the mean."""
    got = radial_pressure(field({1: (0.9, 1.0)}, 6), belts(4))
    half = 0.9**2 / (4.0 * MU0)
    zero = int(np.flatnonzero(got.time_orders == 0)[0])
    assert got.amplitude[0, zero] == pytest.approx(half, rel=1e-12)
    assert got.at_bending_order == pytest.approx(half, rel=1e-12)
    assert got.dominant(1) == [(8, 2, pytest.approx(half))]
    assert got.breathing == pytest.approx(0.0, abs=1e-6)


def test_two_waves_beat_as_sum_and_difference() -> None:
    """Rotor wave (5, 5 w) and stator wave (-5, w) make the standing order 0 at 6 w: b1 b2/(2 mu0),
    and (10, 4 w) as large; the stator belt's backward fifth is the classic origin of 6 f."""
    got = radial_pressure(field({1: (0.0, 1.0), 5: (0.3, 5.0), -5: (0.2, 1.0)}, 6), belts(2))
    beat = 0.3 * 0.2 / (2.0 * MU0)
    assert got.breathing == pytest.approx(beat, rel=1e-9)
    six = int(np.flatnonzero(got.time_orders == 6)[0])
    assert got.amplitude[0, six] == pytest.approx(beat, rel=1e-9)


def test_network_gives_the_pole_order_of_its_own_fundamental() -> None:
    """Without current and almost without harmonics in B^2's lowest order, the wave of pole order
    is near b1^2/(4 mu0), and more magnet makes more of it."""
    made = []
    for thickness in (3e-3, 6e-3):
        m = machine(magnet_thickness=thickness)
        got = CircuitModel.of(m).radial_pressure(i_d=0.0, i_q=0.0, magnet_temperature=20.0)
        assert got.dominant(1)[0][:2] == (8, 2)
        made.append(got.at_bending_order)
    assert 2e4 < made[0] < made[1] < 3e5


class TestRingModes:
    def test_ring_of_a_public_verification_manual(self) -> None:
        """Test V2.03.109 of an open general-purpose finite-element code, read at its site, after
        Blevins 1979: free ring of mean radius 0.369 m, thickness 0.048 m, 185 GPa, 7800 kg/m^3;
        orders 2 and 3 at 211.65 and 598.64 Hz."""
        ring = {"radius": 0.369, "thickness": 0.048, "modulus": 185e9, "density": 7800.0}
        assert ring_frequency(2, **ring) == pytest.approx(211.65, rel=1e-4)
        assert ring_frequency(3, **ring) == pytest.approx(598.64, rel=1e-4)

    def test_breathing_is_the_speed_of_sound_round_the_ring(self) -> None:
        """One wavelength of a longitudinal wave fits round the ring (textbook)."""
        f = ring_frequency(0, radius=0.1, thickness=0.01, modulus=200e9, density=7800.0)
        assert f * 2.0 * pi * 0.1 == pytest.approx((200e9 / 7800.0) ** 0.5)

    @pytest.mark.parametrize(("slender", "error"), [(0.3, 1e-3), (1.0, 0.01), (1.4, 0.03)])
    def test_thick_against_the_exact_beam(self, slender: float, error: float) -> None:
        """Timoshenko beam on simple supports, wave number k: the lower root of
        x^2 a b - x (1 + a + b) + 1 = 0 with a = k^2 I/A, b = a E/(kappa G), x = w^2/w_Euler^2."""
        a = slender**2 / 12.0
        b = a * 2.0 * 1.3 * 1.2
        exact = np.min(np.roots([a * b, -(1.0 + a + b), 1.0])) ** 0.5
        got = thick_factor(8, radius=8.0, thickness=slender, poisson=0.3)
        assert got == pytest.approx(exact, rel=error)
        assert got < exact

    def test_carried_mass_lowers_and_yoke_raises(self) -> None:
        def at(order: int, **changes: float) -> float:
            m = machine(**changes)
            return stator_frequency(m, masses(m, areas(m)), order)

        bare = ring_frequency(0, radius=0.096, thickness=0.016, modulus=200e9, density=7650.0)
        assert 0.4 * bare < at(0) < bare
        thin, thick = (at(8, slot_depth_ratio=x) for x in (0.7, 0.5))
        assert thin < thick

    def test_rigid_order_is_refused(self) -> None:
        with pytest.raises(ValueError, match="order 1"):
            ring_frequency(1, radius=0.1, thickness=0.01, modulus=2e11, density=7800.0)
