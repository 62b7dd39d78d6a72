"""DXF drawings read back by a reference library: clean, closed, and of the right areas."""

import re
from io import StringIO
from math import atan, cos, hypot, pi, sin

import ezdxf
import pytest
from ezdxf.math import bulge_to_arc

from models.geometry.section import Outline, arc_bulge
from optim.export.drawing_dxf import LAYERS, section_dxf
from optim.export.outlines import joined, reverse
from tests.export_case import performance


def _read(is_full):
    document = ezdxf.read(StringIO(section_dxf(performance(), lines=("note",), is_full=is_full)))
    assert not document.audit().errors
    return document


def _signed_area(polyline):
    """Shoelace and circular segments, radius and centre from the library."""
    points = polyline.get_points("xyb")
    total = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(points, points[1:] + points[:1]):
        total += 0.5 * (x0 * y1 - x1 * y0)
        if bulge:
            _, _, _, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
            sweep = 4.0 * atan(abs(bulge))
            segment = 0.5 * radius**2 * (sweep - sin(sweep))
            total += segment if bulge > 0 else -segment
    return total


def _layer_areas(document):
    out = {}
    for line in document.modelspace().query("LWPOLYLINE"):
        if line.dxf.layer == "MAGNETISATION":
            continue
        assert line.closed
        out[line.dxf.layer] = out.get(line.dxf.layer, 0.0) + _signed_area(line)
    return out


def test_full_machine_has_the_areas_of_the_masses():
    document = _read(is_full=True)
    assert document.units == ezdxf.units.MM
    found, areas = _layer_areas(document), performance().areas
    assert found["STATOR_SHEET"] == pytest.approx(areas.stator_sheet * 1e6, rel=1e-9)
    assert found["ROTOR_SHEET"] == pytest.approx(areas.rotor_sheet * 1e6, rel=1e-9)
    assert found["MAGNETS"] == pytest.approx(areas.magnet * 1e6, rel=1e-9)
    assert found["FLUX_BARRIERS"] == pytest.approx(areas.barrier_air * 1e6, rel=1e-9)
    assert found["SHAFT"] == pytest.approx(areas.shaft * 1e6, rel=1e-9)
    assert found["SLOT_CONDUCTORS"] == pytest.approx(areas.slot_gross * 1e6, rel=1e-9)


def test_everything_together_fills_the_disc_but_the_air_gap():
    p = performance()
    total = sum(_layer_areas(_read(is_full=True)).values())
    outer, bore, rotor = (
        1e3 * r
        for r in (p.machine.stator.outer_radius, p.section.bore_radius, p.section.rotor_radius)
    )
    assert total == pytest.approx(pi * (outer**2 - bore**2 + rotor**2), rel=1e-9)


def test_one_pole_is_the_machine_over_its_poles():
    full, pole = _layer_areas(_read(is_full=True)), _layer_areas(_read(is_full=False))
    assert set(full) == set(pole)
    for layer, area in full.items():
        assert 8.0 * pole[layer] == pytest.approx(area, rel=1e-9)


def test_sheets_are_single_loops_without_the_cuts_between_pieces():
    document = _read(is_full=True)
    count = {}
    for line in document.modelspace().query("LWPOLYLINE"):
        count[line.dxf.layer] = count.get(line.dxf.layer, 0) + 1
    assert count["STATOR_SHEET"] == 2  # rim, and bore with all slots
    assert count["ROTOR_SHEET"] == 2 + 16  # rim, shaft hole, two pockets a pole
    assert count["SHAFT"] == 1
    assert count["MAGNETS"] == count["MAGNETISATION"] == 16
    assert count["SLOT_CONDUCTORS"] == 48


def test_rims_are_true_circles():
    rims = [
        line.get_points("xyb")
        for line in _read(is_full=True).modelspace().query('LWPOLYLINE[layer=="STATOR_SHEET"]')
    ]
    rim = min(rims, key=len)
    assert len(rim) == 2
    for x, y, bulge in rim:
        assert hypot(x, y) == pytest.approx(105.0, abs=1e-6)
        assert bulge == pytest.approx(1.0, abs=1e-6)


def test_neighbouring_poles_are_magnetised_in_opposite_directions():
    arrows = [
        line.get_points("xy")
        for line in _read(is_full=True).modelspace().query('LWPOLYLINE[layer=="MAGNETISATION"]')
    ]
    outwards = [x0 * (x1 - x0) + y0 * (y1 - y0) > 0.0 for (x0, y0), (x1, y1), *_ in arrows]
    # two magnets a pole in the order of the poles; the first pole is a north pole
    assert outwards == [pole % 2 == 0 for pole in range(8) for _ in range(2)]


def test_layers_are_one_a_part():
    names = [layer for layer, _ in LAYERS.values()]
    assert len(set(names)) == len(names)


def test_the_same_design_gives_the_same_text():
    a, b = (section_dxf(performance(), lines=("note",)) for _ in range(2))
    assert a == b


def test_the_kinds_of_entities_are_listed_in_the_same_order_in_every_process():
    text = section_dxf(performance(), lines=())
    start = text.index("CLASSES")
    names = re.findall(r"CLASS\n  1\n(\w+)", text[start : text.index("ENDSEC", start)])
    # Those in use come first, by name; then those that the format wants in any case.
    in_use = names[: names.index("VISUALSTYLE") + 1]
    assert in_use == sorted(in_use)
    assert {"DICTIONARYVAR", "LAYOUT", "MATERIAL"} <= set(in_use)


def _sector(start, sweep, inner=1.0, outer=2.0):
    corners = [
        (r * cos(a), r * sin(a))
        for r, a in ((inner, start), (outer, start), (outer, start + sweep), (inner, start + sweep))
    ]
    return Outline(tuple(corners), (0.0, arc_bulge(sweep), 0.0, -arc_bulge(sweep)))


def test_joining_sectors_gives_a_ring_of_two_circles():
    loops = joined([_sector(k * pi / 3.0, pi / 3.0) for k in range(6)])
    assert sorted(loop.area() for loop in loops) == pytest.approx([-pi, 4.0 * pi], rel=1e-12)


def test_joining_keeps_what_touches_in_a_point_apart():
    a = Outline(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)), (0.0,) * 4)
    b = Outline(((1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0)), (0.0,) * 4)
    assert sorted(loop.area() for loop in joined([a, b])) == pytest.approx([1.0, 1.0])


def test_reversing_changes_the_sign_of_the_area_only():
    loop = _sector(0.3, 0.9)
    assert reverse(loop).area() == pytest.approx(-loop.area(), rel=1e-12)
    assert reverse(reverse(loop)) == loop
