"""Bad input gets an exit code and a text that says what to do, and loses nothing.

Commands are called in this process: what is tested is their code and text; that the process ends
with that code is tested once.
"""

import json
import sqlite3
from pathlib import Path

import numpy as np
import pytest

from models.evaluation import Evaluation
from optim.service.cli import COMMANDS, command_line
from optim.store.contract import EvaluationRow
from optim.store.sqlite import SqliteStore
from optim.study.load import load
from tests.commands import DEMO, command, study_text

UNKNOWN_KEY = ("slots = 48", "slotts = 48")
WRONG_UNIT = ('launch_torque = ">= 200 N*m"', 'launch_torque = ">= 200 kg"')
LOW_ABOVE_HIGH = ("stack_length_mm = { low = 100, high = 180,", "stack_length_mm = { low = 190, high = 180,")  # fmt: skip  # noqa: E501
UNKNOWN_METRIC = ('magnet_mass = "minimise"', 'magnet_mas = "minimise"')
CONTRADICTION = (
    'continuous_torque = ">= 120 N*m"',
    'continuous_torque = [">= 120 N*m", "<= 100 N*m"]',
)

BAD_STUDIES = {
    "unknown key": (UNKNOWN_KEY, ["machine.slotts", "Did you mean 'slots'"]),
    "wrong unit": (WRONG_UNIT, ["limits.launch_torque", "200 kg", "N*m"]),
    "low above high": (LOW_ABOVE_HIGH, ["variables.stack_length_mm"]),
    "unknown metric": (UNKNOWN_METRIC, ["objectives.magnet_mas", "Did you mean 'magnet_mass'"]),
    "contradictory limits": (CONTRADICTION, ["limits.continuous_torque", "contradict"]),
}

BAD_LINES = {
    "no such file": (["check", "nowhere.toml"], ["nowhere.toml", "cannot be read"]),
    "no such command": (["chek", "study.toml"], ["chek", "check"]),
    "no such option": (["check", "study.toml", "--wokers", "2"], ["--wokers", "--workers"]),
    "no store": (["front", "last"], ["no store", "--store"]),
    "nothing to run": (["run"], ["study file or --resume"]),
    "both": (["run", "study.toml", "--resume", "last"], ["either a study file or --resume"]),
    "no worker": (["run", "study.toml", "--workers", "0"], ["--workers", "1 or more"]),
    "two places": (
        ["run", "study.toml", "--workers", "2", "--scheduler", "tcp://localhost:1"],
        ["--workers and --scheduler"],
    ),
    "budget": (["run", "study.toml", "--budget", "1"], ["--budget", "4 evaluations"]),
    "budget in words": (["run", "study.toml", "--budget", "many"], ["--budget", "valid integer"]),
    "model": (["evaluate", "study.toml", "--model", "circut"], ["Did you mean 'circuit'"]),
    "setting": (
        ["evaluate", "study.toml", "--set", "stack_lenght=4 mm"], ["Did you mean 'stack_length"],
    ),
    "setting without value": (["evaluate", "study.toml", "--set", "slots"], ["NAME=VALUE"]),
    "design file": (["evaluate", "nowhere.json"], ["nowhere.json", "cannot be read"]),
}  # fmt: skip

BAD_LOOKS = {
    "run": (["front", "nobody"], ["'nobody' is not in the store", "post-1"]),
    "several runs": (["front", "post"], ["fits 2 runs"]),
    "candidate": (["pick", "post-1", "99"], ["candidate 99 is not on the front"]),
    "method": (["front", "last", "--by", "nee"], ["Did you mean 'knee'"]),
    "weights": (["front", "last", "--weights", "cots=1"], ["Did you mean 'cost'"]),
    "weight": (["front", "last", "--weights", "cost=much"], ["weights.cost", "number"]),
    "goals": (["front", "last", "--by", "goals"], ["no goal"]),
    "goal": (["front", "last", "--goals", "magnet_mass=1 V"], ["kg"]),
    "limit": (["front", "last", "--limit", "magnet_mass < 1 kg"], ["magnet_mass <= 1.4 kg"]),
    "rerun of nothing": (["rerun", "last"], ["at least one of --limit"]),
    "looser": (
        ["rerun", "last", "--limit", "launch_torque >= 100 N*m"], ["at least as tight"],
    ),
    "objective": (["rerun", "last", "--objective", "less cost"], ["maximise peak_torque"]),
    "price": (["rerun", "last", "--price", "magnet_neodimium=3"], ["magnet_neodymium"]),
    "negative price": (["rerun", "last", "--price", "shaft=-3"], ["0 or more"]),
    "resume what is done": (["run", "--resume", "post-1"], ["a run that is done cannot start"]),
    "seed of a resumed run": (["run", "--resume", "last", "--seed", "3"], ["paretorque rerun"]),
    "compare": (["compare", "last:x", "last"], ["RUN:CANDIDATE"]),
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    Path("study.toml").write_text(study_text(), encoding="utf-8")
    return tmp_path


@pytest.fixture
def runs(folder: Path) -> Path:
    """Two finished runs of one design whose metrics are made up to meet every limit."""
    study = load(DEMO)
    values = {o.metric: 1.0 for o in study.objectives} | {
        limit.metric: limit.bound for limit in study.limits
    }
    quantities = (
        "conductor_mass", "purchased_sheet_mass", "stator_sheet_mass", "rotor_sheet_mass",
        "magnet_mass", "heavy_rare_earth_mass", "insulation_area", "shaft_mass",
    )  # fmt: skip
    metrics = dict.fromkeys(quantities, 1.0) | values
    row = EvaluationRow(0, "k", np.zeros(len(study.variables)), study.baseline,
                        Evaluation("ok", "circuit", metrics=metrics))  # fmt: skip
    with SqliteStore() as store:
        for name in ("post-1", "post-2"):
            store.create_run("post", study.text, run_id=name)
            store.append(name, [row])
            store.change_state(name, "queued", "done")
    return folder


@pytest.mark.parametrize("name", BAD_STUDIES)
def test_a_bad_study_is_refused(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change, texts = BAD_STUDIES[name]
    Path("study.toml").write_text(study_text(change), encoding="utf-8")
    for line in (["check", "study.toml"], ["run", "study.toml"]):
        assert command_line(line) == 2
        said = capsys.readouterr()
        assert said.out == ""
        for text in texts:
            assert text in said.err
    assert not Path("runs").exists()


def test_all_mistakes_come_at_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("study.toml").write_text(
        study_text(UNKNOWN_KEY, WRONG_UNIT, LOW_ABOVE_HIGH, UNKNOWN_METRIC), encoding="utf-8"
    )
    assert command_line(["check", "study.toml", "--json"]) == 2
    content = json.loads(capsys.readouterr().err)
    assert (content["kind"], content["format"], content["code"]) == ("error", 1, 2)
    places = " ".join(p["where"] for p in content["problems"])
    for part in ("slotts", "launch_torque", "stack_length", "magnet_mas"):
        assert part in places
    assert all(p["given"] and p["allowed"] for p in content["problems"])


@pytest.mark.parametrize("name", BAD_LINES)
def test_a_bad_line_is_refused(name: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line, texts = BAD_LINES[name]
    assert command_line(line) == 2
    said = capsys.readouterr()
    for text in texts:
        assert text in said.err
    assert "Traceback" not in said.err


@pytest.mark.parametrize("name", BAD_LOOKS)
def test_a_bad_look_at_runs_is_refused(
    name: str, runs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line, texts = BAD_LOOKS[name]
    # Workers are not what is tested here.
    assert command_line(line) == 2
    said = capsys.readouterr()
    for text in texts:
        assert text in said.err
    with SqliteStore() as store:
        assert [(r.run_id, r.state, store.count(r.run_id)) for r in store.runs()] == [
            ("post-1", "done", 1),
            ("post-2", "done", 1),
        ]


def test_an_unbalanced_winding_is_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert command_line(["evaluate", "study.toml", "--set", "slots=50"]) == 3
    assert "winding" in capsys.readouterr().out


def test_a_cycle_beyond_the_machine_says_what_was_missed(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = study_text(("mass_kg = 2100", "mass_kg = 9000"))
    Path("study.toml").write_text(text, encoding="utf-8")
    assert command_line(["evaluate", "study.toml", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["metrics"]["cycle_missed_energy_percent"] > 1.0
    assert content["metrics"]["cycle_missed_time_percent"] > 1.0


def test_a_file_that_is_no_store(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("torn.sqlite").write_bytes(b"not a store at all")
    assert command_line(["runs", "--store", "torn.sqlite"]) == 1
    assert "not a store" in capsys.readouterr().err
    assert Path("torn.sqlite").read_bytes() == b"not a store at all"


def test_a_torn_store(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = Path("runs/paretorque.sqlite")
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    assert command_line(["front", "post-1"]) == 1
    said = capsys.readouterr().err
    assert "paretorque.sqlite" in said
    assert "Traceback" not in said


def test_a_run_that_another_process_drives(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with SqliteStore() as store:
        store.create_run("post", load(DEMO).text, run_id="held")
        with store.hold("held"):
            assert command_line(["run", "--resume", "held", "--workers", "1", "-q"]) == 2
    assert "driven by another process" in capsys.readouterr().err


def test_the_process_ends_with_the_code_and_every_command_has_an_example(folder: Path) -> None:
    assert command(folder, "check", "nowhere.toml").code == 2
    assert command(folder, "--help").code == 0


@pytest.mark.parametrize("name", COMMANDS)
def test_every_help_shows_an_example(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command_line([name, "--help"]) == 0
    assert f"    paretorque {name} " in capsys.readouterr().out.replace(f"{name}\n", f"{name} \n")
