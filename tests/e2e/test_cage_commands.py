"""A cage through every command of a person's way, and beside buried magnets on one front."""

import re
from pathlib import Path
from typing import Any

import pytest

from tests.commands import ROOT, command

CONTEST = (ROOT / "studies" / "harbour-taxi-contest.toml").read_text(encoding="utf-8")


def contest_of_two() -> str:
    """Cage against buried magnets, so loose and with such aims that few evaluations leave both."""
    text = CONTEST
    for family in ("surface", "reluctance"):
        for table in ("machine", "variables"):
            text = re.sub(rf"\[families\.{family}\.{table}\]\n(.+\n|\n)+?(?=\[|# -)", "", text)
    text = re.sub(r"\[objectives\]\n(.+\n)+", "", text)
    text = re.sub(r"\[limits\]\n(.+\n)+", "", text)
    text = re.sub(r"\[ranking\.\w+\]\n(.+\n)+", "", text)
    text = re.sub(r"population = \d+", "population = 12", text)
    return text + (
        '\n[objectives]\nmagnet_mass = "minimise"\nactive_mass = "minimise"\n'
        'cycle_efficiency = "maximise"\n\n[limits]\nlaunch_torque = ">= 60 N*m"\n'
        'demagnetisation_margin = ">= -1 T"  # which a cage has not\n'
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cage")
    (path / "contest.toml").write_text(contest_of_two(), encoding="utf-8")
    done = command(path, "run", "contest.toml", "--budget", "40", "--workers", "1", "-q")
    assert done.code == 0, done.err
    return path


@pytest.fixture(scope="module")
def members(folder: Path) -> dict[str, dict[str, Any]]:
    """The best ranked candidate of each family."""
    front = command(folder, "front", "last", "--json").document
    found: dict[str, dict[str, Any]] = {}
    for candidate in front["candidates"]:
        found.setdefault(candidate["family"], candidate)
    assert set(found) == {"cage", "interior"}
    return found


def number(members: dict[str, dict[str, Any]], family: str) -> str:
    return str(members[family]["candidate"])


def test_pick_tells_nothing_of_magnets(folder: Path, members: dict[str, dict[str, Any]]) -> None:
    picked = command(folder, "pick", "last", number(members, "cage"))
    assert picked.code == 0, picked.err
    assert "magnets [N" not in picked.out
    assert "reluctance [N" not in picked.out
    assert "back-EMF, line" not in picked.out
    assert "magnet_grade" not in picked.out
    assert "magnet process" not in picked.out
    assert "+1 bar" in picked.out
    document = command(folder, "pick", "last", number(members, "cage"), "--json").document
    angles = document["explanation"]["torque_by_angle"]
    assert [a["magnet_nm"] for a in angles] == [None] * len(angles)
    assert max(a["total_nm"] for a in angles) > 60.0


def test_pack_holds_bars_and_no_magnets(folder: Path, members: dict[str, dict[str, Any]]) -> None:
    done = command(folder, "export", "last", number(members, "cage"), "--to", "cage", "--json")
    files = done.document["files"]
    assert "section_sector.dxf" in files
    assert "tables/cage_map.csv" in files
    assert not [name for name in files if "back_emf" in name]
    bill = (folder / "cage" / "tables" / "bill_of_materials.csv").read_text(encoding="utf-8")
    assert "Cage bars and rings" in bill
    assert "Magnet" not in bill
    sheet = (folder / "cage" / "data_sheet.html").read_text(encoding="utf-8")
    assert "N42SH" not in sheet
    assert "Back EMF" not in sheet
    assert "Cage temperature" in sheet
    command(folder, "export", "last", number(members, "interior"), "--to", "interior", "--json")
    assert (folder / "interior" / "plots" / "back_emf.png").exists()
    again = command(folder, "evaluate", "cage/design.toml", "--json").document
    assert again["metrics_si"]["peak_torque"] == members["cage"]["metrics_si"]["peak_torque"]


def test_two_families_side_by_side(folder: Path, members: dict[str, dict[str, Any]]) -> None:
    pair = [f"last:{number(members, family)}" for family in ("interior", "cage")]
    done = command(folder, "compare", *pair)
    assert done.code == 0, done.err
    heads = done.out.splitlines()[2:4]
    assert heads[0].split() == ["candidate", "candidate"]
    assert heads[1].split() == [*(label.removeprefix("last:") for label in pair), "change"]
    lines = {line.split()[0]: line for line in done.out.splitlines() if line.strip()}
    assert lines["family"].split()[1:3] == ["interior", "cage"]
    assert "points" in lines["cycle_efficiency"]
    assert lines["bars"].split()[1] == "-"
    assert lines["rib_width"].split()[-1] == "-"


def test_rerun_with_a_limit_keeps_what_is_known(folder: Path) -> None:
    first = command(folder, "front", "last", "--json").document
    done = command(
        folder, "rerun", "last", "--limit", "magnet_mass <= 0 kg", "--budget", "8",
        "--workers", "1", "--json",
    ).document  # fmt: skip
    assert done["parent"] == first["run"]
    assert done["known_front_size"] > 0
    assert {c["family"] for c in done["candidates"]} == {"cage"}


def test_a_cage_is_verified_without_columns_of_bridges(folder: Path) -> None:
    """After the rerun, whose front holds cages alone."""
    done = command(folder, "verify", "last", "--top", "1", "--workers", "1")
    assert done.code == 0, done.err
    assert "slip_at_base_speed" in done.out
    assert "safety factor" not in done.out
    assert re.search(r"^ *\d+ +1 +1 +kept", done.out, flags=re.MULTILINE)
