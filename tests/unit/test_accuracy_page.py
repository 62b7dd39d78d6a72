"""The accuracy page says plainly what is met and missed."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from models.geometry.build import build
from optim.study.load import load
from tests.accuracy.both import BothModels
from tests.accuracy.differences import BARS, SHOWN, map_rows, metric_rows
from tests.accuracy.families import (
    HEADING,
    KINDS,
    families_section,
    kind_rows,
    random_designs,
    with_section,
)
from tests.accuracy.known import KNOWN, known_section
from tests.accuracy.outside import Comparisons
from tests.accuracy.page import page
from tests.commands import DEMO

ONES = dict.fromkeys(SHOWN, 1.0)


def _both(**changes: float) -> BothModels:
    i_d, i_q = np.array([-100.0, 0.0]), np.array([0.0, 50.0, 100.0])
    psi = np.ones((2, 2, 3))
    return BothModels(i_d, i_q, psi, psi, psi[0], psi[0], ONES | changes, ONES)


def test_statistics_of_known_differences() -> None:
    found = [_both(peak_torque=1.0 + 0.01 * k) for k in range(101)]
    row = next(r for r in metric_rows(found) if r.name == "peak_torque")
    assert row.median == pytest.approx(50.0)
    assert row.high == pytest.approx(95.0)
    assert row.worst == pytest.approx(100.0)
    assert row.mean == pytest.approx(50.0)
    assert not row.is_met


def test_map_differences_are_shares_of_the_largest_and_know_the_circle_of_currents() -> None:
    both = _both()
    circuit = both.circuit_psi.copy()
    circuit[0, 0, 2] += 0.08  # i_d -100, i_q 100: beyond a limit of 100 A
    rows = {r.name: r for r in map_rows([replace(both, circuit_psi=circuit)])}
    assert rows["psi_d"].worst == pytest.approx(8.0)
    assert rows["psi_d, within the current limit"].worst == 0.0
    assert rows["psi_q"].worst == 0.0


def _page(**changes: float) -> str:
    found = [_both(**changes)]
    return page(
        study="s", count=1, searched=2, step=0.05, seed=3, version="0", physics=1,
        metric_rows=metric_rows(found), map_rows=map_rows(found), failed=["SolverError: x"],
        outside=[Comparisons("test_a: test_b", "a book", 2, 0.01, 0.02)],
    )  # fmt: skip


def test_a_missed_bar_is_named() -> None:
    assert "Every bar is met." in _page()
    text = _page(peak_torque=1.03)
    assert "Missed: peak torque." in text
    assert text.count("**missed**") == 1
    assert text.count("| met |") == len(BARS) - 1
    assert "1 designs gave no result" in text
    assert "| a: b | a book | 2 | 1 % | 2 % |" in text


def test_the_page_tells_what_each_model_is_known_to_reach() -> None:
    text = _page()
    assert "## What each model is known to be good to" in text
    for known in KNOWN:
        assert f"| {known.model} |" in text
        assert known.here, known.model
        # A published figure names where it stands, or says that none is known.
        assert known.source != "-" or known.published.startswith("no figure known")


def test_docs_hold_the_section_as_it_is_made() -> None:
    text = Path("docs/accuracy.md").read_text(encoding="utf-8")
    assert known_section() in text


def _section(**changes: float) -> str:
    results = {"cage": ([_both(**changes)], ["SolverError: y"])}
    return families_section(results, study="s", seed=3, version="0", physics=1)


def test_other_kinds_have_their_section_between_models_and_outside() -> None:
    text = with_section(_page(), _section())
    assert text.index("### Everything else") < text.index(HEADING)
    assert text.index(HEADING) < text.index("## Against the outside")
    again = with_section(text, _section(peak_torque=1.05))
    assert again.count(HEADING) == 1
    assert "Missed: cage: peak torque." in again
    assert again.replace(_section(peak_torque=1.05), "") == text.replace(_section(), "")
    assert "cage: 1 designs without a result: SolverError: y" in again


def test_small_open_circuit_flux_is_told_as_a_share_of_the_map() -> None:
    """A flux of 1 % of the map's largest counts in no relative difference."""
    metrics = ONES | {"open_circuit_flux": 0.01}
    small = replace(_both(), field_metrics=metrics, circuit_metrics=metrics | {
        "open_circuit_flux": 0.02})  # fmt: skip
    rows = {(row.name, row.unit): (row, count) for row, count in kind_rows([small, _both()])}
    relative, count = rows["open_circuit_flux", "%"]
    assert (relative.worst, count) == (0.0, 1)  # the other design's, which does not differ
    share, count = rows["open circuit flux", "% of the map's largest"]
    assert count == 2
    assert share.worst == pytest.approx(1.0)


def test_designs_of_every_kind_are_found() -> None:
    for kind in KINDS:
        duty = load(DEMO.with_name(f"{kind.study}.toml") if kind.study else DEMO).duty
        (design,) = random_designs(kind, duty, count=1, seed=5)
        assert build(design, family=kind.family).family == kind.family
