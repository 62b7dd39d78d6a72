"""The hand-over pack of a surface-magnet machine: its own rotor in every file."""

import json
from xml.etree import ElementTree

import pytest

from models.evaluate import evaluate, perform_design
from models.geometry.build import build
from models.performance.summary import metrics
from optim.export.design_file import read_design
from optim.export.pack import PackFile, pack_files
from optim.export.section_geojson import section_geojson
from tests.export_case import CONTEXT, DUTY

PARAMETERS = {
    "shaft_ratio": 0.4, "magnetisation": "radial", "inset_ratio": 0.3, "magnet_width_segments": 3,
    "sleeve_thickness": 1.2e-3, "sleeve_material": "titanium",
}  # fmt: skip


@pytest.fixture(scope="module")
def files() -> dict[str, PackFile]:
    performance = perform_design(PARAMETERS, DUTY, family="surface")
    return {f.path: f for f in pack_files(performance, CONTEXT)}


def test_design_file_evaluates_to_the_very_same_metrics(files: dict[str, PackFile]) -> None:
    record = read_design(files["design.toml"].content.decode(), source="design.toml")
    assert record.family == "surface"
    again = evaluate(record.parameters, DUTY, family=record.family, model=record.model)
    expected = metrics(perform_design(PARAMETERS, DUTY, family="surface"))
    assert dict(again.metrics) == expected


def test_drawing_shows_sleeve_and_magnet(files: dict[str, PackFile]) -> None:
    text = files["section_sector.svg"].content.decode()
    ElementTree.fromstring(text)
    for words in ("titanium sleeve", "magnet arc", "1.20 mm", "radial"):
        assert words in text, words
    assert "SLEEVE" in files["section_full.dxf"].content.decode()


def test_section_for_programs_tells_how_magnets_point() -> None:
    found = json.loads(section_geojson(build(PARAMETERS, family="surface")))
    magnets = [f["properties"] for f in found["features"] if f["properties"]["part"] == "magnet"]
    assert [m["magnetisation_order"] for m in magnets] == [1.0]
    assert any(f["properties"]["part"] == "sleeve" for f in found["features"])


def test_bill_has_the_sleeve_and_arc_pieces(files: dict[str, PackFile]) -> None:
    path = next(name for name in files if name.endswith("bill_of_materials.csv"))
    text = files[path].content.decode()
    assert "leeve" in text
    assert "(arc)" in text
