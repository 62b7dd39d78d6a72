"""Bars under skin effect against the closed form of a rectangular bar."""

import numpy as np
import pytest

from models.constants import MU0
from models.induction.bar_skin import layered_impedance

RHO, WIDTH, HEIGHT = 1.0 / 26.7e6, 3e-3, 30e-3


@pytest.mark.parametrize(
    ("xi", "resistance", "inductance"),
    [(0.5, 1.005542, 0.998417), (1.0, 1.085636, 0.975589), (1.5, 1.378094, 0.893205),
     (2.0, 1.897806, 0.752276), (3.0, 3.010136, 0.503081)],
)  # fmt: skip
@pytest.mark.parametrize("layers", [1, 7])
def test_induction_deep_bar(xi, resistance, inductance, layers):
    """phi(xi) and 3/(2 xi) (sinh 2xi - sin 2xi)/(cosh 2xi - cos 2xi), 1e-5, for any layering.

    A. B. Field, Trans. AIEE 1905; P. L. Dowell, Proc. IEE 113(8) 1387, 1966 (from memory); values
    computed from the closed form.
    """
    w = 2.0 * RHO / MU0 * (xi / HEIGHT) ** 2
    z = layered_impedance(np.full(layers, WIDTH), np.full(layers, HEIGHT / layers), w, RHO)
    assert z.real / (RHO / (WIDTH * HEIGHT)) == pytest.approx(resistance, rel=1e-5)
    assert z.imag / w / (MU0 * HEIGHT / (3.0 * WIDTH)) == pytest.approx(inductance, rel=1e-5)


def test_induction_bar_direct_current_limit():
    """rho / A and mu0 times the integral of (i(y)/I)^2 / b for a two-step bar, by hand."""
    widths, heights = np.array([6e-3, 2e-3]), np.array([4e-3, 10e-3])
    z = layered_impedance(widths, heights, 0.05, RHO)
    area = widths @ heights
    assert z.real == pytest.approx(RHO / area, rel=1e-6)
    share = widths[0] * heights[0] / area
    # current rises linearly: the mean of i^2 over a layer from a to b is (a^2 + a b + b^2) / 3
    by_hand = MU0 * (
        share**2 / 3.0 * heights[0] / widths[0]
        + (share**2 + share + 1.0) / 3.0 * heights[1] / widths[1]
    )
    assert z.imag / 0.05 == pytest.approx(by_hand, rel=1e-5)
