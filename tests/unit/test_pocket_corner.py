"""The crowding of the field at the end of a magnet, against limits of the conformal map."""

from dataclasses import replace
from math import cos, hypot, pi, sin

import pytest

from models.circuit.pocket_corner import corner_amplification
from models.geometry.build import build
from models.machine import InteriorRotor

BASE = build({}).rotor


def _with_turns(turn: float, opposite: float) -> InteriorRotor:
    """Return the rotor with barrier walls that turn by these angles [rad] at the magnet's end."""
    gap_in, gap_out, shaft_out, _ = BASE.magnet_corners
    size = hypot(gap_out[0] - gap_in[0], gap_out[1] - gap_in[1])
    along = ((gap_out[0] - gap_in[0]) / size, (gap_out[1] - gap_in[1]) / size)
    h = hypot(gap_out[0] - shaft_out[0], gap_out[1] - shaft_out[1])
    outward = ((gap_out[0] - shaft_out[0]) / h, (gap_out[1] - shaft_out[1]) / h)

    def end(start: tuple[float, float], angle: float) -> tuple[float, float]:
        return (
            start[0] + h * (cos(angle) * along[0] + sin(angle) * outward[0]),
            start[1] + h * (cos(angle) * along[1] + sin(angle) * outward[1]),
        )

    return replace(BASE, barrier_corners=(end(gap_out, turn), end(shaft_out, opposite)))


def test_a_straight_channel_and_a_wall_that_closes_in_crowd_nothing() -> None:
    assert corner_amplification(_with_turns(0.0, 0.0), 0.02) == 1.0
    assert corner_amplification(_with_turns(-0.5, 0.0), 0.02) == 1.0


@pytest.mark.parametrize("turn", [0.3, 0.7, 1.2])
def test_the_field_grows_into_the_corner_as_the_wedge_demands(turn: float) -> None:
    # At a convex corner of air angle pi (1 + b) the field goes as r^(-b / (1 + b)) (separation
    # of variables in a wedge), so as area^(-b / (2 (1 + b))).
    rotor, b = _with_turns(turn, 0.5 * turn), turn / pi
    small, smaller = (corner_amplification(rotor, share) for share in (4e-3, 1e-3))
    assert smaller / small == pytest.approx(4.0 ** (b / (2.0 * (1.0 + b))), rel=0.02)


def test_a_sharper_turn_and_a_smaller_share_crowd_more() -> None:
    ratios = [corner_amplification(_with_turns(t, 0.5 * t), 0.02) for t in (0.2, 0.5, 0.9)]
    assert 1.0 < ratios[0] < ratios[1] < ratios[2] < 2.0
    rotor = _with_turns(0.5, 0.3)
    shares = [corner_amplification(rotor, share) for share in (0.1, 0.05, 0.02)]
    assert 1.0 <= shares[0] < shares[1] < shares[2]
