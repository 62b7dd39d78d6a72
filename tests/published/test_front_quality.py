"""Hypervolumes of point sets and fronts with published or exact values."""

import moocore
import numpy as np
import pytest

from optim.ranking.archive import front_of
from optim.ranking.hypervolume import hypervolume, normalised_hypervolume
from optim.ranking.scale import Scale


def test_documentation_example_of_the_library() -> None:
    # moocore 0.3.2 (LGPL-2.1+), documentation of `hypervolume`: 38.0 for reference (10, 10)
    points = [[5, 5], [4, 6], [2, 7], [7, 4]]
    assert hypervolume(points, reference=[10, 10]) == 38.0
    # the same set maximised against (0, 0): 39.0
    assert hypervolume(-np.array(points), reference=[0, 0]) == 39.0


def test_data_set_of_the_library() -> None:
    # moocore 0.3.2 documentation: `input1.dat`, reference (10, 10), 100 points, 6 non-dominated
    points = moocore.get_dataset("input1.dat")[:, :-1]
    assert hypervolume(points, reference=[10, 10]) == pytest.approx(93.55331425585321, rel=1e-12)
    front = front_of(range(len(points)), points)
    assert len(front) == 6
    assert hypervolume(points[front], reference=[10, 10]) == pytest.approx(
        93.55331425585321, rel=1e-12
    )


def test_exact_front_of_zdt1() -> None:
    # E. Zitzler, K. Deb, L. Thiele, Evol. Comput. 8(2), 173-195, 2000: front f2 = 1 - sqrt(f1).
    # Its area up to (1.1, 1.1) in closed form: 1.21 - 1/3 = 0.8766667.
    f1 = np.linspace(0.0, 1.0, 20001)
    value = hypervolume(np.column_stack([f1, 1.0 - np.sqrt(f1)]), reference=[1.1, 1.1])
    assert value == pytest.approx(1.21 - 1.0 / 3.0, abs=1e-4)


def test_exact_front_of_dtlz2() -> None:
    # K. Deb, L. Thiele, M. Laumanns, E. Zitzler, 2002: the positive octant of the unit sphere.
    # Volume up to (1.1, 1.1, 1.1) in closed form: 1.331 - pi/6 = 0.807401.
    a, b = np.meshgrid(np.linspace(0, np.pi / 2, 160), np.linspace(0, np.pi / 2, 160))
    points = np.column_stack(
        [(np.cos(a) * np.cos(b)).ravel(), (np.cos(a) * np.sin(b)).ravel(), np.sin(a).ravel()]
    )
    exact = 1.331 - np.pi / 6.0
    value = hypervolume(points, reference=[1.1] * 3)
    assert exact - 0.012 < value < exact
    # the same front in the fixed box of a study, 0 to 1.1 in each objective
    box = Scale(np.zeros(3), np.full(3, 1.1))
    assert normalised_hypervolume(points, box) == pytest.approx(value / 1.331, rel=1e-9)
