"""The command that puts a front through the field model."""

from contextlib import nullcontext
from typing import Annotated

import typer

from optim.jobs.interruption import Interruption, by_signals
from optim.service import documents, options, tables, verify_view
from optim.service.failures import DONE, INTERRUPTED, NOTHING_FEASIBLE
from optim.service.results import read_front
from optim.service.run_store import find_run, open_store, study_of
from optim.service.running import cluster_settings
from optim.service.screen import Screen, make_screen
from optim.service.verified import Verification
from optim.service.verifying import field_evaluator, open_tasks
from optim.service.verifying import verify as verify_front
from optim.service.waiting import explained_wait
from optim.service.wording import count_text
from optim.study.change import with_changes
from optim.study.model import Study

_TOP = 20


def verify(
    run: options.RunName,
    top: Annotated[
        int | None, typer.Option("--top", metavar="N", help="The N best ranked; default all.")
    ] = None,
    limit: options.Limits = None,
    workers: options.Workers = None,
    scheduler: options.Scheduler = "",
    store: options.StorePath = None,
    dry_run: options.DryRun = False,
    json: options.Json = False,
    quiet: options.Quiet = False,
    verbose: options.Verbose = False,
) -> int:
    """Put the front through the field model; what disagrees is ranked anew or dropped.

    \b
      paretorque verify last --top 10
      paretorque front last --verified
    """
    screen = make_screen(is_json=json, is_quiet=quiet)
    cluster = cluster_settings(workers, scheduler)
    with open_store(store) as opened:
        record = find_run(opened, run)
        study = study_of(record)
        if limit:
            study = with_changes(study, limits=limit, allow_looser=True)
        front = read_front(opened, record, study)
        if not front.candidates:
            screen.show(f"run {record.run_id} has no front to verify")
            return NOTHING_FEASIBLE
        tasks = open_tasks(opened, front, top=top if top is None else max(top, 0))
        text = f"{len(tasks)} of {len(front.candidates)} members to solve by finite elements"
        if dry_run:
            screen.show(f"would verify run {record.run_id}: {text}")
            screen.show_document(
                documents.document(
                    "dry_run", run=record.run_id, size=len(front.candidates), to_solve=len(tasks)
                )
            )
            return DONE
        screen.say(f"verifying run {record.run_id}: {text}")
        if tasks and not scheduler:
            _warm_up(study, screen)
        interruption = Interruption()
        said = [0]

        def listen(done: int, total: int) -> None:
            if done == total or done - said[0] >= max(1, total // 10):
                said[0] = done
                screen.say(f"{count_text(done)} of {count_text(total)} solved")

        with by_signals(interruption) if tasks else nullcontext():
            result, failed = verify_front(
                opened, record, front, cluster=cluster, top=top, listen=listen,
                interruption=interruption,
            )  # fmt: skip
    messages = {number: f"{e.reason}: {e.message}" for number, e in failed.items()}
    screen.show_document(verify_view.verification_document(result, messages))
    _show(result, messages, screen)
    if interruption.is_requested:
        return INTERRUPTED
    return DONE if result.by_field.candidates else NOTHING_FEASIBLE


def _show(result: Verification, failed: dict[int, str], screen: Screen) -> None:
    verified, kept = result.verified, result.by_field.candidates
    if result.differences:
        screen.show(f"field less circuit over {len(verified)} verified members:", "",
                    verify_view.differences_view(result), "")  # fmt: skip
    screen.show("what becomes of the members, in the order found:", "",
                verify_view.members_view(result), "")  # fmt: skip
    for number, message in failed.items():
        screen.show(f"candidate {number} failed and will be tried again: {message}")
    if not kept:
        screen.show("none of the verified members is feasible by the field model")
        return
    shown = min(_TOP, len(kept))
    screen.show(f"front at field values: {len(kept)} of {len(verified)} verified members stay, "
                f"the best {shown} by {tables.RANKED_BY[result.by_field.method]}:", "",
                tables.front_view(result.by_field, top=_TOP))  # fmt: skip
    best = kept[0].number
    screen.advise(
        f"paretorque front {result.front.run_id} --verified",
        f"paretorque pick {result.front.run_id} {best}",
    )


def _warm_up(study: Study, screen: Screen) -> None:
    """Compile the field model once here, so that workers load the result."""
    with explained_wait(screen):
        field_evaluator(study)(study.baseline)
