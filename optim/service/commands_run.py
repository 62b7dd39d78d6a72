"""Commands that evaluate many designs: check, run, watch, rerun."""

from pathlib import Path
from statistics import median
from typing import Annotated

import typer

from models.nomenclature import METRICS
from optim.jobs.dask_dispatcher import ClusterSettings
from optim.jobs.driver import RunEnd
from optim.jobs.interruption import Interruption, by_signals
from optim.jobs.progress import Progress
from optim.service import documents, options, tables
from optim.service.checking import check as check_study
from optim.service.errors import RequestError
from optim.service.failures import DONE, INTERRUPTED, NOTHING_FEASIBLE, TOO_MANY_FAILED
from optim.service.following import follow, rerun_there
from optim.service.observer import FrontObserver
from optim.service.places import open_place
from optim.service.progress_view import ProgressView
from optim.service.remote.store import RemoteStore
from optim.service.rerunning import RerunPlan, begin_rerun, plan_rerun
from optim.service.results import FrontResult
from optim.service.run_store import find_run, open_store, study_of
from optim.service.running import (
    RunResult,
    begin,
    cluster_settings,
    core_count,
    drive_run,
    with_search,
)
from optim.service.screen import Screen, make_screen
from optim.service.waiting import explained_wait, warm_up
from optim.service.watching import Watcher
from optim.service.wording import count_text, duration_text
from optim.store.contract import RunRecord, Store
from optim.study.load import load
from optim.study.model import Study

_TOP = 10


def check(
    study: options.StudyFile,
    workers: options.Workers = None,
    json: options.Json = False,
    quiet: options.Quiet = False,
    verbose: options.Verbose = False,
) -> int:
    """Validate a study, evaluate its baseline, estimate the time of a run.

    \b
      paretorque check studies/island-post-van.toml
    """
    screen = make_screen(is_json=json, is_quiet=quiet)
    read = load(study)
    with explained_wait(screen):
        result = check_study(read, workers=workers or core_count())
    screen.show_document(documents.check_document(result))
    evaluation = result.baseline.evaluation
    screen.show(read.title or read.name, "", tables.check_view(result), "")
    if evaluation.status == "ok":
        screen.show("The baseline design against the limits:", "",
                    tables.margins_view(result.baseline.margins))  # fmt: skip
        if verbose:
            screen.show("", tables.metrics_view(result.baseline.metrics))
    else:
        screen.show(f"The baseline design is {evaluation.status}: {evaluation.message}")
    screen.advise(f"paretorque run {study}")
    return DONE


def run(
    study: Annotated[
        Path | None, typer.Argument(metavar="[STUDY]", help="Study file (TOML).")
    ] = None,
    workers: options.Workers = None,
    scheduler: options.Scheduler = "",
    store: options.StorePath = None,
    seed: options.Seed = None,
    budget: options.Budget = None,
    resume: Annotated[
        str, typer.Option("--resume", metavar="RUN", help="Go on with an interrupted run.")
    ] = "",
    dry_run: options.DryRun = False,
    json: options.Json = False,
    quiet: options.Quiet = False,
    verbose: options.Verbose = False,
) -> int:
    """Search a study here; Ctrl-C stops it cleanly, and it can be resumed.

    \b
      paretorque run studies/island-post-van.toml
      paretorque run studies/island-post-van.toml --budget 400 --workers 2
      paretorque run --resume last
    """
    screen = make_screen(is_json=json, is_quiet=quiet)
    if (study is None) == (not resume):
        raise RequestError("run: allowed: either a study file or --resume RUN")
    if resume and (seed is not None or budget is not None):
        raise RequestError(
            "--resume: a run keeps the seed and budget it began with; use 'paretorque rerun' for "
            "others"
        )
    cluster = cluster_settings(workers, scheduler)
    if study is not None:
        wanted = with_search(load(study), seed=seed, budget=budget)
    else:
        with open_store(store) as opened:
            wanted = study_of(find_run(opened, resume))
    lag = wanted.search.lag
    if not scheduler and cluster.workers > lag / 4:
        screen.say(f"{cluster.workers} workers will wait for each other at a lag of {lag}; "
                   f"set lag to {4 * cluster.workers} or more in [search]")  # fmt: skip
    if dry_run:
        place = scheduler or f"{cluster.workers} worker(s) here"
        screen.show(f"would run {wanted.name}: {count_text(wanted.search.budget)} evaluations, "
                    f"seed {wanted.search.seed}, on {place}")  # fmt: skip
        screen.show_document(documents.document("dry_run", study=wanted.name,
                                                budget=wanted.search.budget,
                                                seed=wanted.search.seed))  # fmt: skip
        return DONE
    if not scheduler:
        warm_up(wanted, screen)
    with open_store(store, is_new_allowed=True) as opened:
        record = find_run(opened, resume) if resume else begin(opened, wanted)
        result = _drive(opened, record, wanted, cluster=cluster, screen=screen)
    screen.show_document(documents.run_document(result))
    return _conclude(result, screen)


def watch(
    run: options.RunName,
    once: Annotated[bool, typer.Option("--once", help="Show this moment, and stop.")] = False,
    store: options.StorePath = None,
    to: options.To = "",
    json: options.Json = False,
) -> int:
    """Follow a run that another process drives.

    \b
      paretorque watch last
      paretorque watch last --once --json
    """
    screen = make_screen(is_json=json)
    with open_place(store, to) as opened:
        is_supervised = isinstance(opened, RemoteStore)
        watcher = Watcher(opened, find_run(opened, run), is_supervised=is_supervised)
        follow(watcher, screen, is_told=json, is_once=once)
        front = watcher.front()
    screen.show(f"run {front.run_id} is {front.state}", "")
    _show_front(front, screen)
    return DONE


def rerun(
    run: options.RunName,
    limit: options.Limits = None,
    objective: Annotated[
        list[str] | None,
        typer.Option(
            "--objective",
            metavar="OBJECTIVE",
            help="As in 'minimise cost'; repeatable, replaces all.",
        ),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option("--price", metavar="KEY=VALUE", help="EUR per unit; repeatable."),
    ] = None,
    budget: options.Budget = None,
    seed: options.Seed = None,
    allow_looser: Annotated[
        bool, typer.Option("--allow-looser", help="Also let limits be loosened.")
    ] = False,
    workers: options.Workers = None,
    scheduler: options.Scheduler = "",
    store: options.StorePath = None,
    to: options.To = "",
    dry_run: options.DryRun = False,
    json: options.Json = False,
    quiet: options.Quiet = False,
    verbose: options.Verbose = False,
) -> int:
    """Run a study again under other limits, objectives or prices; nothing is evaluated twice.

    All earlier evaluations are judged anew first, and their front is shown before any new one.

    \b
      paretorque rerun last --limit "magnet_mass <= 1.2 kg" --budget 1000
      paretorque rerun last --price magnet_neodymium=95 --dry-run
    """  # fmt: skip
    screen = make_screen(is_json=json, is_quiet=quiet)
    cluster = cluster_settings(workers, scheduler)
    if to and (scheduler or workers is not None):
        raise RequestError("--to: a service has workers of its own; leave --workers, --scheduler")
    prices = options.read_prices(price or [])
    with open_place(store, to) as opened:
        parent = find_run(opened, run)
        plan = plan_rerun(
            opened, parent, limits=limit or [], objectives=objective or [], prices=prices,
            budget=budget, seed=seed, allow_looser=allow_looser,
        )  # fmt: skip
        _show_known(plan, screen)
        if dry_run:
            screen.show_document(documents.front_document(plan.known, kind="known_front"))
            return DONE if plan.known.candidates else NOTHING_FEASIBLE
        if isinstance(opened, RemoteStore):
            asked = {"limits": limit or [], "objectives": objective or [], "prices": prices,
                     "budget": budget, "seed": seed, "allow_looser": allow_looser}  # fmt: skip
            result = rerun_there(opened, parent, asked, screen=screen)
        else:
            if not scheduler:
                warm_up(plan.study, screen)
            record = begin_rerun(opened, plan)
            result = _drive(opened, record, plan.study, cluster=cluster, screen=screen)
    screen.show_document(documents.run_document(result, parent=parent.run_id, known=plan.known))
    return _conclude(result, screen, to=to)


def _drive(
    store: Store, record: RunRecord, study: Study, *, cluster: ClusterSettings, screen: Screen
) -> RunResult:
    screen.say(f"run {record.run_id}: {count_text(study.search.budget)} evaluations, "
               f"seed {study.search.seed}; Ctrl-C stops it")  # fmt: skip
    interruption = Interruption()
    view = ProgressView(study, record.run_id, console=screen.err, is_quiet=screen.is_quiet)

    def listen(progress: Progress, observer: FrontObserver) -> None:
        if interruption.is_requested:
            view.note = "finishing the running evaluations; Ctrl-C again stops at once"
        view(progress, observer)

    try:
        with by_signals(interruption), view:
            return drive_run(
                store, record, cluster=cluster, listen=listen, interruption=interruption
            )
    except BaseException:
        screen.say(f"what was evaluated is kept: paretorque run --resume {record.run_id}")
        raise


def _conclude(result: RunResult, screen: Screen, *, to: str = "") -> int:
    end, front = result.end, result.front
    _show_end(end, screen)
    if result.has_failed_too_often:
        _show_failures(front, screen)
        return TOO_MANY_FAILED
    _show_front(front, screen)
    if end.state in ("interrupted", "cancelled"):
        if end.state == "interrupted" and not to:
            screen.advise(f"paretorque run --resume {result.run_id}")
        return INTERRUPTED
    if not front.candidates:
        screen.advise(
            f"paretorque front {result.run_id}{_at(to)} --limit ...   after loosening what "
            "stops most",
        )
        return NOTHING_FEASIBLE
    _advise_after(front, screen, to)
    return DONE


def _at(to: str, option: str = "--to") -> str:
    return f" {option} {to}" if to else ""


def _show_end(end: RunEnd, screen: Screen) -> None:
    reasons = {
        "budget": "the budget is used up",
        "stall": "the front has stopped growing",
        "wall_time": "the wall time is used up",
        "interrupted": "interrupted",
        "cancelled": "cancelled",
    }
    progress = end.progress
    screen.show(f"{reasons[end.reason]} after {count_text(progress.told)} evaluations in "
                f"{duration_text(progress.elapsed)}", "")  # fmt: skip


def _show_front(front: FrontResult, screen: Screen) -> None:
    screen.show(tables.counts_line(front))
    if front.candidates:
        shown = min(_TOP, len(front.candidates))
        screen.show(f"front: {len(front.candidates)} designs, the best {shown} by "
                    f"{tables.RANKED_BY[front.method]}:", "",
                    tables.front_view(front, top=_TOP))  # fmt: skip
    elif front.least:
        screen.show("", "Nothing is feasible. The limits that stop the designs:", "",
                    tables.stops_view(front), "", "The least infeasible designs:", "",
                    tables.least_view(front))  # fmt: skip
    elif front.counts.total:
        screen.show("Nothing is feasible, and no design is a machine:",
                    _reasons_text(front))  # fmt: skip


def _show_failures(front: FrontResult, screen: Screen) -> None:
    screen.show(f"stopped: {front.counts.failed} of {front.counts.total} evaluations failed",
                _reasons_text(front))  # fmt: skip
    screen.advise("run the study again once the cause is put right; failed designs are tried anew")


def _reasons_text(front: FrontResult) -> str:
    return "\n".join(f"  {reason}: {count}" for reason, count in front.counts.reasons.items())


def _show_known(plan: RerunPlan, screen: Screen) -> None:
    known = plan.known
    screen.show(f"{count_text(known.counts.total)} earlier evaluations judged anew")
    if known.candidates:
        screen.show(f"their front: {len(known.candidates)} designs", "",
                    tables.front_view(known, top=_TOP, sources=plan.sources), "")  # fmt: skip
    else:
        screen.show("none of them is feasible now; the limits that stop them:", "",
                    tables.stops_view(known), "")  # fmt: skip


def _advise_after(front: FrontResult, screen: Screen, to: str) -> None:
    best = front.candidates[0]
    screen.advise(
        f"paretorque pick {front.run_id}{_at(to)}",
        f"paretorque front {front.run_id}{_at(to)} --by knee",
        f"paretorque export {front.run_id} {best.number}{_at(to, '--from')} "
        f"--to packs/{front.study.name}",
        f'paretorque rerun {front.run_id}{_at(to)} --limit "{_tighter(front)}"',
    )


def _tighter(front: FrontResult) -> str:
    """Return a limit that would halve the front's room in its last objective."""
    objective = front.study.objectives[-1]
    metric = METRICS[objective.metric]
    middle = median(c.metrics[metric.name] for c in front.candidates)
    relation = "<=" if objective.sense == "minimise" else ">="
    return f"{metric.name} {relation} {metric.shown(middle):.3g} {metric.shown_unit}".rstrip()
