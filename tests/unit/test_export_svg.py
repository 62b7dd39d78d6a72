"""The SVG section: well-formed, to scale, with phases, arrows and dimensions."""

import re
from math import asin, pi, sin
from xml.etree import ElementTree

import pytest

from optim.export.drawing_svg import path_of, section_svg
from optim.export.palette import PAGE_NAMES, page_variables, with_page_colours
from optim.export.section_view import section_view
from tests.export_case import performance

SVG = "{http://www.w3.org/2000/svg}"


def _root(**options):
    text = section_svg(section_view(performance()), title="A & <B>", foot="foot", **options)
    return ElementTree.fromstring(text)


def _area(data):
    """Area of path data by shoelace and circular segments, y downwards [mm^2]."""
    total = 0.0
    for loop in data.split("Z")[:-1]:
        parts = re.findall(r"([MLA])([^MLA]*)", loop)
        points = [tuple(map(float, numbers.split()[-2:])) for _, numbers in parts]
        for (command, numbers), (x0, y0) in zip(parts[1:], points):
            n = [float(v) for v in numbers.split()]
            x1, y1 = n[-2:]
            total += 0.5 * (x0 * y1 - x1 * y0)
            if command == "A":
                chord = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
                half = asin(min(1.0, chord / (2.0 * n[0])))
                sweep = 2.0 * (pi - half if n[3] else half)
                segment = 0.5 * n[0] ** 2 * (sweep - sin(sweep))
                total += segment if n[4] else -segment
        (x0, y0), (x1, y1) = points[-1], points[0]
        total += 0.5 * (x0 * y1 - x1 * y0)
    return -total


def test_paths_enclose_the_areas_of_the_section():
    for part in section_view(performance()).parts:
        data = "".join(path_of(loop, (0.0, 0.0)) for loop in part.loops)
        # coordinates are written to 0.1 um
        assert _area(data) == pytest.approx(1e6 * part.area(), rel=1e-4), part.part


def test_title_is_escaped_and_everything_is_there():
    root = _root()
    assert root.find(f"{SVG}title").text == "A & <B>"
    texts = [t.text for t in root.iter(f"{SVG}text")]
    assert "foot" in texts
    # 48 slots, 8 poles, q = 2: each phase belt is two slots wide (star of slots)
    phases = [t for t in texts if re.fullmatch("[+−][UVW]", t)]
    assert phases == ["+U", "+U", "−W", "−W", "+V", "+V"]
    for value in ("210.00 mm", "0.80 mm", "5.00 mm", "140.00 mm", "48 / 8"):
        assert value in texts
    arrows = [p for p in root.iter(f"{SVG}path") if p.get("class") == "magnetisation"]
    assert len(arrows) == 2


def test_bare_picture_has_no_notes():
    texts = [t.text for t in _root(is_annotated=False).iter(f"{SVG}text")]
    assert len(texts) == 6


def test_phases_turn_with_the_winding():
    names = [letter.text for letter in section_view(performance()).phases]
    winding = performance().machine.winding
    for k, name in enumerate(names):
        shares = [winding.slot_phases["UVW".index(name[1])][k], -1.0 if name[0] == "−" else 1.0]
        assert shares[0] == shares[1]


def test_page_colours_leave_no_fixed_palette_colour():
    text = with_page_colours(section_svg(section_view(performance()), title="t", foot=""))
    assert not any(colour in text for colour in PAGE_NAMES)
    for name in set(re.findall(r"var\(--([a-z-]+)\)", text)):
        assert f"--{name}:" in page_variables()
