"""Ctrl-C, resume and nothing feasible, by subprocess."""

from pathlib import Path
from typing import Any

from optim.store.sqlite import SqliteStore
from tests.commands import (
    command,
    command_interrupted_while_workers_start,
    interrupted_command,
    study_text,
)

_RUN = ("run", "study.toml", "--budget", "160", "--json")


def _front(folder: Path) -> list[dict[str, Any]]:
    candidates: list[dict[str, Any]] = command(folder, "front", "last", "--json").document[
        "candidates"
    ]
    return candidates


def test_interrupted_once_and_resumed_gives_the_undisturbed_front(tmp_path: Path) -> None:
    disturbed, calm = tmp_path / "disturbed", tmp_path / "calm"
    for folder in (disturbed, calm):
        folder.mkdir()
        (folder / "study.toml").write_text(study_text(), encoding="utf-8")
    done = interrupted_command(disturbed, *_RUN, "--workers", "1", rows=20)
    assert done.code == 130, done.err
    with SqliteStore(disturbed / "runs" / "paretorque.sqlite") as store:
        record = store.runs()[-1]
        assert record.state == "interrupted"
        assert 20 <= store.count(record.run_id) < 160
    resumed = command(disturbed, "run", "--resume", "last", "--workers", "1", "--json")
    assert resumed.code in (0, 3), resumed.err
    assert resumed.document["evaluations"]["total"] == 160
    undisturbed = command(calm, *_RUN, "--workers", "2")
    assert undisturbed.code == resumed.code
    assert _front(disturbed) == _front(calm)
    assert len(_front(calm)) >= 1


def test_interrupted_twice_stops_at_once_and_keeps_what_is_stored(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(study_text(), encoding="utf-8")
    done = interrupted_command(tmp_path, *_RUN, "--workers", "1", rows=20, times=2)
    assert done.code == 130, done.err
    with SqliteStore(tmp_path / "runs" / "paretorque.sqlite") as store:
        record = store.runs()[-1]
        assert record.state == "interrupted"
        numbers = [row.number for row in store.rows(record.run_id)]
    assert len(numbers) == len(set(numbers)) >= 20


def test_interrupted_while_workers_start_says_so_and_can_be_resumed(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(study_text(), encoding="utf-8")
    done = command_interrupted_while_workers_start(
        tmp_path, "run", "study.toml", "--budget", "24", "--workers", "2"
    )
    assert done.code == 130, done.err
    assert "Traceback" not in done.err
    resumed = command(tmp_path, "run", "--resume", "last", "--workers", "1", "--json")
    assert resumed.code in (0, 3), resumed.err
    assert resumed.document["evaluations"]["total"] == 24


def test_nothing_feasible_ends_with_the_limits_that_stop(tmp_path: Path) -> None:
    text = study_text(('launch_torque = ">= 200 N*m"', 'launch_torque = ">= 900 N*m"'))
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    done = command(tmp_path, "run", "study.toml", "--budget", "24", "--workers", "1")
    assert done.code == 3, done.err
    assert "Nothing is feasible" in done.out
    content = command(tmp_path, "front", "last", "--json")
    assert content.code == 3
    assert content.document["stopped_by"][0]["limit"] == "launch_torque >= 900 N*m"
    assert content.document["least_infeasible"]
    assert command(tmp_path, "pick", "last").code == 2
