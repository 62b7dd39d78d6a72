"""Loss closed forms against published values and exact solutions."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy import integrate, sparse
from scipy.sparse.linalg import spsolve

from models.constants import MU0
from models.losses.iron import loss_coefficients
from models.losses.magnet import block_loss, block_reduction, skin_reduction, torsion_constant
from models.losses.mechanical import end_windage, gap_friction_coefficient
from models.losses.rectangular import layer_ratios, proximity_function, skin_function
from models.losses.strands import circulating_ratio, round_proximity_loss, round_skin_ratio
from models.materials.loss_fit import classical_coefficient
from models.thermal.fluids import air
from tests.machines import COPPER, machine


class TestRectangularBars:
    """Field 1905; P. L. Dowell, Proc. IEE 113(8) 1387, 1966 (closed forms, from memory; values
    computed apart from the project)."""

    @pytest.mark.parametrize(
        ("xi", "phi", "psi"),
        [
            (0.5, 1.005542, 0.020781),
            (1.0, 1.085636, 0.320373),
            (1.5, 1.378094, 1.401217),
            (2.0, 1.897806, 3.248683),
            (3.0, 3.010136, 6.528166),
        ],
    )
    def test_functions(self, xi: float, phi: float, psi: float) -> None:
        assert float(skin_function(xi)) == pytest.approx(phi, abs=1e-6)
        assert float(proximity_function(xi)) == pytest.approx(psi, abs=1e-6)

    @pytest.mark.parametrize(
        ("xi", "ratios"),
        [
            (1.0, (1.40601, 1.93996, 2.68750, 7.81348)),
            (2.0, (5.14649, 10.56096, 18.14122, 70.12015)),
        ],
    )
    def test_mean_over_layers(self, xi: float, ratios: tuple[float, ...]) -> None:
        for z, expected in zip((2, 3, 4, 8), ratios):
            k = skin_function(xi) + (z**2 - 1) / 3.0 * proximity_function(xi)
            assert float(k) == pytest.approx(expected, rel=1e-5)

    def test_hairpin_layers(self) -> None:
        """3 mm bars, b/b_s = 0.85, copper at 120 degC, 1 kHz: 1.1326 2.1234 4.1050 7.0774."""
        m = machine()
        winding = replace(
            m.winding, turns_per_coil=2, conductor_height=3e-3,
            conductor_width=0.85 * m.stator.slot_width_inner,
        )  # fmt: skip
        ratios = layer_ratios(replace(m, winding=winding), [1000.0, 500.0], 120.0)
        np.testing.assert_allclose(ratios[0], [1.1326, 2.1234, 4.1050, 7.0774], rtol=1e-4)
        assert ratios[1].mean() == pytest.approx(1.6831, rel=1e-4)
        six = replace(m, winding=replace(winding, turns_per_coil=3))
        means = layer_ratios(six, [1000.0, 500.0], 120.0).mean(axis=-1)
        np.testing.assert_allclose(means, [6.9123, 2.5477], rtol=1e-4)


class TestRoundWire:
    def test_skin_effect_against_field_in_the_wire(self) -> None:
        """Exact: integrate |J|^2 of J ~ J0(k r) over the section (SciPy quadrature)."""
        from scipy.special import jv

        d, f, rho = 2e-3, 20e3, COPPER.resistivity(20.0)
        k = (1 - 1j) * np.sqrt(pi * f * MU0 / rho)
        loss = integrate.quad(lambda r: abs(jv(0, k * r)) ** 2 * 2 * pi * r, 0, d / 2)[0]
        current = 2 * pi * (d / 2) * jv(1, k * d / 2) / k
        expected = loss / abs(current) ** 2 * pi * (d / 2) ** 2
        assert expected > 1.3
        assert float(round_skin_ratio(d, f, rho)) == pytest.approx(expected, rel=1e-6)

    def test_thin_wire_in_a_field(self) -> None:
        """pi omega^2 B^2 d^4 / (128 rho), any text on litz wire (from memory)."""
        d, f, rho, h = 0.2e-3, 500.0, COPPER.resistivity(20.0), 1e4
        expected = pi * (2 * pi * f * MU0 * h) ** 2 * d**4 / (128 * rho)
        assert float(round_proximity_loss(d, f, rho, field=h)) == pytest.approx(expected, rel=1e-4)

    def test_thick_wire_in_a_field(self) -> None:
        """Perfect-conductor surface current 2 H sin(theta) on a surface of resistance rho/delta."""
        d, f, rho = 20e-3, 1e6, COPPER.resistivity(20.0)
        delta = np.sqrt(rho / (pi * f * MU0))
        expected = 0.5 * rho / delta * 4 * pi * (d / 2)
        assert float(round_proximity_loss(d, f, rho)) == pytest.approx(expected, rel=0.02)


def test_classical_eddy_floor_and_maker_table() -> None:
    """pi^2 d^2 f^2 B^2 / (6 rho density) for a 0.20 mm sheet of 59 uOhm cm; below the total loss
    of the maker's data sheet (March 2019 edition, EN 10303): 2.02, 11.2, 42.4 W/kg."""
    c = classical_coefficient(0.2e-3, 59e-8, density=7600.0)
    for f, b, floor, total in (
        (50.0, 1.5, 0.08254, 2.02), (400.0, 1.0, 2.34781, 11.2), (1000.0, 1.0, 14.67381, 42.4),
    ):  # fmt: skip
        assert c * (f * b) ** 2 == pytest.approx(floor, rel=1e-4)
        assert c * (f * b) ** 2 < total


def test_classical_loss_of_a_triangular_wave() -> None:
    """Published ratio of triangular to sinusoidal flux of one peak: 8 / pi^2 (form factor)."""
    m = machine()
    n = 2000
    x = (np.arange(n) + 0.5) / n
    triangle = 4.0 * np.abs(x - 0.5) - 1.0
    sine = np.sin(2 * pi * x)
    wave = np.stack([triangle, sine])[:, None, :]
    _, b, _ = loss_coefficients(wave, np.array([1.0]), m.lamination)
    assert b[0] / b[1] == pytest.approx(8.0 / pi**2, rel=1e-3)


class TestMagnetBlock:
    """Torsion analogy; table of Timoshenko / Roark; block computed apart from the project."""

    @pytest.mark.parametrize(
        ("ratio", "value"),
        [
            (1.0, 0.14058), (1.5, 0.19576), (2.0, 0.22868), (3.0, 0.26332), (4.0, 0.28081),
            (5.0, 0.29132), (6.0, 0.29832), (10.0, 0.31233),
        ],
    )  # fmt: skip
    def test_torsion_table(self, ratio: float, value: float) -> None:
        assert float(torsion_constant(ratio, 1.0)) / ratio == pytest.approx(value, abs=1e-5)
        assert float(torsion_constant(1.0, ratio)) / ratio == pytest.approx(value, abs=1e-5)

    def test_block(self) -> None:
        load = {"amplitude": 0.1, "frequency": 1e3, "resistivity": 1.5e-6}
        whole = float(block_loss((0.02, 0.05), 5e-3, **load))
        assert whole == pytest.approx(16.40756, rel=1e-6)
        ratios = {2: 0.292058, 3: 0.136044, 4: 0.078280, 5: 0.050773, 8: 0.020228, 10: 0.013030}
        for n, ratio in ratios.items():
            split = n * float(block_loss((0.02 / n, 0.05), 5e-3, **load))
            assert split / whole == pytest.approx(ratio, rel=1e-4)

    def test_plate_with_skin_effect(self) -> None:
        """Diffusion across a plate solved by SciPy's boundary-value solver."""
        ratio = 2.7  # width over skin depth; H'' = 2j H in skin depths, H = 1 on both faces

        def slope(_: np.ndarray, y: np.ndarray) -> np.ndarray:
            return np.stack([y[2], y[3], -2.0 * y[1], 2.0 * y[0]])

        def faces(a: np.ndarray, b: np.ndarray) -> np.ndarray:
            return np.array([a[0] - 1, a[1], b[0] - 1, b[1]])

        x = np.linspace(-ratio / 2, ratio / 2, 60)
        guess = np.zeros((4, x.size))
        guess[0] = 1.0
        sol = integrate.solve_bvp(slope, faces, x, guess, tol=1e-8)
        xs = np.linspace(-ratio / 2, ratio / 2, 4001)
        current = sol.sol(xs)[2] ** 2 + sol.sol(xs)[3] ** 2
        loss = integrate.trapezoid(current, xs)
        assert float(skin_reduction(ratio)) == pytest.approx(loss / (ratio**3 / 3.0), rel=1e-4)

    @pytest.mark.parametrize("ratio", [0.5, 2.0, 4.0])
    def test_block_with_skin_effect(self, ratio: float) -> None:
        """Diffusion in a rectangle, H = 1 on its edges, by finite differences and SciPy's sparse
        solver (second order: two meshes extrapolated)."""

        def loss(cells: int) -> float:
            a, b = ratio, 1.7 * ratio  # in skin depths: laplace H = 2j H
            n, k = cells - 1, int(1.7 * cells + 0.5) - 1
            lines = [
                sparse.diags_array([np.ones(m - 1), -2 * np.ones(m), np.ones(m - 1)],
                                   offsets=[-1, 0, 1]) * ((m + 1) / side) ** 2
                for m, side in ((n, a), (k, b))
            ]  # fmt: skip
            matrix = sparse.kron(lines[0], sparse.eye_array(k)) + sparse.kron(
                sparse.eye_array(n), lines[1]
            )
            # h = H - 1 vanishes on the edges: laplace h - 2j h = 2j
            h = spsolve((matrix - 2j * sparse.eye_array(n * k)).tocsc(),
                                      np.full(n * k, 2j))  # fmt: skip
            area = a / (n + 1) * b / (k + 1)
            return float(-np.sum(h.imag) * area)

        exact = (4 * loss(80) - loss(40)) / 3
        sides = (ratio, 1.7 * ratio)
        # -Im of the integral of H is 2 integral |phi|^2 ~ J_t / 2 where resistance limits
        limit = float(torsion_constant(*sides)) / 2.0
        assert float(block_reduction(sides, 1.0)) == pytest.approx(exact / limit, rel=1e-3)

    def test_block_meets_its_limits(self) -> None:
        """Resistance-limited block (torsion analogy) and plate with skin effect."""
        assert float(block_reduction((0.02, 0.05), 1.0)) == pytest.approx(1.0, abs=1e-5)
        for ratio in (0.5, 2.0, 5.0):
            plate = float(skin_reduction(ratio))
            assert float(block_reduction((ratio, 400.0 * ratio), 1.0)) == pytest.approx(
                plate, rel=0.01
            )


def test_circulating_currents_fall_with_the_square_of_the_end_windings() -> None:
    """T. El Hajji, A. Lehikoinen, A. Belahcen, arXiv 2411.07235, 2024 (abstract read): loss by
    circulating currents falls with the inverse square of the conductors' length outside the
    stack, where that is most of it."""
    m = machine(conductor="round", strand_arrangement="parallel")
    found = []
    for end in (10.0, 20.0):
        winding = replace(m.winding, is_transposed=False, end_turn_length=end * m.stack_length)
        found.append(float(circulating_ratio(replace(m, winding=winding), 200.0, 2e-8)))
    assert found[0] / found[1] == pytest.approx((21.0 / 11.0) ** 2, rel=1e-3)


class TestAirFriction:
    def test_free_disc(self) -> None:
        """Bird, Stewart, Lightfoot, rotating-disc problem: two sides of one disc need
        T = 0.616 pi rho R^4 sqrt(nu omega^3), turbulent T = 0.073 rho omega^2 R^5 Re^-1/5.
        End faces of a rotor are two sides."""
        fluid = air(20.0)
        nu, rho = float(fluid.kinematic_viscosity), float(fluid.density)
        r = 0.1
        w = 200.0
        assert w * r**2 / nu < 3e5
        laminar = 0.616 * pi * rho * r**4 * np.sqrt(nu * w**3) * w
        got = float(end_windage(w, radius=r, inner_radius=0.0, fluid=fluid))
        assert got == pytest.approx(laminar, rel=2e-3)
        w = 1500.0
        turbulent = 0.073 * rho * w**2 * r**5 * (w * r**2 / nu) ** -0.2 * w
        got = float(end_windage(w, radius=r, inner_radius=0.0, fluid=fluid))
        assert got == pytest.approx(turbulent, rel=1e-3)

    def test_gap_branches_meet(self) -> None:
        """Branches of Bilgen and Boulos 1973 (coefficients from memory) join within 6 %."""
        for re in (64.0, 500.0, 1e4):
            below, above = gap_friction_coefficient([re * (1 - 1e-9), re * (1 + 1e-9)], 0.01)
            assert above == pytest.approx(below, rel=0.06)
