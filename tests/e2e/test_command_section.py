"""`paretorque section` as a person runs it: from a design file and from a run, and bad requests."""

import json
from pathlib import Path

import pytest

from models.geometry.build import complete
from optim.export.design_file import design_record, design_toml
from tests.commands import command, study_text
from tests.export_case import CONTEXT, DUTY


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("section")
    record = design_record(
        complete({"poles": 6, "slots": 36, "parallel_paths": 2}), DUTY, family="interior",
        model="circuit", context=CONTEXT,
    )  # fmt: skip
    (path / "design.toml").write_text(design_toml(record), encoding="utf-8")
    return path


def test_a_design_file_needs_no_store(folder: Path) -> None:
    done = command(folder, "section", "design.toml", "--geojson", "a.geojson", "--json")
    assert done.document["kind"] == "section"
    content = json.loads((folder / "a.geojson").read_text(encoding="utf-8"))
    assert done.document["polygons"] == len(content["features"])
    assert content["machine"]["pole_pairs"] == 3
    here = command(folder, "section", "design.toml", "--geojson", "-")
    assert json.loads(here.out) == content


def test_a_file_is_replaced_only_when_asked(folder: Path) -> None:
    target = folder / "b.geojson"
    target.write_text("mine")
    refused = command(folder, "section", "design.toml", "--geojson", "b.geojson")
    assert refused.code == 2
    assert "--overwrite" in refused.err
    assert target.read_text() == "mine"
    done = command(folder, "section", "design.toml", "--geojson", "b.geojson", "--overwrite")
    assert done.code == 0
    assert target.read_text(encoding="utf-8").startswith("{")


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("design.toml",), "--geojson"),
        (("design.toml", "--geojson", "no/such/x.geojson"), "make it first"),
        (("design.toml", "--geojson", "."), "folder"),
        (("design.toml", "--geojson", "-", "--json"), "one of them"),
        (("nothing.toml", "--geojson", "x.geojson"), "nothing.toml"),
    ],
)
def test_bad_requests_name_what_is_wrong(
    folder: Path, arguments: tuple[str, ...], word: str
) -> None:
    done = command(folder, "section", *arguments)
    assert done.code == 2
    assert word in done.err
    assert not (folder / "x.geojson").exists()


def test_a_candidate_of_a_run(folder: Path) -> None:
    # So easy that a handful of designs is enough for a front.
    text = study_text(
        ('launch_torque = ">= 200 N*m"', 'launch_torque = ">= 1 N*m"'),
        ('torque_at_base_speed = ">= 195 N*m"', 'torque_at_base_speed = ">= 1 N*m"'),
        ('top_speed_power = ">= 70 kW"', 'top_speed_power = ">= 1 kW"'),
        ('back_emf_line_peak = "<= 500 V"', 'back_emf_line_peak = "<= 5000 V"'),
        ('demagnetisation_margin = ">= 0.10 T"', 'demagnetisation_margin = ">= -2 T"'),
        ('bridge_safety_factor = ">= 1.2"', 'bridge_safety_factor = ">= 0.1"'),
        ('winding_temperature = "<= 150 degC"', 'winding_temperature = "<= 900 degC"'),
        ('magnet_temperature = "<= 120 degC"', 'magnet_temperature = "<= 900 degC"'),
        ('continuous_torque = ">= 120 N*m"', 'continuous_torque = ">= 1 N*m"'),
        ('cycle_missed_energy = "<= 0.1 %"', 'cycle_missed_energy = "<= 100 %"'),
    )
    (folder / "easy.toml").write_text(text, encoding="utf-8")
    run = command(folder, "run", "easy.toml", "--budget", "8", "--workers", "1", "--json")
    best = run.document["candidates"][0]
    done = command(folder, "section", f"last:{best['candidate']}", "--geojson", "c.geojson")
    assert done.code == 0, done.err
    content = json.loads((folder / "c.geojson").read_text(encoding="utf-8"))
    assert content["machine"]["stack_length_mm"] == pytest.approx(
        best["parameters"]["stack_length_mm"]
    )
    assert any(best_name in note for note in content["notes"]
               for best_name in [f":{best['candidate']}"])  # fmt: skip
