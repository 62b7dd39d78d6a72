"""Waveforms carried from a few currents to all, and the magnets' two ripples told apart."""

from math import pi

import numpy as np
import pytest

from models.field.fine_positions import current_subset, refined, ripples

I_D, I_Q = np.linspace(-400.0, 0.0, 6), np.linspace(0.0, 400.0, 7)


def _waves(samples: int) -> np.ndarray:
    """Harmonics 1, 5 and 11 with amplitudes that are quadratic in the currents."""
    d, q = np.meshgrid(I_D / 400.0, I_Q / 400.0, indexing="ij")
    theta = 2 * pi * np.arange(samples) / samples
    first = (1.0 + 0.3 * d)[..., None] * np.cos(theta)
    fifth = (0.1 * q - 0.05 * d)[..., None] * np.sin(5 * theta + 0.3)
    eleventh = (0.02 + 0.03 * d**2 + 0.05 * d * q)[..., None] * np.cos(11 * theta - 0.7)
    return (first + fifth + eleventh)[:, :, None, :]


def test_harmonics_that_few_samples_fold_come_back() -> None:
    subset = current_subset(I_D, I_Q, (3, 4))
    few, many = _waves(18), _waves(36)
    # eighteen samples take the eleventh for a seventh
    assert np.abs(np.fft.rfft(few[0, 3, 0])[7]) > 1e-2
    found = refined(subset, few, subset.pick(many))
    np.testing.assert_allclose(found, many, atol=1e-12)


def test_belt_and_slot_ripple_are_told_apart() -> None:
    subset = current_subset(I_D, I_Q, (3, 4))
    d, q = np.meshgrid(I_D / 400.0, I_Q / 400.0, indexing="ij")
    belt, slot = 2e-3 + 1e-3 * q, 1e-3 - 2e-3 * d

    def field(positions: int) -> np.ndarray:
        x = 2 * pi * np.arange(positions)[:, None, None] / positions
        wave = 0.9 + belt * np.cos(x + 0.4) + slot * np.cos(2 * x - 1.0)
        return np.stack((wave, wave), axis=-1)

    few, many = field(3), subset.pick(field(6), axis=1)
    first, second = ripples(subset, few, many, per_belt=2, weights=np.array([1.0, 3.0]))
    np.testing.assert_allclose(first, belt, rtol=1e-9)
    np.testing.assert_allclose(second, slot, rtol=1e-9)
    # one slot per belt: both are one harmonic, counted once
    assert not ripples(subset, few, many, per_belt=1, weights=np.ones(2))[1].any()


def test_carrying_is_exact_for_the_subsets_polynomials() -> None:
    subset = current_subset(I_D, I_Q, (3, 4))
    values = I_D[:, None] ** 2 + 3.0 * I_D[:, None] * I_Q - I_Q**2
    np.testing.assert_allclose(subset.carry(subset.pick(values)), values, atol=1e-6)
    assert subset.rows == (0, 3, 5)
    assert subset.columns == (0, 2, 4, 6)
    assert subset.to_all.sum(axis=1) == pytest.approx(1.0)
