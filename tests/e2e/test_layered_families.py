"""Reluctance and two-layer rotors from a study file to the hand-over pack."""

import csv
from pathlib import Path

import numpy as np
import pytest

from models.evaluate import evaluate, perform_design
from models.nomenclature import family_metrics
from optim.export.design_file import read_design
from optim.export.pack import write_pack
from optim.study.judge import judge
from optim.study.load import loads
from tests.commands import study_text
from tests.export_case import CONTEXT, DUTY

ASSISTED = {
    "magnet_grade": "ferrite-31-30", "magnet_fill_1": 0.9, "magnet_fill_2": 0.9,
    "air_gap": 0.6e-3, "rib_width": 1e-3, "bridge_thickness": 0.8e-3,
}  # fmt: skip
MACHINE = """[machine]
family = "reluctance"
slots = 48
poles = 8
stator_outer_diameter_mm = 200

[variables]
barriers = { low = 1, high = 4, start = 3 }
insulation_ratio = { low = 0.2, high = 0.5, start = 0.35 }
magnet_fill_2 = { low = 0, high = 1, start = 0 }

"""


def _reluctance_study() -> str:
    text = study_text()
    start = text.index("[machine]")
    end = text.index("[objectives]")
    limits = text.index("[limits]")
    search = text.index("[search]")
    kept = '[limits]\nbridge_safety_factor = ">= 0.1"\n'
    return text[:start] + MACHINE + text[end:limits] + kept + text[search:]


def test_a_reluctance_study_evaluates() -> None:
    study = loads(_reluctance_study())
    assert study.family == "reluctance"
    outcome = evaluate(study.baseline, study.duty, family=study.family)
    assert outcome.status == "ok", outcome.message
    expected = {n for n, m in family_metrics("reluctance").items() if not m.models} - {
        "cost",
        "magnet_cost_share",
    }
    assert expected <= set(outcome.metrics)
    assert outcome.metrics["open_circuit_flux"] == outcome.metrics["magnet_mass"] == 0.0
    assert outcome.metrics["reluctance_share"] == 1.0
    assert judge(study, outcome, study.baseline).is_feasible


@pytest.mark.parametrize("layout", ["double_v", "v_flat"])
def test_two_layers_evaluate_completely(layout: str) -> None:
    given = {"magnet_layout": layout, "v_depth_ratio": 0.8}
    outcome = evaluate(given, DUTY, family="interior")
    assert outcome.status == "ok", outcome.message
    expected = {n for n, m in family_metrics("interior").items() if not m.models} - {
        "cost",
        "magnet_cost_share",
    }
    assert expected <= set(outcome.metrics)
    assert outcome.metrics["magnet_pieces"] == 2 * 8 * 2 * 6  # layers, poles, legs, axial pieces


def test_pack_of_an_assisted_machine(tmp_path: Path) -> None:
    result = perform_design(ASSISTED, DUTY, family="reluctance")
    write_pack(tmp_path / "pack", result, CONTEXT)
    record = read_design((tmp_path / "pack" / "design.toml").read_text(encoding="utf-8"))
    assert record.family == "reluctance"
    lines = (tmp_path / "pack" / "tables" / "flux_map.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.reader(line for line in lines if not line.startswith("#")))
    head = [cell.split(" ")[0] for cell in rows[0]]
    data = dict(zip(head, np.array(rows[1:], dtype=float).T))
    assert data["i_d"].min() == data["i_q"].min() == 0.0
    torque = 6.0 * (data["psi_d"] * data["i_q"] - data["psi_q"] * data["i_d"])
    assert np.abs(torque - data["air_gap_torque"]).max() < 1e-6 * torque.max()
    # magnets along negative q
    origin = (data["i_d"] == 0.0) & (data["i_q"] == 0.0)
    assert data["psi_q"][origin][0] < 0.0
    assert abs(data["psi_d"][origin][0]) < 1e-9
    assert any("reluctance, whose magnets" in line for line in lines if line.startswith("#"))
    drawing = (tmp_path / "pack" / "section_sector.svg").read_text(encoding="utf-8")
    assert "negative q axis upwards" in drawing
