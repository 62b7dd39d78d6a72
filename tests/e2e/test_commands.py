"""The whole path of a person, by subprocess: run, front, pick, export, rerun, evaluate, compare."""

import json
import re
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from optim.store.sqlite import SqliteStore
from tests.commands import Finished, command, study_text

BUDGET = 140

# Easier limits than the demo's, so that few evaluations give a front of several designs.
EASY = (
    ('launch_torque = ">= 200 N*m"', 'launch_torque = ">= 150 N*m"'),
    ('torque_at_base_speed = ">= 195 N*m"', 'torque_at_base_speed = ">= 140 N*m"'),
    ('top_speed_power = ">= 70 kW"', 'top_speed_power = ">= 50 kW"'),
    ('continuous_torque = ">= 120 N*m"', 'continuous_torque = ">= 90 N*m"'),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("commands")
    (path / "easy.toml").write_text(study_text(*EASY), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def first(folder: Path) -> dict[str, Any]:
    done = command(folder, "run", "easy.toml", "--budget", str(BUDGET), "--workers", "2", "--json")
    assert done.code == 0, done.err
    return done.document


def test_check_shows_baseline_space_and_time(folder: Path) -> None:
    done = command(folder, "check", "easy.toml", "--workers", "2", "--json")
    content = done.document
    assert content["kind"] == "check"
    assert content["baseline"]["status"] == "ok"
    assert len(content["baseline"]["limits"]) == 10
    assert content["random_designs"]["tried"] == 200
    named = content["random_designs"]["reasons"]
    assert content["random_designs"]["valid"] + sum(named.values()) == 200
    assert all(re.fullmatch("[a-z_]+", reason) for reason in named)
    # 3,000 evaluations on two workers take half as long as one after another.
    expected = 3000 * content["evaluation_seconds"] / 2
    assert content["expected_seconds"] == pytest.approx(max(expected, 3000 * 0.003))


def test_run_counts_every_evaluation(folder: Path, first: dict[str, Any]) -> None:
    assert first["kind"] == "run"
    assert first["state"] == "done"
    assert first["reason"] == "budget"
    assert first["evaluations"]["total"] == BUDGET
    assert first["evaluations"]["failed"] == 0
    assert first["size"] == len(first["candidates"]) >= 3
    with SqliteStore(folder / "runs" / "paretorque.sqlite") as store:
        rows = list(store.rows(first["run"]))
    assert [row.number for row in rows] == list(range(BUDGET))
    keys = Counter(row.key for row in rows if row.origin == "evaluated")
    assert set(keys.values()) == {1}


def test_front_respects_limits_and_is_nondominated(folder: Path, first: dict[str, Any]) -> None:
    content = command(folder, "front", "last", "--json").document
    assert content["kind"] == "front"
    for c in content["candidates"]:
        assert all(limit["is_met"] for limit in c["limits"])
        for limit in c["limits"]:
            gap = limit["value"] - limit["bound"]
            assert gap >= 0 if limit["relation"] == ">=" else gap <= 0
    signs = {"minimise": 1.0, "maximise": -1.0}
    points = [
        [signs[o["sense"]] * c["metrics_si"][o["metric"]] for o in content["objectives"]]
        for c in content["candidates"]
    ]
    for a in points:
        assert not any(b != a and all(x <= y for x, y in zip(b, a)) for b in points)
    assert [c["rank"] for c in content["candidates"]] == list(range(1, len(points) + 1))
    assert [c["score"] for c in content["candidates"]] == sorted(
        c["score"] for c in content["candidates"]
    )


def test_front_weighs_limits_and_writes_csv(folder: Path, first: dict[str, Any]) -> None:
    only_cost = command(folder, "front", "last", "--weights", "cost=1", "--json").document
    costs = [c["metrics_si"]["cost"] for c in only_cost["candidates"]]
    assert costs == sorted(costs)
    assert only_cost["ranked_by"] == "weights"
    masses = sorted(c["metrics_si"]["magnet_mass"] for c in first["candidates"])
    bound = (masses[0] + masses[-1]) / 2
    limited = command(
        folder, "front", "last", "--limit", f"magnet_mass <= {bound!r} kg", "--csv", "front.csv",
        "--json",
    ).document  # fmt: skip
    assert 0 < limited["size"] < first["size"]
    assert all(c["metrics_si"]["magnet_mass"] <= bound for c in limited["candidates"])
    table = pd.read_csv(folder / "front.csv", index_col="candidate")
    assert list(table.index) == [c["candidate"] for c in limited["candidates"]]
    assert "peak_torque [N*m]" in table.columns
    knee = command(folder, "front", "last", "--by", "knee", "--json").document
    assert knee["ranked_by"] == "knee"
    goals = command(folder, "front", "last", "--goals", "magnet_mass=1 kg", "--json").document
    assert goals["ranked_by"] == "goals"


def test_pick_shows_the_best_in_full(folder: Path, first: dict[str, Any]) -> None:
    content = command(folder, "pick", "last", "--json").document
    best = first["candidates"][0]
    assert content["kind"] == "candidate"
    assert content["candidate"] == best["candidate"]
    assert content["metrics_si"] == best["metrics_si"]
    assert sum(content["cost_items_eur"].values()) == pytest.approx(content["metrics_si"]["cost"])
    shown = command(folder, "pick", "last", columns=80)
    assert "reluctance" in shown.out
    assert "binding:" in shown.out
    assert max(len(line) for line in shown.out.splitlines()) <= 80


def test_exported_design_evaluates_to_the_same_bits(folder: Path, first: dict[str, Any]) -> None:
    best = first["candidates"][0]
    done = command(folder, "export", "last", "--to", "packs/best", "--json")
    content = done.document
    assert content["kind"] == "export"
    assert all((folder / "packs" / "best" / name).is_file() for name in content["files"])
    assert {"README.txt", "data_sheet.html", "plots/front.svg"} <= set(content["files"])
    for name in ("design.toml", "design.json"):
        again = command(folder, "evaluate", f"packs/best/{name}", "--json").document
        assert again["kind"] == "evaluation"
        assert again["metrics_si"] == best["metrics_si"]
    design = tomllib.loads((folder / "packs" / "best" / "design.toml").read_text("utf-8"))
    assert design["design"]["run_id"] == first["run"]
    assert command(folder, "export", "last", "--to", "packs/best").code == 2
    assert command(folder, "export", "last", "--to", "packs/best", "--overwrite").code == 0


def test_evaluate_changes_a_parameter(folder: Path) -> None:
    plain = command(folder, "evaluate", "easy.toml", "--json").document
    longer = command(
        folder, "evaluate", "easy.toml", "--set", "stack_length=165 mm", "--json"
    ).document
    assert plain["parameters"]["stack_length_mm"] == pytest.approx(150.0)
    assert longer["parameters"]["stack_length_mm"] == pytest.approx(165.0)
    # Magnets run over the whole stack: their mass is proportional to its length.
    ratio = longer["metrics_si"]["magnet_mass"] / plain["metrics_si"]["magnet_mass"]
    assert ratio == pytest.approx(1.1, rel=1e-12)


def test_compare_uses_the_first_ones_prices(folder: Path, first: dict[str, Any]) -> None:
    a, b = (c["candidate"] for c in first["candidates"][:2])
    content = command(folder, "compare", f"last:{a}", f"last:{b}", "--json").document
    assert content["kind"] == "comparison"
    assert content["first"]["metrics_si"] == first["candidates"][0]["metrics_si"]
    assert content["second"]["metrics_si"] == first["candidates"][1]["metrics_si"]
    assert content["differing"]
    shown = command(folder, "compare", f"last:{a}", f"last:{b}", columns=80)
    assert max(len(line) for line in shown.out.splitlines()) <= 80


def test_rerun_evaluates_nothing_twice(folder: Path, first: dict[str, Any]) -> None:
    masses = sorted(c["metrics_si"]["magnet_mass"] for c in first["candidates"])
    limit = f"magnet_mass <= {masses[len(masses) // 2]!r} kg"
    known = command(folder, "rerun", "last", "--limit", limit, "--dry-run", "--json").document
    assert known["kind"] == "known_front"
    done = command(folder, "rerun", first["run"], "--limit", limit, "--budget", "40",
                   "--workers", "1")  # fmt: skip
    assert done.code == 0, done.err
    # Known results come first, before the new run ends.
    assert done.out.index("judged anew") < done.out.index("the budget is used up")
    with SqliteStore(folder / "runs" / "paretorque.sqlite") as store:
        second = store.runs()[-1]
        rows = list(store.rows(second.run_id))
        earlier = {row.key for row in store.rows(first["run"])}
    assert second.parent == first["run"]
    new = [row.key for row in rows if row.origin == "evaluated"]
    assert len(new) == len(set(new)) <= 40
    assert not earlier & set(new)
    assert sum(row.origin == "reused" for row in rows) == len(rows) - len(new)
    front = command(folder, "front", second.run_id, "--json").document
    assert front["size"] >= 1
    # Everything known is on the new front or dominated by it.
    signs = [1.0 if o["sense"] == "minimise" else -1.0 for o in front["objectives"]]
    names = [o["metric"] for o in front["objectives"]]
    new_points = [[s * c["metrics_si"][n] for s, n in zip(signs, names)]
                  for c in front["candidates"]]  # fmt: skip
    for c in known["candidates"]:
        point = [s * c["metrics_si"][n] for s, n in zip(signs, names)]
        assert any(all(x <= y for x, y in zip(p, point)) for p in new_points)


def test_rerun_at_another_price_moves_only_the_cost(folder: Path, first: dict[str, Any]) -> None:
    done = command(folder, "rerun", first["run"], "--price", "magnet_neodymium=1000", "--dry-run",
                   "--json").document  # fmt: skip
    old = {c["candidate"]: c["metrics_si"] for c in first["candidates"]}
    shared = [c for c in done["candidates"] if c["candidate"] in old]
    assert shared
    for c in shared:
        before = old[c["candidate"]]
        assert c["metrics_si"]["cost"] > before["cost"] + 500 * before["magnet_mass"]
        assert c["metrics_si"]["peak_torque"] == before["peak_torque"]


def test_watch_and_runs_read_the_store(folder: Path, first: dict[str, Any]) -> None:
    seen = command(folder, "watch", first["run"], "--once", "--json").document
    assert seen["kind"] == "progress"
    assert seen["told"] == BUDGET
    assert seen["front_size"] == first["size"]
    assert seen["hypervolume"] == pytest.approx(first["progress"]["hypervolume"])
    listed = command(folder, "runs", "--json").document
    assert first["run"] in [run["run"] for run in listed["runs"]]


def test_front_fits_80_columns(folder: Path, first: dict[str, Any]) -> None:
    shown: Finished = command(folder, "front", first["run"], columns=80)
    assert shown.code == 0
    assert max(len(line) for line in shown.out.splitlines()) <= 80
    assert json.dumps(first["candidates"][0]["candidate"]) in shown.out
