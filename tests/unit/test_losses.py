"""Losses: hand calculation, limits, scaling."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.special import jve

from models.errors import InvalidInputError
from models.losses.bearings import bearing_torque, grease_viscosity
from models.losses.copper import phase_resistance, resistance_ratio, winding_shares
from models.losses.families import magnet_skin_ratio
from models.losses.iron import loss_coefficients, loss_coefficients_of_components
from models.losses.magnet import (
    block_loss,
    magnet_loss,
    magnet_skin_depth,
    skin_reduction,
    slot_order,
)
from models.losses.mechanical import gap_windage, mechanical_loss
from models.losses.rectangular import (
    coil_side_coupling,
    layer_ratios,
    proximity_function,
    skin_function,
)
from models.losses.strands import bessel_ratio
from models.thermal.fluids import air
from tests.machines import COPPER, SHEET, machine


class TestCopper:
    def test_phase_resistance_by_hand(self) -> None:
        m = machine()
        w = m.winding
        # 48 slots x 6 conductors / 3 phases / 4 paths = 24 conductors in series, 4 in parallel
        length = 24 * (m.stack_length + w.end_turn_length)
        expected = 1e-6 / 58 * (1 + 0.00393 * 80) * length / (4 * w.conductor_area)
        assert phase_resistance(m, 100.0) == pytest.approx(expected, rel=1e-12)
        assert sum(winding_shares(m)) == pytest.approx(1.0)

    def test_series_and_closed_form_meet(self) -> None:
        x = np.array([1e-2 * (1 - 1e-9), 1e-2])
        np.testing.assert_allclose(np.diff(skin_function(x)), 0.0, atol=1e-12)
        np.testing.assert_allclose(np.diff(proximity_function(x)) / x[1] ** 4, 0.0, atol=1e-5)
        assert np.all(np.isfinite(proximity_function([0.0, 800.0])))

    def test_full_pitch_and_single_layer_agree(self) -> None:
        two = machine()
        one = machine(winding_layers=1, turns_per_coil=6)
        np.testing.assert_allclose(
            layer_ratios(two, [300.0, 900.0], 90.0), layer_ratios(one, [300.0, 900.0], 90.0)
        )

    def test_short_pitch_couples_half_the_slots_at_60_degrees(self) -> None:
        # q = 2, one slot short: every other slot holds two phases 60 degrees apart.
        short = machine(pitch_shortening=1)
        assert coil_side_coupling(short.winding) == pytest.approx((1.0 + 0.5) / 2.0)
        full = machine()
        f = [400.0, 1200.0]
        assert np.all(layer_ratios(short, f, 90.0) <= layer_ratios(full, f, 90.0) + 1e-12)

    def test_weights_from_phasors(self) -> None:
        """Top side 60 degrees ahead of the bottom side: sum the phasors one by one."""
        from models.losses.rectangular import _current_weights

        current = np.array([1.0] * 3 + [np.exp(1j * pi / 3)] * 3)
        below = np.concatenate([[0.0], np.cumsum(current)[:-1]])
        expected = np.abs(below) ** 2 + np.real(below * np.conj(current))
        np.testing.assert_allclose(_current_weights(6, 2, 0.5), expected)

    @pytest.mark.parametrize("conductor", ["rectangular", "round"])
    def test_ratio_starts_at_one_grows_with_frequency_falls_with_heat(self, conductor: str) -> None:
        m = machine(conductor=conductor)
        f = np.linspace(0.0, 2000.0, 21)
        k = resistance_ratio(m, f, 90.0)
        assert k.shape == f.shape
        assert k[0] == pytest.approx(1.0, abs=1e-9)
        assert np.all(np.diff(k) > 0)
        assert np.all(resistance_ratio(m, f[1:], 150.0) < k[1:])

    def test_thin_strands_by_hand(self) -> None:
        """Parallel slot: mean square field (N I / b_s)^2 / 3; loss pi omega^2 B^2 d^4 / (64 rho)
        for an rms field, against rho / (pi d^2 / 4) per ampere squared."""
        m = machine(conductor="round", strand_diameter=0.5e-3)
        m = replace(m, stator=replace(m.stator, slot_width_outer=m.stator.slot_width_inner))
        w, f, rho, d = m.winding, 200.0, COPPER.resistivity(20.0), 0.5e-3
        h = np.sqrt(1 / 3) * w.conductors_per_slot * w.strands / m.stator.slot_width_inner
        eddy = pi * (2 * pi * f * 4e-7 * pi * h) ** 2 * d**4 / (64 * rho)
        expected = winding_shares(m)[0] * eddy * (pi * d**2 / 4) / rho
        extra = float(resistance_ratio(m, f, 20.0)) - 1.0
        assert extra == pytest.approx(expected, rel=2e-3)


class TestIron:
    def test_sine_reproduces_the_sheet_law(self) -> None:
        theta = 2 * pi * np.arange(18) / 18
        wave = 1.2 * np.cos(theta + 0.0)[None, :]
        a, b, c = loss_coefficients(wave, np.array([2.0]), SHEET)
        fit = SHEET.loss
        mass = 2.0 * SHEET.build_factor
        assert a == pytest.approx(mass * fit.hysteresis * 1.2 ** (1.8 + 0.12), rel=1e-9)
        assert b == pytest.approx(mass * fit.classical * 1.44, rel=1e-9)
        # 18 samples of |sin|^1.5 give its mean to 0.3 %
        assert c == pytest.approx(mass * fit.excess * 1.2**1.5, rel=3e-3)

    def test_harmonics_add_by_their_order_squared(self) -> None:
        theta = 2 * pi * np.arange(36) / 36
        wave = (1.0 * np.cos(theta) + 0.2 * np.cos(5 * theta) + 0.1 * np.sin(7 * theta))[None, :]
        b = loss_coefficients(wave, np.array([1.0]), SHEET)[1]
        expected = SHEET.build_factor * SHEET.loss.classical * (1 + 1.0**2 + 0.7**2)
        assert b == pytest.approx(expected, rel=1e-9)

    def test_shapes_and_axes(self) -> None:
        rng = np.random.default_rng(3)
        x, y = rng.normal(size=(2, 5, 4, 14, 18))
        mass = rng.uniform(size=14)
        whole = loss_coefficients_of_components(x, y, mass, SHEET)
        turned = loss_coefficients_of_components(0.6 * x - 0.8 * y, 0.8 * x + 0.6 * y, mass, SHEET)
        assert whole[0].shape == (5, 4)
        np.testing.assert_allclose(whole[1], turned[1])
        np.testing.assert_allclose(whole[2], turned[2])
        single = loss_coefficients(x, mass, SHEET)
        none = loss_coefficients_of_components(x, 0.0 * x, mass, SHEET)
        for p, q in zip(single, none):
            np.testing.assert_allclose(p, q)

    def test_too_few_samples(self) -> None:
        with pytest.raises(InvalidInputError, match="3 samples per period given"):
            loss_coefficients(np.zeros((1, 3)), np.ones(1), SHEET)

    def test_half_a_period_tells_all(self) -> None:
        theta = 2.0 * pi * np.arange(30) / 30
        x = np.array([1.2 * np.sin(theta) + 0.5 * np.sin(5.0 * theta), 0.2 * np.cos(3.0 * theta)])
        y = np.array([0.3 * np.cos(theta), 0.9 * np.cos(theta) - 0.4 * np.sin(7.0 * theta)])
        mass = np.array([1.0, 2.0])
        whole = loss_coefficients_of_components(x, y, mass, SHEET)
        half = loss_coefficients_of_components(x[:, :15], y[:, :15], mass, SHEET, is_half=True)
        np.testing.assert_allclose(half, whole, rtol=1e-12)


class TestMagnet:
    def test_segments_cut_loss_while_resistance_limits_the_eddy_currents(self) -> None:
        for key in ("magnet_axial_segments", "magnet_width_segments"):
            loss = [float(magnet_loss(machine(**{key: n}), 0.02, 50.0)) for n in (1, 2, 4, 12)]
            assert loss == sorted(loss, reverse=True)
            assert magnet_skin_ratio(machine(**{key: 4}), 50.0) < 1.0

    def test_segments_raise_loss_where_the_skin_effect_limits_them(self) -> None:
        """A uniform ripple keeps to a layer of one skin depth along each piece's edge: the loss
        follows the sum of perimeters, 2 n (w + L / n) = 2 (n w + L), and grows with n. Only when
        the pieces are as thin as the skin depth does it fall. At 20 kHz the depth is 4.2 mm and
        a leg 20 mm wide (3.8 is where the width's own skin ratio leaves the range)."""
        pieces = np.array([1, 2, 4, 40])
        machines = [machine(magnet_axial_segments=int(n)) for n in pieces]
        assert machines[0].rotor.magnet_width > 3.5 * float(magnet_skin_depth(machines[0], 20e3))
        one, two, four, many = (float(magnet_loss(m, 0.02, 20e3 / 6)) for m in machines)
        assert one < two < four
        assert many < one
        # Deeper still, the perimeter rules alone: doubling the pieces of 20 x 140 mm.
        deep = [float(magnet_loss(m, 0.02, 1e6 / 6)) for m in machines[:2]]
        width, length = machines[0].rotor.magnet_width, machines[0].stack_length
        assert deep[1] / deep[0] == pytest.approx((2 * width + length) / (width + length), rel=0.03)

    def test_slot_harmonics_count_with_their_own_order(self) -> None:
        m = machine()
        assert slot_order(m) == 12
        low = float(magnet_loss(m, 0.01, 5.0))
        assert float(magnet_loss(m, 0.01, 5.0, order=12)) == pytest.approx(4 * low, rel=1e-3)
        assert magnet_skin_ratio(m, 800.0) == pytest.approx(
            min(m.rotor.magnet_width, m.stack_length / 6)
            / np.sqrt(1.5e-6 / (pi * 9600.0 * 4e-7 * pi * 1.05)),
            rel=1e-6,
        )

    def test_all_pieces_by_hand(self) -> None:
        """8 poles x 2 legs x 6 x 2 pieces, each by the torsion closed form, at 6 f; at 20 Hz the
        skin effect is negligible."""
        m = machine(magnet_width_segments=2)
        r = m.rotor
        one = block_loss(
            (0.5 * r.magnet_width, 0.140 / 6), r.magnet_thickness,
            amplitude=0.02, frequency=120.0, resistivity=1.5e-6,
        )  # fmt: skip
        assert float(magnet_loss(m, 0.02, 20.0)) == pytest.approx(8 * 2 * 12 * one, rel=1e-4)

    def test_small_ratio(self) -> None:
        x = np.array([5e-2 * (1 - 1e-9), 5e-2])
        np.testing.assert_allclose(np.diff(skin_reduction(x)), 0.0, atol=1e-11)

    def test_scaling(self) -> None:
        m = machine()
        slow = magnet_loss(m, 0.01, 10.0)
        assert magnet_loss(m, 0.03, 10.0) == pytest.approx(9 * slow)
        assert magnet_loss(m, 0.01, 20.0) == pytest.approx(4 * slow, rel=1e-3)
        assert magnet_loss(m, np.zeros(3), 10.0) == pytest.approx(0.0)


class TestFriction:
    def test_narrow_laminar_gap_is_couette_flow_in_order_of_magnitude(self) -> None:
        """Exact torque of a narrow laminar gap: 2 pi mu omega r^3 l / delta. The fit was made on
        wider gaps; at delta / r = 0.047 it gives 10 * 0.047^0.3 = 4 / Re, the exact value."""
        fluid = air(20.0)
        r, w = 0.02, 50.0
        gap = 0.0472 * r
        exact = 2 * pi * float(fluid.viscosity) * w * r**3 / gap * 0.1 * w
        re = w * r * gap / float(fluid.kinematic_viscosity)
        assert re < 64
        got = float(gap_windage(w, radius=r, gap=gap, length=0.1, fluid=fluid))
        assert got == pytest.approx(exact, rel=0.01)

    def test_bearing_by_hand(self) -> None:
        """nu n = 20 x 10000 = 2e5: M_0 = 1e-7 1.5 (2e5)^(2/3) 50^3 = 64.1 N mm. Load: P_0 = 210,
        C_0 = 13250: f1 = 9.22e-5; P_1 = 890: M_1 = 4.10 N mm."""
        m = bearing_torque(
            10000 * pi / 30, mean_diameter=0.05, radial_load=100.0, axial_load=300.0,
            viscosity=20e-6,
        )  # fmt: skip
        assert float(m) == pytest.approx(1e-3 * (64.12 + 4.10), rel=2e-3)

    def test_grease_by_class_and_temperature(self) -> None:
        """Base oils of ISO 3448 classes 100 and 46, viscosity index about 98 (from memory): 11.2
        and 6.8 mm^2/s at 100 degC; the one slope is exact for the first."""
        assert grease_viscosity(100e-6, 100.0) == pytest.approx(11.2e-6, rel=0.01)
        assert grease_viscosity(46e-6, 100.0) == pytest.approx(6.8e-6, rel=0.07)
        assert grease_viscosity(46e-6, 40.0) == pytest.approx(46e-6, rel=1e-12)
        thick, thin = machine(), machine(grease_viscosity=32e-6)
        cold, warm, other = (
            float(mechanical_loss(m, 900.0, rotor_mass=15.0, bearing_temperature=t).bearings)
            for m, t in ((thick, 40.0), (thick, 80.0), (thin, 80.0))
        )
        assert cold > warm > other
        # the viscous part follows viscosity to the power 2/3, the load's part stays
        assert cold / warm < (100.0 / 19.6) ** (2.0 / 3.0)

    def test_grows_with_speed_and_ignores_its_sign(self) -> None:
        m = machine()
        w = np.linspace(0.0, 1800.0, 40)
        loss = mechanical_loss(m, w, rotor_mass=15.0)
        assert loss.total[0] == 0.0
        for part in (loss.bearings, loss.gap, loss.ends):
            assert np.all(np.diff(part) > 0)
        back = mechanical_loss(m, -w, rotor_mass=15.0)
        np.testing.assert_array_equal(back.total, loss.total)

    def test_order_of_magnitude_at_top_speed(self) -> None:
        """A few hundred watts at 14000 rpm (common practice, no source)."""
        total = float(mechanical_loss(machine(), 1466.0, rotor_mass=15.0).total)
        assert 100.0 < total < 1000.0


def test_build_factor_multiplies_all_parts() -> None:
    wave = np.sin(2 * pi * np.arange(12) / 12)[None, :]
    plain = loss_coefficients(wave, np.ones(1), replace(SHEET, build_factor=1.0))
    built = loss_coefficients(wave, np.ones(1), replace(SHEET, build_factor=1.7))
    for p, q in zip(plain, built):
        assert q == pytest.approx(1.7 * p)


class TestMinorLoops:
    def test_a_minor_loop_by_hand(self) -> None:
        """Up to 1 T with a dip of 0.4 T on the way, back down: B_p = 1, one minor loop of 0.4 T:
        factor 1 + 0.65 x 0.4 (Lavers, Biringer, Hollitscher 1978, from memory)."""
        plain = np.array([-1.0, -0.5, 0.0, 0.5, 0.8, 1.0, 0.5, 0.0, -0.5, -0.8])
        dipped = np.array([-1.0, -0.5, 0.0, 0.5, 0.1, 1.0, 0.5, 0.0, -0.5, -0.8])
        one = np.ones(1)
        without = loss_coefficients(plain[None], one, SHEET)[0]
        with_loop = loss_coefficients(dipped[None], one, SHEET)[0]
        assert with_loop / without == pytest.approx(1.0 + 0.65 * 0.4, rel=1e-9)

    def test_none_in_a_plain_wave_and_a_bias_does_not_count(self) -> None:
        theta = 2 * pi * np.arange(30) / 30
        wave = 0.3 * np.cos(theta)[None]
        plain = loss_coefficients(wave, np.ones(1), SHEET)
        biased = loss_coefficients(wave + 0.9, np.ones(1), SHEET)
        fit = SHEET.loss
        law = SHEET.build_factor * fit.hysteresis * 0.3 ** (fit.alpha + 0.3 * fit.beta)
        assert plain[0] == pytest.approx(law, rel=1e-9)
        np.testing.assert_allclose(biased, plain, rtol=1e-9)


def test_bessel_ratio_against_the_library() -> None:
    """SciPy's Bessel functions, from far below to far beyond the skin depth."""
    z = (1.0 - 1.0j) * np.geomspace(1e-3, 200.0, 60)
    np.testing.assert_allclose(bessel_ratio(z), jve(1, z) / jve(0, z), rtol=1e-12)
