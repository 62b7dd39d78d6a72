"""Commands that read what a run has found: runs, front, pick."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from optim.export.data_sheet import CAUTIONS
from optim.service import documents, explain_view, options, tables, verify_view
from optim.service.designs import assess, front_design
from optim.service.errors import RequestError
from optim.service.explaining import explain
from optim.service.failures import DONE, NOTHING_FEASIBLE
from optim.service.places import open_place
from optim.service.results import FrontResult, read_front
from optim.service.results import pick as pick_candidate
from optim.service.run_store import find_run, searches, study_of
from optim.service.screen import make_screen
from optim.service.verified import FIELD, Verification, read_verification
from optim.service.wording import in_words
from optim.study.change import with_changes


def runs(store: options.StorePath = None, to: options.To = "", json: options.Json = False) -> int:
    """List the runs of the store, newest first.

    \b
      paretorque runs
    """
    screen = make_screen(is_json=json)
    with open_place(store, to) as opened:
        found = [(record, opened.count(record.run_id)) for record in searches(opened)]
    screen.show_document(documents.runs_document(found))
    screen.show(tables.runs_view(found) if found else "no runs yet")
    return DONE


def front(
    run: options.RunName,
    by: Annotated[
        str, typer.Option("--by", metavar="METHOD", help="compromise, goals or knee.")
    ] = "",
    weights: Annotated[
        str, typer.Option("--weights", metavar="LIST", help="As in 'cost=2,magnet_mass=1'.")
    ] = "",
    goals: Annotated[
        str, typer.Option("--goals", metavar="LIST", help="As in 'magnet_mass=1.2 kg'.")
    ] = "",
    limit: options.Limits = None,
    verified: Annotated[
        bool, typer.Option("--verified", help="Only verified members, at field values.")
    ] = False,
    top: Annotated[int, typer.Option("--top", metavar="N", help="Rows to show.")] = 20,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Write the whole front as CSV; - for here."),
    ] = None,
    store: options.StorePath = None,
    to: options.To = "",
    json: options.Json = False,
) -> int:
    """Show the ranked candidates of a run.

    Weights, goals and limits given here apply to this look only; 'rerun' searches under them.

    \b
      paretorque front last
      paretorque front last --weights "cost=2,magnet_mass=1"
      paretorque front last --by knee --limit "magnet_mass <= 1.2 kg" --csv front.csv
    """
    screen = make_screen(is_json=json)
    if top < 1:
        raise RequestError(f"--top: given {top}; allowed: 1 or more")
    if csv is not None and str(csv) == "-" and json:
        raise RequestError("--csv - and --json: given both; allowed: one of them")
    method = options.method_of(by)
    with open_place(store, to) as opened:
        record = find_run(opened, run)
        study = study_of(record)
        if limit:
            study = with_changes(study, limits=limit, allow_looser=True)
        study = options.with_preferences(study, weights=weights, goals=goals)
        if weights and method is None:
            method = "weights"
        found = read_front(opened, record, study, method=method)
        verification = read_verification(opened, record, found)
    if verified:
        found = _verified_front(verification)
    screen.show_document(
        documents.front_document(found)
        | {
            "model": FIELD if verified else study.model,
            "verification": verify_view.verification_entries(verification),
        }
    )
    if csv is not None and found.candidates:
        if str(csv) == "-":
            found.table().to_csv(sys.stdout)
            return DONE
        found.table().to_csv(csv)
        screen.say(f"{len(found.candidates)} candidates written to {csv}")
    if not verified:
        screen.show(tables.counts_line(found))
    if not found.candidates:
        screen.show("", "Nothing is feasible. The limits that stop the designs:", "",
                    tables.stops_view(found), "", "The least infeasible designs:", "",
                    tables.least_view(found))  # fmt: skip
        return NOTHING_FEASIBLE
    shown = min(top, len(found.candidates))
    of = "all" if shown == len(found.candidates) else f"the best {shown} of"
    what = "verified designs at field values" if verified else "designs"
    screen.show(f"front of run {found.run_id}: {of} {len(found.candidates)} {what} by "
                f"{tables.RANKED_BY[found.method]}", "",
                tables.front_view(found, top=top,
                                  outcomes=_outcomes(verification, verified)))  # fmt: skip
    return DONE


def pick(
    run: options.RunName,
    candidate: Annotated[
        int | None,
        typer.Argument(metavar="[CANDIDATE]", help="Its number; default the best ranked."),
    ] = None,
    store: options.StorePath = None,
    to: options.To = "",
    json: options.Json = False,
    verbose: options.Verbose = False,
) -> int:
    """Show a candidate in full: what it is and does, what binds, what it costs, and why.

    \b
      paretorque pick last
      paretorque pick last 1240
    """
    screen = make_screen(is_json=json)
    with open_place(store, to) as opened:
        record = find_run(opened, run)
        study = study_of(record)
        found = read_front(opened, record, study)
        chosen = pick_candidate(found, candidate)
        result = assess(front_design(found, chosen), study, opened)
        member = read_verification(opened, record, found).member(chosen.number)
        explained = explain(result, study, opened)
    screen.show_document(
        documents.candidate_document(found, chosen, result)
        | {
            "verification": verify_view.member_entries(member),
            "explanation": explain_view.explanation_entries(explained, study),
        }
    )
    screen.show(f"candidate {chosen.number} of run {found.run_id}, rank {chosen.rank} of "
                f"{len(found.candidates)} by {tables.RANKED_BY[found.method]}")  # fmt: skip
    screen.show(
        "", *in_words(result.metrics, result.margins), "", tables.margins_view(result.margins)
    )
    if member is not None and member.evaluation is not None:
        screen.show("", f"field model: {verify_view.fate_text(member)}", "",
                    verify_view.both_view(member))  # fmt: skip
    screen.show("", tables.parameters_view(study, result.design.parameters))
    screen.show("", tables.cost_view(result), "", tables.metrics_view(result.metrics))
    screen.show(*explain_view.explanation_view(explained, study))
    screen.show("", *CAUTIONS)
    screen.advise(f"paretorque export {found.run_id} {chosen.number} --to packs/{study.name}")
    return DONE


def _verified_front(verification: Verification) -> FrontResult:
    if not verification.verified:
        raise RequestError(
            f"run {verification.front.run_id} has no verified member; use 'paretorque verify "
            f"{verification.front.run_id}' first"
        )
    return verification.by_field


def _outcomes(verification: Verification, is_by_field: bool) -> dict[int, str] | None:
    """Return what verification says of each member, if any is verified and it is not told yet."""
    if is_by_field or not verification.verified:
        return None
    words = {"misses a limit": "dropped", "no machine": "dropped", "not verified": "-"}
    return {m.candidate.number: words.get(m.fate, m.fate) for m in verification.members}
