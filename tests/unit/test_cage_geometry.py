"""Cage rotor outlines: tiling, areas by hand, a published slot, named refusals."""

from math import pi, sin

import numpy as np
import pytest

from models.errors import InfeasibleDesignError
from models.geometry.cage import (
    bar_area,
    bar_outline,
    bar_pitch_regions,
    build_cage_rotor,
    narrowest_tooth,
)

BASE = {
    "bars": 44, "slots": 48, "bar_shape": "drop", "shaft_ratio": 0.35, "rotor_bridge_height": 8e-4,
    "bar_width_ratio": 0.5, "bar_depth_ratio": 0.3, "rotor_slot_opening": 1.5e-3,
    "ring_width": 12e-3, "skew_slots": 1.0, "cage_material": "copper",
}  # fmt: skip


def rotor(radius=0.07, pole_pairs=2, **changes):
    return build_cage_rotor({**BASE, **changes}, outer_radius=radius, pole_pairs=pole_pairs)


@pytest.mark.parametrize("shape", ["round", "drop", "rectangular", "deep"])
@pytest.mark.parametrize("opening", [0.0, 1.5e-3])
def test_cage_pitch_is_tiled_by_its_regions(shape, opening):
    r = rotor(bar_shape=shape, rotor_slot_opening=opening)
    regions = bar_pitch_regions(r, angle=0.3, index=0, grade="sheet")
    total = sum(region.area() for region in regions)
    assert total == pytest.approx(pi / r.bars * (r.outer_radius**2 - r.shaft_radius**2), rel=1e-12)
    assert all(region.area() > 0.0 for region in regions)
    assert len(regions) == (3 if opening else 2)


@pytest.mark.parametrize("shape", ["round", "drop", "rectangular", "deep"])
@pytest.mark.parametrize("opening", [0.0, 1.5e-3])
def test_cage_bar_width_integrates_to_its_area(shape, opening):
    r = rotor(bar_shape=shape, rotor_slot_opening=opening)
    edges = np.linspace(r.bar_bottom, r.bar_top, 20001)
    area = float(np.sum(r.width(0.5 * (edges[1:] + edges[:-1])) * np.diff(edges)))
    cap = 0.0
    if opening and not r.is_rectangle:
        # the opening cuts a circular segment off the bar
        angle = 2.0 * np.arcsin(0.5 * opening / r.top_radius)
        cap = 0.5 * r.top_radius**2 * (angle - sin(angle))
    assert area - cap == pytest.approx(bar_area(r), rel=1e-4)
    y = bar_outline(r).polygon(0.01)[:, 1]
    assert np.max(y) == pytest.approx(-np.min(y), rel=1e-9)


def test_cage_round_bar_is_a_circle():
    r = rotor(bar_shape="round", rotor_slot_opening=0.0)
    assert bar_area(r) == pytest.approx(pi * r.top_radius**2, rel=1e-12)
    assert r.bar_top == pytest.approx(r.outer_radius - 8e-4)


def test_cage_drop_of_a_published_motor():
    """Drop between parallel teeth: shaft-side radius 1.044 mm follows from the others.

    3 kW motor, 32 rotor slots: J. Gyselinck, PhD thesis, Univ. Gent, 2000; rotor 91.06 mm,
    opening 2.0 x 1.0 mm, gap-side radius 2.13 mm, height 14.25 mm between the circles' extremes.
    """
    # the outer circle starts at the corners of the opening, 1.0 mm below the surface
    centre = 45.53 - 1.0 - (2.13**2 - 1.0) ** 0.5
    bottom = centre + 2.13 - 14.25
    shaft = 15.875
    r = rotor(
        radius=45.53e-3, bars=32, slots=36, shaft_ratio=shaft / 45.53, rotor_bridge_height=1e-3,
        rotor_slot_opening=2e-3, bar_width_ratio=2.13 / (centre * sin(pi / 32)),
        bar_depth_ratio=(45.53 - bottom) / (45.53 - shaft),
    )  # fmt: skip
    assert r.top_radius == pytest.approx(2.13e-3, rel=1e-6)
    assert r.bottom_radius == pytest.approx(1.044e-3, rel=1e-3)
    assert r.bar_height == pytest.approx(14.25e-3, rel=1e-6)
    assert r.taper == pytest.approx(sin(pi / 32), rel=1e-9)
    assert narrowest_tooth(r) == pytest.approx(
        2.0 * (r.top_centre * sin(pi / 32) - r.top_radius), rel=1e-9
    )


@pytest.mark.parametrize(
    ("reason", "changes"),
    [
        ("too_few_bars", {"bars": 10}),
        ("bars_equal_slots", {"bars": 48}),
        ("bar_too_thin", {"bars": 120, "bar_width_ratio": 0.2}),
        ("bar_too_thin", {"bar_depth_ratio": 0.95}),
        ("bar_too_shallow", {"bar_depth_ratio": 0.03}),
        ("rotor_tooth_too_narrow", {"bar_shape": "rectangular", "bar_width_ratio": 0.8}),
        ("rotor_yoke_too_thin", {"bar_shape": "rectangular", "bar_width_ratio": 0.2,
                                 "bar_depth_ratio": 0.97}),
    ],
)  # fmt: skip
def test_cage_refusals_have_names(reason, changes):
    with pytest.raises(InfeasibleDesignError) as error:
        rotor(**changes)
    assert error.value.reason == reason
