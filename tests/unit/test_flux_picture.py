"""The flux picture: its data against the field solution, its drawing, its colours, the pack."""

from dataclasses import replace
from functools import cache
from io import BytesIO
from math import pi

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from models.field import field_model, solve_point
from models.field.picture import FieldPicture, SidePicture, field_picture
from models.geometry.build import build, section
from optim.export.pictures import drawings, picture_data
from optim.export.plots.even_map import even_map, lab_of, rgb_of
from optim.export.plots.figure import png_bytes, svg_text
from optim.export.plots.flux_picture import (
    FLUX_COLOURS,
    FluxPicture,
    draw_flux_picture,
    flux_picture_data,
)
from tests.export_case import CONTEXT, performance

ANGLE = 0.7


@cache
def _picture() -> FieldPicture:
    return field_picture(
        build({}), i_d=-200.0, i_q=300.0, magnet_temperature=90.0, rotor_angle=ANGLE
    )


def _area(side: SidePicture) -> float:
    a, b, c = (side.points[side.triangles[:, k]] for k in range(3))
    u, v = b - a, c - a
    return float(0.5 * np.sum(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))


def test_data_is_the_solution_of_the_field_model() -> None:
    picture, machine = _picture(), build({})
    point = solve_point(
        field_model(machine, magnet_temperature=90.0), -200.0, 300.0, rotor_angle=ANGLE
    )
    assert picture.torque == pytest.approx(point.torque, rel=1e-9)
    assert picture.pole_pitch == pytest.approx(pi / machine.pole_pairs)


def test_triangles_cover_both_sides() -> None:
    picture, machine = _picture(), build({})
    gap = machine.air_gap
    r, s = machine.rotor, machine.stator
    half = 0.5 * picture.pole_pitch
    rotor = half * ((r.outer_radius + gap / 3.0) ** 2 - r.shaft_radius**2)
    stator = half * (s.outer_radius**2 - (s.bore_radius - gap / 3.0) ** 2)
    assert _area(picture.rotor) == pytest.approx(rotor, rel=1e-3)
    assert _area(picture.stator) == pytest.approx(stator, rel=1e-3)


def test_colours_go_on_from_one_sector_to_the_next() -> None:
    side, half = _picture().stator, 0.5 * _picture().pole_pitch
    angle = np.arctan2(side.shade_points[:, 1], side.shade_points[:, 0])
    radius = np.hypot(*side.shade_points.T)
    low, high = (np.flatnonzero(np.abs(angle - a) < 1e-9) for a in (-half, half))
    assert len(low) == len(high) > 20
    low, high = (nodes[np.argsort(radius[nodes])] for nodes in (low, high))
    np.testing.assert_allclose(side.flux_density[low], side.flux_density[high], rtol=1e-12)


def test_potential_gives_the_flux_density_back() -> None:
    """|grad A| of the straight triangles is |B|, in the mean over iron and air alike."""
    for side in (_picture().rotor, _picture().stator):
        p, a = side.points[side.triangles], side.potential[side.triangles]
        u, v = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
        det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        du, dv = a[:, 1] - a[:, 0], a[:, 2] - a[:, 0]
        b = np.hypot(du * v[:, 1] - dv * u[:, 1], dv * u[:, 0] - du * v[:, 0]) / det
        shown = side.flux_density[side.shade_triangles].mean(axis=1)
        assert np.average(np.abs(b - shown), weights=det) < 0.06 * np.average(b, weights=det)
        assert 1.5 < side.flux_density.max() < 3.5


def test_a_turned_rotor_moves_and_the_stator_stays() -> None:
    turned = _picture()
    plain = field_picture(build({}), i_d=-200.0, i_q=300.0, magnet_temperature=90.0)
    assert turned.rotor_place - plain.rotor_place == pytest.approx(ANGLE / 4.0)
    assert np.array_equal(turned.stator.points, plain.stator.points)
    assert np.hypot(*turned.rotor.points.T) == pytest.approx(np.hypot(*plain.rotor.points.T))


def test_drawing_shows_field_current_and_origin() -> None:
    figure = draw_flux_picture(
        FluxPicture(_picture(), section(build({})), "interior"), footer="seed 3 | field"
    )
    words = " ".join(t.get_text() for axes in figure.axes for t in (axes.title, axes.yaxis.label))
    words += " ".join(axes.get_title(loc="left") for axes in figure.axes)
    for word in ("[T]", "-200 A", "300 A", "90 °C", "mWb", "N·m", "[mm]"):
        assert word in words
    with Image.open(BytesIO(png_bytes(figure, dots_per_inch=100.0))) as image:
        pixels = np.asarray(image.convert("RGB")).reshape(-1, 3) / 255.0
    # Light slots and dark bridges are both there: the whole scale is used.
    lightness = lab_of(pixels)[:, 0]
    assert lightness.min() < 20.0
    assert np.mean(lightness < 60.0) > 0.1
    svg = svg_text(figure, name="flux")
    assert svg.count("<image") >= 1
    assert len(svg) < 2_000_000


def test_colours_are_even_and_darken() -> None:
    lab = lab_of(FLUX_COLOURS.colors)
    steps = np.linalg.norm(np.diff(lab, axis=0), axis=1)
    # Even but for the three steps that cut a corner of the path.
    assert np.sum(np.abs(steps / np.median(steps) - 1.0) > 0.01) <= 3
    assert steps.min() > 0.6 * steps.max()
    assert np.all(np.diff(lab[:, 0]) < 0.0)
    assert lab[0, 0] - lab[-1, 0] > 80.0


def test_lab_against_published_values() -> None:
    """L*a*b* of the sRGB primaries under D65 (widely published, from memory)."""
    assert lab_of((1.0, 1.0, 1.0)) == pytest.approx([100.0, 0.0, 0.0], abs=0.02)
    assert lab_of((1.0, 0.0, 0.0)) == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    assert lab_of((0.0, 0.0, 1.0)) == pytest.approx([32.30, 79.19, -107.86], abs=0.05)
    colours = np.random.default_rng(1).uniform(size=(50, 3))
    assert rgb_of(lab_of(colours)) == pytest.approx(colours, abs=1e-4)
    two = even_map(("#ffffff", "#000000"), steps=3)
    assert lab_of(two.colors[1])[0] == pytest.approx(50.0, abs=0.1)
    assert two.colors[0] == pytest.approx(to_rgb("#ffffff"), abs=1e-6)


def test_pack_of_the_field_model_has_the_picture() -> None:
    circuit = performance()
    assert picture_data(circuit, CONTEXT).flux is None
    data = flux_picture_data(circuit)
    names = set(drawings(replace(picture_data(circuit, CONTEXT), flux=data), footer="x"))
    assert "flux_density" in names
    assert "flux_density" not in drawings(picture_data(circuit, CONTEXT), footer="x")
    # At peak current the torque of the field is near that of the maps.
    assert data.field.torque == pytest.approx(circuit.drive.table.peak_torque, rel=0.15)
