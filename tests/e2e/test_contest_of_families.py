"""A small run of two families: one merged front, the same with one worker and with two."""

from pathlib import Path

import pytest

from optim.service.comparing import compare
from optim.service.designs import front_design, study_design
from optim.service.running import RunResult, run
from optim.service.tables import comparison_view, front_view
from optim.study.families import family_of
from optim.study.load import loads
from tests.family_study import two_families

BUDGET = 32


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> list[RunResult]:
    study = loads(two_families(budget=BUDGET, is_loose=True))
    folder: Path = tmp_path_factory.mktemp("contest")
    return [run(study, workers=n, store=folder / f"{n}.sqlite") for n in (1, 2)]


def test_both_families_are_tried_and_nothing_fails(results: list[RunResult]) -> None:
    for result in results:
        assert result.front.counts.total == BUDGET
        assert result.front.counts.failed == 0


def test_the_front_does_not_depend_on_the_number_of_workers(results: list[RunResult]) -> None:
    one, two = (
        [(c.number, dict(c.parameters), dict(c.metrics)) for c in r.front.candidates]
        for r in results
    )
    assert one == two


def test_front_names_the_family_of_every_member(results: list[RunResult]) -> None:
    front = results[0].front
    assert front.candidates
    table = front.table()
    families = [family_of(front.study, c.parameters) for c in front.candidates]
    assert table["family"].tolist() == families
    assert front_view(front).columns[2].header == "family"


def test_designs_of_two_families_stand_line_by_line(results: list[RunResult]) -> None:
    front = results[0].front
    first = front_design(front, front.candidates[0])
    other = "surface" if first.family == "interior" else "interior"
    second = study_design(front.study, [f"family={other}"])
    result = compare(first, second, study=front.study, store=None)
    assert {result.first.design.family, result.second.design.family} == {"interior", "surface"}
    assert "magnet_arc_ratio" in result.alone
    assert "rib_width" in result.alone
    assert "stack_length" not in result.alone
    labels = comparison_view(result).columns[0]._cells
    assert "family" in labels
    assert "peak_torque" in labels
