"""Step skew: closed forms of a linear machine, symmetry, and what it does to a real one."""

from math import cos, pi, sin

import numpy as np
import pytest

from models.control.linear import ConstantMachine
from models.skew import magnet_torque, skew_factor, skewed, slice_angles, turned
from tests.flux_map_cases import constant_maps, flux_maps, saturating
from tests.machines import machine


def test_slices_divide_the_skew_evenly() -> None:
    m = machine(skew_steps=3, skew_ratio=1.0)
    angles = slice_angles(m)
    pitch = m.pole_pairs * 2.0 * pi / m.stator.slots
    np.testing.assert_allclose(angles, [-pitch / 3.0, 0.0, pitch / 3.0])
    np.testing.assert_array_equal(slice_angles(machine()), [0.0])


@pytest.mark.parametrize("steps", [2, 3, 4, 5])
def test_one_slot_pitch_removes_the_slot_harmonics(steps: int) -> None:
    """Slots per pole pair is the order of the slot harmonics; step skew leaves the multiples of
    the number of slices (any text on skew)."""
    m = machine(skew_steps=steps)
    angles, order = slice_angles(m), m.stator.slots / m.pole_pairs
    for multiple in range(1, steps):
        assert skew_factor(angles, multiple * order) == pytest.approx(0.0, abs=1e-12)
    assert skew_factor(angles, steps * order) == pytest.approx(1.0)


def test_factor_is_the_textbook_form() -> None:
    """sin(n g / 2) / (n sin(g / 2)), and its limit for many slices sin(s / 2) / (s / 2)."""
    step = 0.13
    angles = step * (np.arange(4) - 1.5)
    assert skew_factor(angles) == pytest.approx(sin(2.0 * step) / (4.0 * sin(0.5 * step)))
    many = 0.5 / 400 * (np.arange(400) - 199.5)
    assert skew_factor(many) == pytest.approx(sin(0.25) / 0.25, rel=1e-5)


def test_linear_machine_in_closed_form() -> None:
    """psi_m falls by mean cos(b); inductances keep their mean and lose saliency by mean
    cos(2 b): averaging the rotated inductance matrix, exact."""
    linear = ConstantMachine(psi=0.1, l_d=0.3e-3, l_q=0.6e-3, pole_pairs=4)
    maps = constant_maps(linear, 300.0)
    angles = np.array([-0.2, 0.0, 0.2])
    got = skewed(maps, angles)
    one, two = (np.mean(np.cos(k * angles)) for k in (1, 2))
    mean, half = 0.45e-3, -0.15e-3
    d, q = np.meshgrid(maps.i_d, maps.i_q, indexing="ij")
    np.testing.assert_allclose(got.psi_d, 0.1 * one + (mean + half * two) * d, atol=1e-9)
    np.testing.assert_allclose(got.psi_q, (mean - half * two) * q, atol=1e-9)
    np.testing.assert_allclose(got.psi_d_per_remanence, 0.1 / 1.2 * one, atol=1e-9)
    np.testing.assert_allclose(got.psi_q_per_remanence, 0.0, atol=1e-9)


def test_no_skew_changes_nothing() -> None:
    maps = flux_maps(saturating, np.linspace(-300.0, 0.0, 7), np.linspace(0.0, 300.0, 7))
    assert skewed(maps, np.zeros(1)) is maps
    same = skewed(maps, np.zeros(2))
    np.testing.assert_allclose(same.psi_d, maps.psi_d, atol=1e-12)
    np.testing.assert_allclose(same.psi_q, maps.psi_q, atol=1e-12)


def test_saturating_machine_keeps_its_reciprocity() -> None:
    """Slices of a lossless machine make a lossless machine: d psi_d/d i_q = d psi_q/d i_d."""
    i_d, i_q = np.linspace(-300.0, 0.0, 31), np.linspace(0.0, 300.0, 31)
    got = skewed(flux_maps(saturating, i_d, i_q), np.array([-0.2, 0.2]))
    across = np.gradient(got.psi_d, i_q, axis=1)[5:-8, 5:-8]
    along = np.gradient(got.psi_q, i_d, axis=0)[5:-8, 5:-8]
    np.testing.assert_allclose(across, along, atol=6e-6)  # of 6e-4 H


def test_magnet_torque_is_the_mean_over_slices() -> None:
    """A made-up model whose magnet torque is psi i_q: psi i_q mean cos(b) for symmetric slices."""

    class Made:
        name = "made"

        def magnet_torque(self, *, i_d: float, i_q: float, magnet_temperature: float) -> float:
            return 0.6 * i_q + 0.0 * i_d * magnet_temperature

    m = machine(skew_steps=3)
    got = magnet_torque(m, Made(), i_d=-100.0, i_q=200.0, magnet_temperature=90.0)  # type: ignore[arg-type]
    assert got == pytest.approx(0.6 * 200.0 * skew_factor(slice_angles(m)))


def test_currents_turn_with_the_slice() -> None:
    d, q = turned(-30.0, 40.0, 0.3)
    assert np.hypot(d, q) == pytest.approx(50.0)
    assert d == pytest.approx(-30.0 * cos(0.3) + 40.0 * sin(0.3))


def test_magnets_are_cut_at_every_slice() -> None:
    assert machine(magnet_axial_segments=6).rotor.magnet_axial_segments == 6
    for asked, steps, cut in ((1, 3, 3), (6, 4, 8), (6, 3, 6)):
        m = machine(magnet_axial_segments=asked, skew_steps=steps)
        assert m.rotor.magnet_axial_segments == cut
