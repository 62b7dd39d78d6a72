"""Critical speed and magnet retention of a machine: limits and trends."""

from math import inf
from typing import Any

import pytest

from models.mechanical.mass import masses
from models.mechanical.retention import magnet_retention_factor
from models.mechanical.shaft import bearing_stiffness, critical_speed
from tests.machines import areas, machine


def speed(bearing: float | None = None, **changes: Any) -> float:
    m = machine(**changes)
    return critical_speed(m, masses(m, areas(m)), bearing=bearing)


def test_soft_bearings_lower_and_stiff_ones_leave_bending_alone() -> None:
    own, stiff, soft = speed(), speed(inf), speed(1e7)
    assert soft < own < stiff
    m = machine()
    mass = masses(m, areas(m)).rotor
    assert soft == pytest.approx((2e7 / mass) ** 0.5, rel=0.1)  # a stiff rotor on springs


def test_thicker_shaft_and_shorter_stack_raise_it() -> None:
    assert (
        speed(inf, shaft_ratio=0.30) < speed(inf, shaft_ratio=0.38) < speed(inf, shaft_ratio=0.45)
    )
    assert speed(stack_length=0.20) < speed(stack_length=0.14) < speed(stack_length=0.09)


def test_a_bore_costs_stiffness_and_saves_mass() -> None:
    """The neutral fibre carries little: half the diameter bored out takes 6 % of the second
    moment in the stack, so the critical speed hardly moves (the seats lose more)."""
    solid, hollow = speed(inf), speed(inf, shaft_bore_ratio=0.4)
    assert 0.9 * solid < hollow < solid


def test_bearing_stiffness_is_of_the_known_size() -> None:
    """1e8 to 2e8 N/m for bores of 30 to 45 mm (from memory of makers' tables)."""
    low, high = (bearing_stiffness(d, 8e3 * d) for d in (0.030, 0.045))
    assert 0.7e8 < low < high < 3e8


def test_retention_falls_with_speed_and_magnet_thickness() -> None:
    slow, fast = (magnet_retention_factor(machine(), w) for w in (1000.0, 2000.0))
    assert slow > 3.0 * fast > 0.0
    thin, thick = (
        magnet_retention_factor(machine(magnet_thickness=h), 1500.0) for h in (4e-3, 6e-3)
    )
    assert thick < thin
    # A deep V stands its legs along the pull: friction falls and the pull along them grows.
    flat, deep = (magnet_retention_factor(machine(v_depth_ratio=v), 1500.0) for v in (0.0, 1.0))
    assert deep < flat
