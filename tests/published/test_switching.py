"""Loss by the inverter's switching against closed forms of the modulation and of the sheet."""

from dataclasses import replace
from math import cos, pi, sin, sqrt

import numpy as np
import pytest

from models.losses.switching import (
    HARMONICS,
    LEVELS,
    ripple_spectrum,
    ripple_square,
    sheet_reduction,
    switching_loss,
)
from tests.machines import SHEET, machine


def test_flux_ripple_of_space_vector_modulation() -> None:
    """D. G. Holmes and T. A. Lipo, *Pulse Width Modulation for Power Converters*, 2003, ch. 6 (from
    memory): squares of the three phases' flux ripple sum to (U T/2)^2 / 48 times
    3/2 M^2 - 4 sqrt(3)/pi M^3 + (27/16 - 81 sqrt(3)/(64 pi)) M^4, M on U/2."""
    k = np.arange(1, HARMONICS + 1)
    phases = 1.5 * (ripple_spectrum() / (2.0 * pi * k) ** 2).sum(axis=1)  # vector to three phases
    m = 2.0 / sqrt(3.0) * LEVELS
    form = 1.5 * m**2 - 4.0 * sqrt(3.0) / pi * m**3
    form += (27.0 / 16.0 - 81.0 * sqrt(3.0) / (64.0 * pi)) * m**4
    # the lowest levels' narrow pulses reach beyond the harmonics that are counted
    assert phases[4:] == pytest.approx(form[4:] / 4.0 / 48.0, rel=1e-3)
    assert phases[1:4] == pytest.approx(form[1:4] / 4.0 / 48.0, rel=6e-3)


def test_six_step_voltage() -> None:
    """Any text on inverters: the harmonics of a six-step voltage are sqrt(pi^2/9 - 1) = 31.08 % of
    its fundamental, 2 U / pi."""
    level = 2.0 * sqrt(3.0) / pi
    share = sqrt(float(ripple_square(level)) / (level**2 / 3.0))
    assert share == pytest.approx(0.3108, abs=1e-4)


def test_spectrum_against_switched_voltages() -> None:
    """Every switching instant of a period by itself, 240 switching periods to a fundamental, and
    the spectrum by Fourier transform."""
    level, ratio, samples = 0.7, 240, 512
    angle = 2.0 * pi * (np.arange(ratio) + 0.5) / ratio
    phases = level / sqrt(3.0) * np.cos(angle[:, None] - 2.0 * pi / 3.0 * np.arange(3))
    shift = 0.5 * (phases.max(axis=1) + phases.min(axis=1))
    duty = 0.5 + phases - shift[:, None]
    carrier = np.abs(2.0 * (np.arange(samples) + 0.5) / samples - 1.0)
    legs = (duty[:, None, :] > carrier[:, None]).reshape(-1, 3).astype(float)
    vector = 2.0 / 3.0 * legs @ np.exp(2j * pi / 3.0 * np.arange(3))
    power = np.abs(np.fft.fft(vector) / vector.size) ** 2
    order = np.abs(np.fft.fftfreq(vector.size, 1.0 / vector.size)) / ratio
    bands = [power[(order > k - 0.5) & (order <= k + 0.5)].sum() for k in (1, 2, 3, 4)]
    ours = ripple_spectrum()[int(np.argmin(np.abs(LEVELS - level)))]
    assert ours[:4] == pytest.approx(bands, rel=0.03)
    total = np.mean(np.abs(vector) ** 2) - level**2 / 3.0
    assert float(ripple_square(level)) == pytest.approx(total, rel=5e-3)


def test_sheet_with_skin_effect() -> None:
    """J. Lammeraner and M. Stafl, *Eddy Currents*, 1966 (from memory): at three skin depths
    (3/x) (sinh x - sin x) / (cosh x - cos x); 3/x in a thick sheet, one in a thin one."""
    low, high = sheet_reduction(SHEET, [1.0, 1e7])
    assert low == pytest.approx(1.0, abs=1e-6)
    permeability = 4e-7 * pi * 1000.0
    depth = sqrt(SHEET.resistivity / (pi * 1e7 * permeability))
    assert high == pytest.approx(3.0 * depth / SHEET.thickness, rel=1e-6)
    x, d = 3.0, SHEET.thickness / 3.0
    f = SHEET.resistivity / (pi * permeability * d**2)
    form = 3.0 / x * (np.sinh(x) - sin(x)) / (np.cosh(x) - cos(x))
    assert float(sheet_reduction(SHEET, f)) == pytest.approx(form, rel=1e-9)


def test_eddy_loss_follows_the_square_of_effective_voltage() -> None:
    """Z. Gmyrek, A. Boglietti, A. Cavagnino, IEEE Trans. Ind. Electron. 55(4) 1722, 2008: eddy loss
    by the square of effective over fundamental voltage, where the sheet is thin."""
    thin = replace(machine(), lamination=replace(SHEET, thickness=1e-5))
    m, u = thin, 400.0
    found = switching_loss(
        m, frequency=1e4, dc_voltage=u, teeth_mass=8.0, yoke_mass=10.0,
        winding_temperature=100.0, resistance=0.01,
    )  # fmt: skip
    level = 0.6
    amplitude, f = level * u / sqrt(3.0), 300.0
    s, w = m.stator, m.winding
    # by hand: flux per pole from the amplitude, teeth at half height, yoke half of it
    flux = amplitude / (2.0 * pi * f) / (w.series_turns * w.winding_factor)
    iron_length = m.stack_length * m.stacking_factor
    yoke = 0.5 * flux / (s.yoke_height * iron_length)
    middle = 0.5 * (s.body_inner_radius + s.slot_bottom_radius)
    slot = 0.5 * (s.slot_width_inner + s.slot_width_outer)
    tooth = 2.0 * (middle * sin(0.5 * s.slot_pitch) - 0.5 * slot * cos(0.5 * s.slot_pitch))
    teeth = flux * m.pole_pairs * s.slot_pitch / 2.0 / (tooth * iron_length)
    k = SHEET.loss.classical * SHEET.build_factor * f**2
    fundamental = k * (8.0 * teeth**2 + 10.0 * yoke**2)
    effective = float(ripple_square(level)) / (level**2 / 3.0) + 1.0
    iron, _ = found.at(np.array([amplitude]), np.array([0.0]))
    # 2 % of the ripple's square lies beyond the harmonics that are counted
    assert iron[0] == pytest.approx((effective - 1.0) * fundamental, rel=0.03)
