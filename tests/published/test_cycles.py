"""Drive cycles and wheel energy against the regulations' own numbers."""

from itertools import pairwise

import numpy as np
import pytest

from models.duty import Vehicle
from models.vehicle.cycles import built_in
from models.vehicle.road_load import wheel_energy

MILE = 1609.344


def test_wltc_checksum_and_phases() -> None:
    """UN GTR 15 Annex 1, class 3b: checksum of the speed table and of its four phases.

    Trapezoidal and 1 s sums agree because the trace starts and ends at rest.
    """
    cycle = built_in("wltc_3b")
    km_h = cycle.speed * 3.6
    assert cycle.time.size == 1801
    assert cycle.time[-1] == 1800.0
    assert km_h.sum() == pytest.approx(83758.6, abs=0.1)
    ends = [0, 590, 1023, 1478, 1801]
    sums = [km_h[a:b].sum() for a, b in pairwise(ends)]
    assert sums == pytest.approx([11140.3, 17121.2, 25782.2, 29714.9], abs=0.1)
    tops = [km_h[a:b].max() for a, b in pairwise(ends)]
    assert tops == pytest.approx([56.5, 76.6, 97.4, 131.3], abs=1e-6)
    stops = [int(np.sum(km_h[a:b] < 1e-9)) for a, b in pairwise(ends)]
    assert stops == [150, 48, 30, 7]
    a = np.diff(cycle.speed)
    assert (a.max(), a.min()) == pytest.approx((1.6667, -1.5), abs=1e-4)


@pytest.mark.parametrize(
    ("name", "samples", "metres", "miles", "mean_mph", "top_mph"),
    [
        # 40 CFR Part 86 App. I (UDDS, US06), Part 600 App. I (HWFET): published rounded
        # distances 7.45, 10.26, 8.01 mi and top speeds; metres and means computed from the
        # same published trace
        ("udds", 1370, 11990.43, 7.45, 19.592, 56.7),
        ("hwfet", 766, 16506.82, 10.26, 48.268, 59.9),
        ("us06", 601, 12887.58, 8.01, 48.048, 80.3),
    ],
)
def test_us_cycles(
    name: str, samples: int, metres: float, miles: float, mean_mph: float, top_mph: float
) -> None:
    cycle = built_in(name)
    distance = np.trapezoid(cycle.speed, cycle.time)
    assert cycle.time.size == samples
    assert distance == pytest.approx(metres, rel=1e-3)
    assert distance / MILE == pytest.approx(miles, abs=0.006)
    assert distance / MILE / (cycle.time[-1] / 3600.0) == pytest.approx(mean_mph, rel=2e-3)
    assert cycle.speed.max() * 3600.0 / MILE == pytest.approx(top_mph, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "traction", "braking", "power"),
    [
        ("wltc_3b", 12.604704e6, -3.514171e6, 45.2997e3),
        ("udds", 5.445570e6, -2.519696e6, 35.031e3),
        ("hwfet", 7.251892e6, -0.728284e6, 28.941e3),
        ("us06", 9.309993e6, -2.635379e6, 89.756e3),
    ],
)
def test_wheel_energy(name: str, traction: float, braking: float, power: float) -> None:
    """UN GTR 15 Annex 7 par. 5 (formula from memory), computed apart from this project.

    TM = 1600 kg, f0 = 120 N, f1 = 0.5 N/(km/h), f2 = 0.035 N/(km/h)^2; tolerance 0.05 %.
    """
    car = Vehicle(
        mass=1600.0, road_load=(120.0, 0.5 * 3.6, 0.035 * 3.6**2), wheel_radius=0.3, gear_ratio=9.0
    )
    got = wheel_energy(car, built_in(name))
    assert got.traction == pytest.approx(traction, rel=5e-4)
    assert got.braking == pytest.approx(braking, rel=5e-4)
    assert got.power_max == pytest.approx(power, rel=5e-4)
    if name == "wltc_3b":
        assert got.power_min == pytest.approx(-32.8895e3, rel=5e-4)
        assert got.distance == pytest.approx(23266.28, abs=0.5)
