"""Critical speeds and ring modes against closed forms and worked examples."""

from math import pi, sqrt

import pytest

from models.constants import GRAVITY
from models.mechanical.shaft import SteppedShaft, bending_speed


def test_uniform_shaft() -> None:
    """Timoshenko, Vibration Problems in Engineering: (pi / l)^2 sqrt(E I / mu) is exact for a
    uniform shaft on two supports; Rayleigh's quotient on its dead weight is 0.07 % above."""
    stiffness, mass, span = 1500.0, 20.0, 0.4
    shaft = SteppedShaft(0.1, 0.1, stiffness, stiffness, mass, mass)
    exact = (pi / span) ** 2 * sqrt(stiffness / mass)
    assert bending_speed(shaft) == pytest.approx(exact, rel=1e-3)
    assert bending_speed(shaft) > exact
    # 9.8767 = sqrt(3024/31): the quotient of the dead-weight line, five digits
    assert bending_speed(shaft) / (sqrt(stiffness / mass) / span**2) == pytest.approx(
        9.87665, rel=1e-5
    )


def test_mass_at_midspan() -> None:
    """Textbook: sqrt(48 E I / (m l^3)) for a light shaft with a mass at midspan."""
    shaft = SteppedShaft(0.2, 0.3, 900.0, 900.0, 0.0, 0.0, centre_mass=12.0)
    assert bending_speed(shaft) == pytest.approx(sqrt(48.0 * 900.0 / 12.0), rel=1e-9)


def test_stepped_shaft() -> None:
    """A. C. Ugural, Mechanical Design of Machine Components, example 9.6 (read at holooly.com):
    400 N at midspan of 1 m, I = 0.3e-6 m^4 in both end quarters and twice that between,
    200 GPa; deflection 3 W L^3 / (256 E I), speed from sqrt(g / deflection)."""
    stiffness = 200e9 * 0.3e-6
    shaft = SteppedShaft(
        0.25, 0.25, stiffness, 2.0 * stiffness, 0.0, 0.0, centre_mass=400.0 / GRAVITY
    )
    deflection = 3.0 * 400.0 / (256.0 * stiffness)
    assert bending_speed(shaft) == pytest.approx(sqrt(GRAVITY / deflection), rel=1e-9)
