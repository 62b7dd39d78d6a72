"""Sections: exact areas, closure, symmetry."""

from math import pi

import numpy as np
import pytest

from models.errors import InfeasibleDesignError, InvalidInputError
from models.geometry.areas import areas
from models.geometry.build import build, section
from models.geometry.section import Outline, arc_bulge


def test_outline_area_of_a_half_disc_is_exact() -> None:
    half_disc = Outline(((1.0, 0.0), (-1.0, 0.0)), (arc_bulge(pi), 0.0))
    assert half_disc.area() == pytest.approx(pi / 2, rel=1e-12)


def test_outline_polygon_converges_to_the_area() -> None:
    lens = Outline(((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)), (0.3, -0.2, 0.0))
    x, y = lens.polygon(step=1e-3).T
    shoelace = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert shoelace == pytest.approx(lens.area(), rel=1e-6)


def test_mirroring_keeps_area_and_orientation() -> None:
    shape = Outline(((1.0, 0.1), (2.0, 0.2), (1.5, 1.0)), (0.2, 0.0, -0.1))
    assert shape.transformed(0.7, mirror=True).area() == pytest.approx(shape.area(), rel=1e-12)


@pytest.mark.parametrize("conductor", ["rectangular", "round"])
@pytest.mark.parametrize("v_depth", [0.0, 0.4, 1.0])
def test_regions_tile_the_sector(conductor: str, v_depth: float) -> None:
    machine = build({"conductor": conductor, "v_depth_ratio": v_depth})
    one_pole = section(machine)
    sector = pi / (2 * machine.pole_pairs)
    rotor = sum(r.area() for r in one_pole.rotor)
    assert rotor == pytest.approx(sector * machine.rotor.outer_radius**2, rel=1e-12)
    stator = sum(r.area() for r in one_pole.stator)
    ring = machine.stator.outer_radius**2 - machine.stator.bore_radius**2
    assert stator == pytest.approx(sector * ring, rel=1e-12)
    assert all(r.area() > 0.0 for r in (*one_pole.rotor, *one_pole.stator))


def test_magnet_area_is_thickness_times_width() -> None:
    machine = build({})
    rotor = machine.rotor
    expected = 2 * 2 * machine.pole_pairs * rotor.magnet_thickness * rotor.magnet_width
    assert areas(machine, section(machine)).magnet == pytest.approx(expected, rel=1e-12)


def test_flat_magnet_is_perpendicular_to_the_pole_axis() -> None:
    rotor = build({"v_depth_ratio": 0.0}).rotor
    assert rotor.leg_angle == pytest.approx(pi / 2)
    assert rotor.magnet_corners[0][0] == pytest.approx(rotor.magnet_corners[1][0])


def test_bridge_has_its_thickness_everywhere() -> None:
    rotor = build({"bridge_thickness": 1.7e-3}).rotor
    for x, y in rotor.barrier_corners:
        assert rotor.outer_radius - np.hypot(x, y) == pytest.approx(1.7e-3, rel=1e-12)


@pytest.mark.parametrize(
    ("parameters", "reason"),
    [
        ({"slot_depth_ratio": 0.1}, "slot_too_shallow"),
        ({"tooth_width_ratio": 0.9}, "slot_too_narrow"),
        ({"slot_opening_ratio": 0.05}, "slot_opening_too_narrow"),
        ({"magnet_thickness": 14e-3, "rib_width": 10e-3}, "pole_too_small"),
        ({"shaft_ratio": 0.9}, "magnet_too_deep"),
        ({"magnet_width_ratio": 0.3, "magnet_thickness": 6e-3}, "magnet_too_short"),
        ({"barrier_span_ratio": 0.99, "bridge_thickness": 3e-3}, "interpolar_web_too_narrow"),
        ({"poles": 7}, "odd_number_of_poles"),
    ],
)
def test_impossible_sections_are_named(parameters: dict[str, float], reason: str) -> None:
    with pytest.raises(InfeasibleDesignError) as caught:
        build(parameters)
    assert caught.value.reason == reason


def test_unknown_parameter_and_family_are_refused() -> None:
    with pytest.raises(InvalidInputError, match="magnet_thicknes"):
        build({"magnet_thicknes": 1e-3})
    with pytest.raises(InvalidInputError, match="octagon"):
        build({}, family="octagon")
