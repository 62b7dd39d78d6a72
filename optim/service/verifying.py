"""Putting the front of a run through the field model on the workers."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from models.duty import Duty
from models.errors import SolverError
from models.evaluate import evaluate
from models.evaluation import Evaluation
from models.geometry.build import build
from models.machine import ParameterValue
from models.mechanical.families import PLANE_STRESS
from optim.jobs.dask_dispatcher import ClusterSettings, DaskDispatcher
from optim.jobs.dispatcher import Dispatcher
from optim.jobs.interruption import Interruption
from optim.jobs.placement import PlacementSettings
from optim.jobs.work import Outcome
from optim.ranking.front import Candidate
from optim.service.errors import RequestError
from optim.service.results import FrontResult
from optim.service.run_store import VERIFIES
from optim.service.verified import (
    FIELD,
    STRESS,
    Verification,
    read_verification,
    verification_key,
)
from optim.store.contract import EvaluationRow, RunRecord, Store
from optim.study.families import own_parameters
from optim.study.model import Study
from optim.study.space import FAMILY, encode

_WAIT_SECONDS = 0.2

Listen = Callable[[int, int], None]
"""Called with how many evaluations are done and how many there are to do."""


@dataclass(frozen=True)
class _Task:
    candidate: Candidate
    key: str


def verify(
    store: Store,
    record: RunRecord,
    front: FrontResult,
    *,
    cluster: ClusterSettings,
    top: int | None = None,
    listen: Listen | None = None,
    interruption: Interruption | None = None,
) -> tuple[Verification, Mapping[int, Evaluation]]:
    """Put members of a front through the field model; what is known is not solved again.

    Parameters
    ----------
    store : Store
        Keeps every evaluation as it arrives, under the design's own key.
    record : RunRecord
        The run.
    front : FrontResult
        Its ranked front.
    cluster : ClusterSettings
        Where the workers are.
    top : int or None
        How many of the best ranked; None for all.
    listen : callable or None
        Hears of progress.
    interruption : Interruption or None
        Requests to stop: what runs is finished and kept.

    Returns
    -------
    Verification
        From the store.
    mapping of int to Evaluation
        What failed now, by candidate; it is tried again the next time.

    Raises
    ------
    RequestError
        If the run was searched with the field model, or `top` is below 1.
    """
    study = front.study
    if study.model == FIELD:
        raise RequestError(
            f"run {record.run_id} was searched with the field model: its front needs no "
            "verification; allowed: a run of the circuit model"
        )
    if top is not None and top < 1:
        raise RequestError(f"--top: given {top}; allowed: 1 or more")
    tasks = open_tasks(store, front, top=top)
    failed: dict[int, Evaluation] = {}
    if tasks:
        search = study.search
        placement = PlacementSettings(time_limit=search.evaluation_time_limit)
        with DaskDispatcher(
            field_evaluator(study), cluster=cluster, placement=placement
        ) as dispatcher:
            failed = _solve(store, record, study, tasks, dispatcher, listen,
                            interruption or Interruption())  # fmt: skip
    result = read_verification(store, record, front)
    _note(store, record, result)
    return result, failed


def open_tasks(store: Store, front: FrontResult, *, top: int | None = None) -> list[_Task]:
    """Return the members, best first, that the field model does not know yet."""
    tasks = [
        _Task(c, verification_key(front.study, c.parameters, FIELD)) for c in front.candidates[:top]
    ]
    return [task for task in tasks if store.find(task.key, run_id="") is None]


def field_evaluator(study: Study) -> Callable[[Mapping[str, ParameterValue]], Evaluation]:
    """Return the evaluation by the field model; it can be pickled."""
    return partial(_by_field, duty=study.duty, family=study.family)


def _by_field(parameters: Mapping[str, ParameterValue], *, duty: Duty, family: str) -> Evaluation:
    """Evaluate by the field model, with the sheet's strength by plane stress among the metrics."""
    family, parameters = str(parameters.get(FAMILY, family)), own_parameters(parameters)
    found = evaluate(parameters, duty, family=family, model=FIELD)
    if found.status != "ok":
        return found
    strength_of = PLANE_STRESS.get(family)
    if strength_of is None:
        return found
    machine = build(parameters, family=family)
    try:
        factor = strength_of(
            machine, duty.overspeed_factor * duty.top_speed, duty.temperatures.rotor_hot
        )
    except SolverError:
        return found  # the strength stays unverified; the field values stand
    return replace(found, metrics={**found.metrics, STRESS: factor})


def _solve(
    store: Store,
    record: RunRecord,
    study: Study,
    tasks: list[_Task],
    dispatcher: Dispatcher,
    listen: Listen | None,
    wish: Interruption,
) -> dict[int, Evaluation]:
    # A record of its own: the numbers of the run's own rows belong to its search, which a
    # resume replays.
    book = store.create_run(
        record.study_name, record.study_text, settings={VERIFIES: record.run_id},
        parent=record.run_id,
    )  # fmt: skip
    store.change_state(book.run_id, "queued", "running")
    failed: dict[int, Evaluation] = {}
    by_number = {task.candidate.number: task for task in tasks}
    for task in tasks:
        dispatcher.submit(task.candidate.number, task.candidate.parameters)
    done, is_stopping = 0, False
    while dispatcher.in_flight:
        outcomes = dispatcher.collect(_WAIT_SECONDS)
        rows = [row for o in outcomes for row in _rows(study, by_number[o.number], o)]
        store.append(book.run_id, rows)
        failed |= {o.number: o.evaluation for o in outcomes if o.evaluation.status == "failed"}
        done += len(outcomes)
        if listen is not None:
            listen(done, len(tasks))
        if wish.is_requested and not is_stopping:
            dispatcher.withdraw()
            is_stopping = True
        if wish.is_urgent:
            break
    after = "interrupted" if wish.is_requested else "done"
    store.change_state(book.run_id, "running", after)
    return failed


def _rows(study: Study, task: _Task, outcome: Outcome) -> list[EvaluationRow]:
    """Return the field model's row and, where there is one, that of the sheet's strength."""
    parameters, number = task.candidate.parameters, outcome.number
    metrics = dict(outcome.evaluation.metrics)
    factor = metrics.pop(STRESS, None)
    row = EvaluationRow(
        number=2 * number,
        key=task.key,
        vector=encode(study, parameters),
        parameters=parameters,
        evaluation=replace(outcome.evaluation, metrics=metrics),
        seconds=outcome.seconds,
        worker=outcome.worker,
    )
    if factor is None:
        return [row]
    strength = Evaluation("ok", STRESS, metrics={"bridge_safety_factor": factor})
    key = verification_key(study, parameters, STRESS)
    return [row, replace(row, number=2 * number + 1, key=key, evaluation=strength, seconds=0.0)]


def _note(store: Store, record: RunRecord, result: Verification) -> None:
    """Keep with the run what its verification came to, for those who only list runs."""
    fates = [m.fate for m in result.verified]
    store.note(record.run_id, "verified_members", len(fates))
    store.note(record.run_id, "verified_kept", fates.count("kept"))
    store.note(record.run_id, "verified_missing_a_limit", fates.count("misses a limit"))
