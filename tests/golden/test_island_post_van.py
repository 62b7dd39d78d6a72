"""The demo study on a small budget with its own seed: what the whole job finds.

The numbers are of this program itself, so they tell a change, not a mistake. Bands are wide enough
for another compiler or library; a change of model or search that leaves them needs new ones and a
word in its commit.
"""

import pytest

from models.nomenclature import METRICS
from optim.ranking.binding import Margin
from optim.service.running import RunResult, run
from tests.commands import DEMO

BUDGET = 400


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> RunResult:
    store = tmp_path_factory.mktemp("golden") / "runs.sqlite"
    return run(DEMO, workers=2, budget=BUDGET, store=store)


def test_everything_is_counted(result: RunResult) -> None:
    counts = result.front.counts
    assert counts.total == BUDGET
    assert counts.failed == 0
    assert result.end.state == "done"


def test_every_member_of_the_front_respects_every_limit(result: RunResult) -> None:
    assert result.front.candidates
    for candidate in result.front.candidates:
        margins: tuple[Margin, ...] = candidate.margins
        assert len(margins) == len(result.front.study.limits) == 10
        assert all(margin.is_met for margin in margins)


def test_hypervolume_and_front_are_in_their_band(result: RunResult) -> None:
    progress = result.end.progress
    assert 0.01 < progress.hypervolume < 0.15
    assert 5 <= progress.front_size <= 60


def test_metrics_of_the_front_are_plausible(result: RunResult) -> None:
    names = {o.metric for o in result.front.study.objectives}
    names |= {"saliency", "power_factor", "peak_efficiency", "tooth_flux_density", "torque_density"}
    for candidate in result.front.candidates:
        for name in names:
            metric = METRICS[name]
            assert metric.low <= metric.shown(candidate.metrics[name]) <= metric.high, name


def test_the_front_holds_the_known_trade_off(result: RunResult) -> None:
    """More magnet costs more and gives more: the extremes of the front must differ so."""
    front = result.front.candidates
    least = min(front, key=lambda c: c.metrics["magnet_mass"])
    most_efficient = max(front, key=lambda c: c.metrics["cycle_efficiency"])
    strongest = max(front, key=lambda c: c.metrics["peak_torque"])
    assert least.metrics["peak_torque"] <= strongest.metrics["peak_torque"]
    assert least.metrics["cycle_efficiency"] <= most_efficient.metrics["cycle_efficiency"]
    cheapest = min(front, key=lambda c: c.metrics["cost"])
    assert cheapest.metrics["cost"] < strongest.metrics["cost"]
    # After 400 evaluations one member may be best at two aims, but never at all of them.
    assert len({c.number for c in (least, most_efficient, strongest, cheapest)}) >= 2
