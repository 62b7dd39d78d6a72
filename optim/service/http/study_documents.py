"""Studies and the nomenclature as documents, in shown units."""

from typing import Any

from models.nomenclature import CONVENTIONS, METRICS, PARAMETERS
from optim.ranking.scale import fixed_scale
from optim.service.documents import Document, document
from optim.study.change import limit_text
from optim.study.model import Limit, Study, Variable
from optim.study.units import keyed, unit_of


def nomenclature_document() -> Document:
    """Return every metric and parameter with key, unit, definition and range."""
    shared = ("name", "symbol", "definition", "low", "high")
    metrics = [
        {**{field: getattr(m, field) for field in shared}, "key": keyed(m.name, unit_of(m)),
         "unit": m.shown_unit, "better": m.better, "factor_from_si": m.shown_factor}
        for m in METRICS.values()
    ]  # fmt: skip
    parameters = [
        {**{field: getattr(p, field) for field in shared}, "key": keyed(p.name, unit_of(p)),
         "unit": p.shown_unit, "kind": p.kind, "default": p.default, "choices": list(p.choices),
         "families": list(p.families), "factor_from_si": p.shown_factor}
        for p in PARAMETERS.values()
    ]  # fmt: skip
    return document(
        "nomenclature", metrics=metrics, parameters=parameters, conventions=list(CONVENTIONS)
    )


def study_entries(study: Study) -> dict[str, Any]:
    """Return what a page needs to know of a study: what varies, what is wanted, what must hold."""
    scale = fixed_scale(study)
    preferences = study.preferences
    objectives = []
    for objective, best, worst in zip(study.objectives, scale.best, scale.worst):
        metric = METRICS[objective.metric]
        sign = 1.0 if objective.sense == "minimise" else -1.0
        objectives.append(
            {
                "metric": objective.metric,
                "sense": objective.sense,
                "key": keyed(metric.name, unit_of(metric)),
                "unit": metric.shown_unit,
                "best": metric.shown(sign * float(best)),
                "worst": metric.shown(sign * float(worst)),
            }
        )
    return {
        "name": study.name,
        "title": study.title,
        "family": study.family,
        "model": study.model,
        "variables": [_variable(variable) for variable in study.variables],
        "objectives": objectives,
        "limits": [limit_text(limit) for limit in study.limits],
        "limit_table": [_limit(limit) for limit in study.limits],
        "ranked_by": "goals" if preferences.goals else "weights",
        "weights": dict(preferences.weights),
        "goals": {name: METRICS[name].shown(value) for name, value in preferences.goals.items()},
        "budget": study.search.budget,
        "population": study.search.population,
        "seed": study.search.seed,
    }


def _variable(variable: Variable) -> dict[str, Any]:
    parameter = PARAMETERS[variable.name]
    is_choice = variable.kind == "choice"
    factor = 1.0 if is_choice or parameter.kind != "real" else parameter.shown_factor
    choices = [
        value * parameter.shown_factor
        if parameter.kind == "real" and isinstance(value, float) else value
        for value in variable.choices
    ]  # fmt: skip
    return {
        "name": variable.name,
        "key": keyed(parameter.name, unit_of(parameter)),
        "unit": parameter.shown_unit,
        "kind": variable.kind,
        "low": variable.low * factor,
        "high": variable.high * factor,
        "step": variable.step * factor,
        "choices": choices,
    }


def _limit(limit: Limit) -> dict[str, Any]:
    metric = METRICS[limit.metric]
    return {
        "metric": limit.metric,
        "relation": limit.relation,
        "bound": metric.shown(limit.bound),
        "key": keyed(metric.name, unit_of(metric)),
        "unit": metric.shown_unit,
    }
