"""The page's own judging and ranking against the service's, on random designs."""

from dataclasses import replace

import numpy as np
import pytest

from models.evaluation import Evaluation
from models.nomenclature import METRICS
from optim.ranking.archive import front_of
from optim.ranking.binding import what_binds
from optim.ranking.preferences import rank
from optim.service.documents import metric_entries
from optim.service.http.study_documents import nomenclature_document, study_entries
from optim.study.change import with_changes
from optim.study.families import has_metric
from optim.study.judge import judge, needed_metrics
from optim.study.load import loads
from optim.study.model import Preferences
from optim.study.space import FAMILY
from tests.service_case import served
from tests.study_example import HARBOUR_VAN

_SCRIPT = """
async ({ words, study, points, weights, bounds }) => {
  const { learn } = await import("/web/wording.js");
  const { RunModel } = await import("/web/run_model.js");
  learn(words);
  const model = new RunModel("r", study);
  model.add(points);
  for (const [metric, weight] of Object.entries(weights)) model.setWeight(metric, weight);
  model.limits.forEach((limit, k) => {
    const bound = bounds[`${limit.metric} ${limit.relation}`];
    if (bound !== undefined) model.setBound(k, bound);
  });
  return {
    ranking: model.ranking.map(({ number, score }) => [number, score]),
    counts: model.counts,
    margins: model.marginsOf(model.byNumber.get(0)).map(({ limit, share }) => [
      `${limit.metric} ${limit.relation}`, share,
    ]),
  };
}
"""
_AIMS = ("maximise peak_torque", "maximise cycle_efficiency", "minimise magnet_mass")


@pytest.fixture(scope="module")
def url(tmp_path_factory):
    with served(tmp_path_factory.mktemp("files")) as (_, address):
        yield address


@pytest.fixture(scope="module")
def study():
    """Three objectives: a range of its own, a range cut by a limit, a plausible range."""
    return with_changes(loads(HARBOUR_VAN), objectives=_AIMS, limits=["magnet_mass <= 3 kg"])


def designs(study, count, *, seed):
    """Return designs around the limits, some equal, some dominated, some of a second family."""
    generator = np.random.default_rng(seed)
    scales = {}
    for limit in study.limits:
        scales.setdefault(limit.metric, abs(limit.bound) or 0.3)
    out: list[tuple[int, Evaluation, dict[str, str]]] = []
    drawn: list[dict[str, float]] = []
    for number in range(count):
        metrics: dict[str, float] = {}
        for name in needed_metrics(study):
            metric = METRICS[name]
            middle = scales.get(name, 0.5 * (metric.low + metric.high) / metric.shown_factor)
            is_more = metric.better == "more"
            centre = middle * (1.25 if is_more else 0.75)
            metrics[name] = float(centre * (1.0 + 0.12 * generator.standard_normal()))
        if number % 10 == 7:  # an equal of an earlier one: the lower number stays
            metrics = dict(drawn[number - 5])
        drawn.append(metrics)
        status = "failed" if number % 23 == 11 else "infeasible" if number % 19 == 9 else "ok"
        family = "cage" if number % 4 == 3 else study.family
        had = {n: v for n, v in metrics.items() if has_metric(family, n)} if status == "ok" else {}
        out.append((number, Evaluation(status, "circuit", had), {FAMILY: family}))
    return out


def expected(study, evaluated):
    """Return (number, score) of the front in order, as the service ranks it."""
    judged = {n: judge(study, e, p) for n, e, p in evaluated}
    feasible = {n: j.objectives for n, j in judged.items() if j.is_feasible}
    numbers = [int(n) for n in front_of(feasible, list(feasible.values()))]
    ranking = rank(study, [feasible[n] for n in numbers], numbers=numbers)
    return [(numbers[k], float(ranking.scores[k])) for k in ranking.order], len(feasible)


def points(study, evaluated):
    """Return designs as the service sends them."""
    out = []
    for number, evaluation, parameters in evaluated:
        judgement = judge(study, evaluation, parameters)
        outcome = {"failed": "failed", "infeasible": "no_machine"}.get(
            judgement.status, "feasible" if judgement.is_feasible else "infeasible"
        )
        out.append({"sequence": number + 1, "candidate": number, "outcome": outcome, "reason": "",
                    "metrics": metric_entries(evaluation.metrics), "parameters": {},
                    "family": parameters[FAMILY]})  # fmt: skip
    return out


CASES = [
    ({}, ()),
    ({"peak_torque": 3.0, "cycle_efficiency": 0.0, "magnet_mass": 1.0}, ()),
    ({}, ("launch_torque >= 262 N*m",)),
    ({"magnet_mass": 4.0}, ("magnet_mass <= 2.2 kg", "winding_temperature <= 120 degC")),
    ({}, ("launch_torque >= 900 N*m",)),
]


@pytest.mark.parametrize(("weights", "limits"), CASES)
def test_the_page_ranks_as_the_service_does(open_page, url, study, weights, limits):
    evaluated = designs(study, 400, seed=len(limits) + 3)
    tighter = with_changes(study, limits=limits) if limits else study
    kept = {o.metric: study.preferences.weights.get(o.metric, 0.0) for o in study.objectives}
    preferences = replace(tighter.preferences, weights=kept | weights)
    assert isinstance(preferences, Preferences)
    tighter = replace(tighter, preferences=preferences)
    wanted, feasible = expected(tighter, evaluated)

    bounds = {
        f"{limit.metric} {limit.relation}": METRICS[limit.metric].shown(limit.bound)
        for limit in tighter.limits
        if limit not in study.limits
    }
    assert len(bounds) == len(limits)
    page = open_page(url)
    found = page.evaluate(
        _SCRIPT,
        {"words": nomenclature_document(), "study": study_entries(study),
         "points": points(study, evaluated), "weights": weights, "bounds": bounds},
    )  # fmt: skip

    assert [n for n, _ in found["ranking"]] == [n for n, _ in wanted]
    assert [s for _, s in found["ranking"]] == pytest.approx([s for _, s in wanted], rel=1e-9)
    assert found["counts"]["feasible"] == feasible
    assert bool(wanted) == (limits != CASES[-1][1])
    margins = what_binds(tighter, evaluated[0][1].metrics)
    assert [name for name, _ in found["margins"]] == [
        f"{m.limit.metric} {m.limit.relation}" for m in margins
    ]
    assert [share for _, share in found["margins"]] == pytest.approx(
        [m.share for m in margins], rel=1e-9, abs=1e-12
    )
