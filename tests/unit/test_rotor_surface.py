"""Rotor iron loss from slot and winding harmonics, by hand, by layers, and in its trends."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from models.constants import MU0
from models.geometry.stator import tooth_width
from models.losses.families import iron_under_magnets
from models.losses.iron import loss_coefficients_of_components
from models.losses.rotor_surface import (
    slot_dip_share,
    surface_loss_coefficients,
    tooth_reduction,
    winding_waves,
)
from models.materials.load import lamination
from models.materials.reluctivity import ReluctivityTable
from tests.machines import SHEET, machine


def test_waves_are_those_of_the_textbook() -> None:
    """(3/2)(4/pi) N k_w,nu i / (2 p nu) across a narrow gap, orders 6k +- 1 seen at 6k f."""
    m = machine()
    waves = winding_waves(m)
    assert set(np.round(waves.order).astype(int)) <= {6 * k for k in range(1, 40)}
    p, w = m.pole_pairs, m.winding
    five = np.argmin(np.abs(waves.wave_number * m.rotor.outer_radius - 5 * p))
    # two slots per pole and phase: the belt's fifth harmonic has k_d = cos(5 x 15 degrees)
    factor = np.cos(np.radians(75.0))
    force = 1.5 * 4 / pi * w.series_turns * factor / (2 * p * 5)
    k = 5 * p / m.rotor.outer_radius
    x = 0.5 * k * m.stator.slot_opening
    field = MU0 * force * k / np.sinh(k * m.air_gap) * np.sin(x) / x / m.stacking_factor
    assert waves.per_current[five] == pytest.approx(field, rel=1e-6)
    assert waves.order[five] == pytest.approx(6.0)


def test_depth_integral_against_thin_layers() -> None:
    """One wave in a half space: sum the sheet's loss over layers of the decaying, turning field
    by the general routine that takes sampled waveforms."""
    sheet = replace(SHEET, loss=replace(SHEET.loss, beta=0.0), build_factor=1.0)
    m = replace(machine(), lamination=sheet)
    waves = winding_waves(m)
    strongest = int(np.argmax(waves.per_current))
    current = 200.0
    amplitude, k = waves.per_current[strongest] * current, waves.wave_number[strongest]
    edges = np.linspace(0.0, 12.0 / k, 4001)
    depth = 0.5 * (edges[1:] + edges[:-1])
    size = amplitude * np.exp(-k * depth)[:, None]
    angle = 2 * pi * np.arange(48) / 48
    area = 2 * pi * m.rotor.outer_radius * m.stack_length * m.stacking_factor
    masses = sheet.density * area * np.diff(edges)
    a, b, c = loss_coefficients_of_components(
        size * np.cos(angle), size * np.sin(angle), masses, sheet
    )
    one = [float(x) for x in _of_waves(m, current, np.array([strongest]))]
    n = waves.order[strongest]
    np.testing.assert_allclose(one, [float(a * n), float(b * n**2), float(c * n**1.5)], rtol=3e-3)


def _of_waves(m, current, which):
    """Closed form of some of the waves, dips left out (no linkage)."""
    waves = winding_waves(m)
    fit, sheet = m.lamination.loss, m.lamination
    area = 2 * pi * m.rotor.outer_radius * m.stack_length * m.stacking_factor
    mass = sheet.density * area * sheet.build_factor
    order, k, b = (x[which] for x in (waves.order, waves.wave_number, waves.per_current * current))
    from models.losses.iron import SINE_EXCESS

    return (
        mass * fit.hysteresis * np.sum(order * 2 * b**fit.alpha / (fit.alpha * k)),
        mass * fit.classical * np.sum(order**2 * b**2 / k),
        mass * fit.excess / SINE_EXCESS * np.sum(order**1.5 * b**1.5 / (1.5 * k)),
    )


def test_all_waves_together() -> None:
    m = machine()
    every = np.arange(winding_waves(m).order.size)
    found = surface_loss_coefficients(m, 150.0, 0.0)
    np.testing.assert_allclose([float(x) for x in found], _of_waves(m, 150.0, every), rtol=1e-9)


def test_trends() -> None:
    """Wider gap and narrower slot opening: less. More current: its square in the classical part.
    A wide opening lets less of the current's step through but dips more: without current more."""
    base = machine()
    loss = [float(x) for x in surface_loss_coefficients(base, 200.0, 0.05)]
    wide_gap = machine(air_gap=1.2e-3)
    assert all(float(x) < y for x, y in zip(surface_loss_coefficients(wide_gap, 200.0, 0.05), loss))
    twice = surface_loss_coefficients(base, 400.0, 0.0)[1]
    assert twice == pytest.approx(4.0 * surface_loss_coefficients(base, 200.0, 0.0)[1])
    closed, opened = machine(slot_opening_ratio=0.2), machine(slot_opening_ratio=0.5)
    assert slot_dip_share(closed) < slot_dip_share(opened) < 1.0
    idle = [float(surface_loss_coefficients(m, 0.0, 0.05)[1]) for m in (closed, opened)]
    assert idle[0] < idle[1]
    none = surface_loss_coefficients(base, 0.0, 0.0)
    assert [float(x) for x in none] == [0.0, 0.0, 0.0]


def test_no_dip_without_a_slot() -> None:
    m = machine()
    smooth = replace(m, stator=replace(m.stator, slot_opening=1e-6))
    assert slot_dip_share(smooth) == pytest.approx(0.0, abs=1e-5)


def test_iron_far_from_the_bore_loses_less() -> None:
    m = machine()
    near = surface_loss_coefficients(m, 200.0, 0.0, iron_radius=m.rotor.outer_radius)
    far = surface_loss_coefficients(m, 200.0, 0.0, iron_radius=m.rotor.outer_radius - 5e-3)
    assert all(float(f) < 0.1 * float(n) for f, n in zip(far[1:], near[1:]))
    assert callable(iron_under_magnets)


def test_saturated_teeth_hold_waves_back() -> None:
    """By hand on a sheet of one slope; on a real one, more the more the teeth are saturated."""
    m = machine()
    s = m.stator
    flat = ReluctivityTable(step=0.1, nu=np.full(80, 5e4), slope=np.zeros(80))
    iron = replace(m, lamination=replace(m.lamination, magnetisation=flat))
    width = tooth_width(s, 0.5 * (s.body_inner_radius + s.slot_bottom_radius))
    height = s.slot_depth * s.bore_radius * s.slot_pitch / (width * m.stacking_factor)
    found = tooth_reduction(iron, [0.5, 1.9], gap=1e-3)
    assert found == pytest.approx(1.0 / (1.0 + height * MU0 * 5e4 / 1e-3), rel=1e-9)
    # the real curve: nothing held back far below the knee, most beyond it, never rising
    real = replace(m, lamination=lamination("HP270-35A"))
    squared = (tooth_reduction(real, [0.5, 1.5, 1.8, 2.1, 9.0], gap=1e-3) ** 2).mean(axis=-1)
    assert squared[0] > 0.95
    assert np.all(np.diff(squared) < 0.0)
    assert 0.2 < squared[3] < 0.6
    bare = surface_loss_coefficients(real, 200.0, 0.0)
    held = surface_loss_coefficients(real, 200.0, 0.0, tooth_peak=2.1)
    assert float(held[1] / bare[1]) == pytest.approx(
        float((tooth_reduction(real, 2.1, gap=m.air_gap) ** 2).mean()), rel=1e-9
    )
    assert all(float(x) < float(y) for x, y in zip(held, bare))
