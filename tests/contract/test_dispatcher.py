"""What every dispatcher promises, run over each of them; the Dask one with real processes."""

import math
import time

import pytest

from models.evaluation import Evaluation
from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.dispatcher import SerialDispatcher
from optim.jobs.placement import PlacementSettings
from tests.fault.toy_search import GRID, evaluate, metrics_of

KINDS = ("serial", "dask", "dask in batches of 7")


def troubled(parameters):
    """Every kind of outcome, by the value of x0."""
    kind = int(parameters["x0"])
    if kind == 1:
        raise ZeroDivisionError("at x0 = 1")
    if kind == 2:
        return Evaluation("ok", "circuit", {"peak_torque": math.nan, "magnet_mass": 1.0})
    if kind == 3:
        return Evaluation("infeasible", "circuit", reason="magnet_too_short", message="by 1 mm")
    if kind == 4:
        raise MemoryError
    if kind == 5:
        raise SystemExit(3)
    if kind == 6:
        time.sleep(0.03)
    return Evaluation("ok", "circuit", metrics_of(parameters))


@pytest.fixture(scope="module", params=KINDS)
def dispatcher(request):
    if request.param == "serial":
        made = SerialDispatcher(troubled)
    else:
        made = DaskDispatcher(
            troubled,
            cluster=ClusterSettings(workers=2),
            placement=PlacementSettings(batch=7 if "7" in request.param else 0),
        )
    yield made
    made.close(is_immediate=True)


def design(x0, x1=1.0):
    return {"x0": float(x0), "x1": float(x1), "x2": 5.0}


def collect_all(dispatcher, seconds=20.0):
    outcomes = []
    end = time.monotonic() + seconds
    while dispatcher.in_flight and time.monotonic() < end:
        outcomes += dispatcher.collect(0.2)
    assert dispatcher.in_flight == 0
    return outcomes


def test_every_design_comes_back_once_with_its_own_outcome(dispatcher):
    designs = {n: design(7 + n % 50, n % 13) for n in range(200)}
    for number, parameters in designs.items():
        dispatcher.submit(number, parameters)
    assert dispatcher.in_flight == 200
    outcomes = collect_all(dispatcher)
    assert sorted(o.number for o in outcomes) == list(range(200))
    for outcome in outcomes:
        # Bit for bit what the function itself gives here.
        assert dict(outcome.evaluation.metrics) == metrics_of(designs[outcome.number])
        assert outcome.worker
        assert outcome.seconds >= 0.0


def test_every_trouble_is_an_outcome_with_its_reason(dispatcher):
    for kind in range(1, 6):
        dispatcher.submit(kind, design(kind))
    found = {o.number: o.evaluation for o in collect_all(dispatcher)}
    assert {n: (e.status, e.reason) for n, e in found.items()} == {
        1: ("failed", "error"),
        2: ("failed", "non_finite_metric"),
        3: ("infeasible", "magnet_too_short"),
        4: ("failed", "out_of_memory"),
        5: ("failed", "error"),
    }
    assert "ZeroDivisionError: at x0 = 1" in found[1].message
    assert "peak_torque" in found[2].message
    assert found[3].message == "by 1 mm"
    assert all(not e.metrics for e in found.values())


def test_collect_returns_empty_when_nothing_is_in_flight(dispatcher):
    begin = time.monotonic()
    assert dispatcher.collect(0.3) == []
    assert time.monotonic() - begin < 1.0


def test_withdrawn_designs_never_come_back(dispatcher):
    for number in range(40):  # lets a dispatcher learn how long these take
        dispatcher.submit(number, design(6))
    collect_all(dispatcher)
    for number in range(100):
        dispatcher.submit(number, design(6))
    outcomes = dispatcher.collect(0.0)
    withdrawn = dispatcher.withdraw()
    assert withdrawn
    assert dispatcher.in_flight < 100
    outcomes += collect_all(dispatcher)
    assert sorted([o.number for o in outcomes] + list(withdrawn)) == list(range(100))
    # A number may be used again after that.
    dispatcher.submit(withdrawn[0], design(8))
    assert [o.number for o in collect_all(dispatcher)] == [withdrawn[0]]


def test_appetite_is_positive(dispatcher):
    assert dispatcher.appetite >= 1


def test_a_senseless_number_of_workers_is_refused():
    with pytest.raises(ValueError, match="allowed: 1 or more"):
        DaskDispatcher(evaluate, cluster=ClusterSettings(workers=0))


def test_the_toy_spans_its_grid():
    # Guards the tests above against comparing one constant with itself.
    values = {metrics_of(design(x))["peak_torque"] for x in range(GRID)}
    assert len(values) == GRID
