"""What commands print with --json: one shape, {"kind": ..., "format": 1, ...}.

Metrics and parameters stand under keys with their unit, as in study files; `metrics_si` repeats
the metrics as stored, to the last bit.
"""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from models.machine import ParameterValue
from models.nomenclature import METRICS, PARAMETERS
from optim.errors import Problem
from optim.jobs.progress import Progress
from optim.ranking.binding import Margin, Stop
from optim.ranking.front import Candidate
from optim.service.checking import CheckResult
from optim.service.comparing import Comparison
from optim.service.designs import Assessment
from optim.service.results import FrontResult
from optim.store.contract import RunRecord
from optim.study.change import limit_text
from optim.study.families import family_of, varied_parameters
from optim.study.model import Limit
from optim.study.units import keyed, unit_of

if TYPE_CHECKING:  # reading commands load no cluster
    from optim.service.running import RunResult

FORMAT = 1
"""Format of every document."""

Document = dict[str, Any]


def document(kind: str, **entries: Any) -> Document:
    """Return a document of a kind."""
    return {"kind": kind, "format": FORMAT, **entries}


def text_of(content: Document) -> str:
    """Return a document as JSON text; a number that is not finite becomes null."""
    return json.dumps(_finite(content), indent=2, ensure_ascii=False, allow_nan=False)


def line_of(content: Document) -> str:
    """Return a document as JSON on one line."""
    return json.dumps(_finite(content), ensure_ascii=False, allow_nan=False)


def metric_entries(metrics: Mapping[str, float]) -> dict[str, float]:
    """Return metrics [SI] in shown units under keys with the unit."""
    return {
        keyed(name, unit_of(METRICS[name])): METRICS[name].shown(value)
        for name, value in metrics.items()
    }


def parameter_shown(parameters: Mapping[str, ParameterValue]) -> dict[str, ParameterValue]:
    """Return parameters [SI] in shown units under keys with the unit."""
    out: dict[str, ParameterValue] = {}
    for name, value in parameters.items():
        entry = PARAMETERS[name]
        is_real = entry.kind == "real" and not isinstance(value, str)
        key = keyed(name, unit_of(entry))
        out[key] = float(value) * entry.shown_factor if is_real else value
    return out


def error_document(code: int, message: str, problems: Sequence[Problem] = ()) -> Document:
    """Return what stands on standard error when a command with --json fails."""
    listed = [asdict(problem) for problem in problems]
    return document("error", code=code, message=message, problems=listed)


def check_document(result: CheckResult) -> Document:
    """Return the document of `check`."""
    return document(
        "check",
        study=_study(result),
        baseline=assessment_entries(result.baseline),
        evaluation_seconds=result.evaluation_seconds,
        workers=result.workers,
        expected_seconds=result.duration_seconds,
        real_variables=result.real_variables,
        grid_combinations_log10=result.grid_log10,
        random_designs={"tried": result.sampled, "valid": result.valid,
                        "reasons": dict(result.reasons)},
    )  # fmt: skip


def evaluation_document(result: Assessment) -> Document:
    """Return the document of `evaluate`."""
    return document("evaluation", **assessment_entries(result))


def assessment_entries(result: Assessment) -> Document:
    """Return a design's outcome as entries of a document."""
    evaluation, design = result.evaluation, result.design
    return {
        "design": design.label,
        "family": design.family,
        "model": evaluation.model or design.model,
        "status": evaluation.status,
        "reason": evaluation.reason,
        "message": evaluation.message,
        "parameters": parameter_shown(design.parameters),
        "metrics": metric_entries(result.metrics),
        "metrics_si": dict(result.metrics),
        "limits": [margin_entries(margin) for margin in result.margins],
        "cost_items_eur": dict(result.cost.items) if result.cost else {},
    }


def candidate_document(front: FrontResult, chosen: Candidate, result: Assessment) -> Document:
    """Return the document of `pick`."""
    return document(
        "candidate",
        run=front.run_id,
        candidate=chosen.number,
        rank=chosen.rank,
        of=len(front.candidates),
        ranked_by=front.method,
        pseudo_weights=_pseudo_weights(front, chosen),
        **assessment_entries(result),
    )


def front_document(front: FrontResult, *, kind: str = "front", top: int | None = None) -> Document:
    """Return the document of `front`."""
    return document(kind, **front_entries(front, top=top))


def front_entries(front: FrontResult, *, top: int | None = None) -> Document:
    """Return a ranked front as entries of a document."""
    study = front.study
    return {
        "run": front.run_id,
        "state": front.state,
        "study": study.name,
        "ranked_by": front.method,
        "objectives": [asdict(objective) for objective in study.objectives],
        "limits": [limit_text(limit) for limit in study.limits],
        "evaluations": {**asdict(front.counts), "total": front.counts.total},
        "size": len(front.candidates),
        "candidates": [_candidate(front, c) for c in front.candidates[:top]],
        "stopped_by": [_stop(stop) for stop in front.stops],
        "least_infeasible": [
            {"candidate": entry.number, "metrics": metric_entries(entry.evaluation.metrics),
             "missed": [_missed(limit, float(v)) for limit, v in
                        zip(study.limits, [] if j.violations is None else j.violations) if v > 0.0]}
            for entry, j in front.least
        ],
    }  # fmt: skip


def run_document(result: "RunResult", *, parent: str = "", known: FrontResult | None = None
                 ) -> Document:  # fmt: skip
    """Return the document of `run` and `rerun`."""
    return document(
        "run",
        reason=result.end.reason,
        parent=parent,
        known_front_size=None if known is None else len(known.candidates),
        progress=progress_entries(result.end.progress),
        **front_entries(result.front),
    )


def progress_document(run_id: str, state: str, progress: Progress) -> Document:
    """Return one line of `watch --json`."""
    return document("progress", run=run_id, state=state, **progress_entries(progress))


def progress_entries(progress: Progress) -> Document:
    """Return a moment of a run as entries of a document."""
    return asdict(progress)


def comparison_document(result: Comparison) -> Document:
    """Return the document of `compare`."""
    return document(
        "comparison",
        study=result.study.name,
        first=assessment_entries(result.first),
        second=assessment_entries(result.second),
        differing=sorted(result.differing),
    )


def runs_document(runs: Sequence[tuple[RunRecord, int]]) -> Document:
    """Return the document of `runs`."""
    return document(
        "runs",
        runs=[
            {"run": r.run_id, "study": r.study_name, "state": r.state, "reason": r.reason,
             "evaluations": count, "budget": r.settings.get("budget"), "parent": r.parent,
             "created_unix_s": r.created, "driven_s": r.elapsed}
            for r, count in runs
        ],
    )  # fmt: skip


def export_document(label: str, folder: str, files: Sequence[str]) -> Document:
    """Return the document of `export`."""
    return document("export", design=label, folder=folder, files=list(files))


def section_document(label: str, file: str, polygons: int) -> Document:
    """Return the document of `section`."""
    return document("section", design=label, file=file, polygons=polygons)


def _study(result: CheckResult) -> Document:
    study = result.study
    return {
        "name": study.name,
        "title": study.title,
        "family": study.family,
        "model": study.model,
        "variables": [v.name for v in study.variables],
        "objectives": [asdict(objective) for objective in study.objectives],
        "limits": [limit_text(limit) for limit in study.limits],
        "budget": study.search.budget,
        "seed": study.search.seed,
    }


def _candidate(front: FrontResult, c: Candidate) -> Document:
    return {
        "rank": c.rank,
        "candidate": c.number,
        "score": c.score,
        "pseudo_weights": _pseudo_weights(front, c),
        "family": family_of(front.study, c.parameters),
        "parameters": parameter_shown(varied_parameters(front.study, c.parameters)),
        "metrics": metric_entries(c.metrics),
        "metrics_si": dict(c.metrics),
        "limits": [margin_entries(margin) for margin in c.margins],
    }  # fmt: skip


def _pseudo_weights(front: FrontResult, c: Candidate) -> dict[str, float]:
    names = [o.metric for o in front.study.objectives]
    return {name: float(w) for name, w in zip(names, c.pseudo_weights)}


def margin_entries(margin: Margin) -> Document:
    """Return a margin to a limit as entries of a document."""
    metric = METRICS[margin.limit.metric]
    return {
        "metric": metric.name,
        "relation": margin.limit.relation,
        "bound": metric.shown(margin.limit.bound),
        "value": metric.shown(margin.value),
        "unit": metric.shown_unit,
        "margin_percent": 100.0 * margin.share,
        "is_met": margin.is_met,
        "binds": margin.binds,
    }


def _stop(stop: Stop) -> Document:
    return {
        "limit": limit_text(stop.limit),
        "stopped": stop.stopped,
        "stopped_alone": stop.stopped_alone,
        "smallest_miss_percent": 100.0 * stop.smallest_miss,
    }


def _missed(limit: Limit, violation: float) -> Document:
    return {"limit": limit_text(limit), "missed_by_percent": 100.0 * violation}


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _finite(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(inner) for inner in value]
    return value
