"""The field model from the command line: verifying a front, and a study searched with it."""

from pathlib import Path
from typing import Any

import pytest

from optim.store.sqlite import SqliteStore
from tests.commands import command, study_text
from tests.e2e.test_commands import EASY

# So easy that the baseline is feasible, and few evaluations make a front.
EASIER = (
    *EASY,
    ('demagnetisation_margin = ">= 0.10 T"', 'demagnetisation_margin = ">= -0.5 T"'),
    ('bridge_safety_factor = ">= 1.2"', 'bridge_safety_factor = ">= 0.5"'),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("verified")
    (path / "easy.toml").write_text(study_text(*EASIER), encoding="utf-8")
    text = study_text(*EASIER, ('name = "island-post-van"', 'name = "by-field"'))
    (path / "field.toml").write_text(text + '\n[model]\nname = "field"\n', encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def verified(folder: Path) -> dict[str, Any]:
    done = command(folder, "run", "easy.toml", "--budget", "8", "--workers", "1", "-q")
    assert done.code == 0, done.err
    return command(folder, "verify", "last", "--top", "1", "--workers", "1", "--json").document


def test_a_front_is_verified_and_both_values_are_handed_over(
    folder: Path, verified: dict[str, Any]
) -> None:
    assert verified["kind"] == "verification"
    assert verified["verified"] == 1
    (member,) = verified["members"]
    circuit, field = member["metrics_si_circuit"], member["metrics_si"]
    assert field["peak_torque"] != circuit["peak_torque"]
    assert field["peak_torque"] == pytest.approx(circuit["peak_torque"], rel=0.06)
    # Geometry is the same for both models.
    assert field["magnet_mass"] == circuit["magnet_mass"]
    assert member["plane_stress_safety_factor"] > 0.3
    number = str(member["candidate"])
    picked = command(folder, "pick", "last", number, "--json").document
    assert picked["verification"]["metrics_si"] == field
    pack = folder / "pack"
    done = command(folder, "export", "last", number, "--to", str(pack), "--json")
    assert "verification.csv" in done.document["files"]
    lines = (pack / "verification.csv").read_text(encoding="utf-8").splitlines()
    row = next(line for line in lines if line.startswith("peak_torque,")).split(",")
    assert [float(v) for v in row[1:3]] == pytest.approx(
        [circuit["peak_torque"], field["peak_torque"]], rel=1e-9
    )


def test_a_second_verification_solves_nothing(folder: Path, verified: dict[str, Any]) -> None:
    again = command(folder, "verify", "last", "--top", "1", "--dry-run", "--json").document
    assert again["to_solve"] == 0
    same = command(folder, "verify", "last", "--top", "1", "--workers", "1", "--json").document
    assert same["members"] == verified["members"]


def test_a_study_is_searched_with_the_field_model(
    folder: Path, verified: dict[str, Any]
) -> None:  # fmt: skip
    done = command(folder, "run", "field.toml", "--budget", "4", "--workers", "1", "--json")
    assert done.document["evaluations"]["total"] == 4
    with SqliteStore(folder / "runs" / "paretorque.sqlite") as store:
        rows = list(store.rows(store.runs()[-1].run_id))
    assert {row.evaluation.model for row in rows} == {"field"}
    assert any(row.evaluation.status == "ok" for row in rows)
    refused = command(folder, "verify", "last", "--workers", "1")
    assert refused.code == 2
    assert "field model" in refused.err
