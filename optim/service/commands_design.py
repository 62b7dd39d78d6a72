"""Commands on single designs: evaluate, compare, export."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from models.evaluate import MODELS
from models.nomenclature import nearest
from optim.service import documents, options, tables
from optim.service.comparing import compare as compare_designs
from optim.service.designs import (
    Assessment,
    assess,
    candidate_design,
    file_design,
    named_design,
    study_design,
    study_for,
    with_settings,
)
from optim.service.errors import RequestError, SelectionError
from optim.service.failures import DONE, NOTHING_FEASIBLE, OUR_FAULT
from optim.service.places import open_place
from optim.service.remote.store import RemoteStore
from optim.service.screen import Screen, make_screen
from optim.service.waiting import COMPILING, explained_wait, is_cold
from optim.store.sql_store import SqlStore
from optim.study.load import load

StudyOption = Annotated[
    Path | None,
    typer.Option("--study", metavar="FILE", help="Duty, limits and prices for a design file."),
]


def evaluate(
    source: Annotated[
        Path, typer.Argument(metavar="STUDY|DESIGN", help="Study file, or exported design file.")
    ],
    settings: options.Settings = None,
    model: Annotated[str, typer.Option("--model", metavar="NAME", help="circuit or field.")] = "",
    study: StudyOption = None,
    store: options.StorePath = None,
    json: options.Json = False,
    verbose: options.Verbose = False,
) -> int:
    """Put one design through a model: a study's baseline, or an exported design.

    \b
      paretorque evaluate studies/island-post-van.toml --set turns_per_coil=4
      paretorque evaluate packs/island-post-van/design.toml
    """
    screen = make_screen(is_json=json)
    if model and model not in MODELS:
        hint = nearest(model, MODELS)
        raise RequestError(
            f"--model: given {model!r}; allowed: {', '.join(MODELS)}"
            + (f". Did you mean {hint!r}?" if hint else "")
        )
    if _is_design_file(source):
        with _store_if_any(store) as opened:
            design = file_design(source, opened)
        aims = load(study) if study is not None else study_for(design)
        design = with_settings(design, settings or [])
        if model:
            design = replace(design, model=model)
    else:
        aims = load(source)
        design = study_design(aims, settings or [], model=model)
    with explained_wait(screen):
        result = assess(design, aims)
    screen.show_document(documents.evaluation_document(result))
    return _show_assessment(result, screen)


def compare(
    first: Annotated[str, typer.Argument(metavar="A", help="RUN, RUN:CANDIDATE or design file.")],
    second: Annotated[str, typer.Argument(metavar="B", help="The same.")],
    study: StudyOption = None,
    store: options.StorePath = None,
    to: options.To = "",
    json: options.Json = False,
    verbose: options.Verbose = False,
) -> int:
    """Put two designs side by side at the first one's duty, supply, cooling and prices.

    \b
      paretorque compare last:1240 last:87
      paretorque compare last packs/island-post-van/design.toml
    """
    screen = make_screen(is_json=json)
    with _store_if_any(store, to) as opened:
        a, b = named_design(opened, first), named_design(opened, second)
        aims = load(study) if study is not None else study_for(a)
        with explained_wait(screen):
            result = compare_designs(a, b, study=aims, store=opened)
    screen.show_document(documents.comparison_document(result))
    for one in (result.first, result.second):
        if one.evaluation.status != "ok":
            screen.show(f"{one.design.label} is {one.evaluation.status}: {one.evaluation.message}")
    screen.show(f"at the duty and prices of study {aims.name}", "",
                tables.comparison_view(result))  # fmt: skip
    is_ok = all(one.evaluation.status == "ok" for one in (result.first, result.second))
    return DONE if is_ok else NOTHING_FEASIBLE


def export(
    run: options.RunName,
    candidate: Annotated[
        int | None,
        typer.Argument(metavar="[CANDIDATE]", help="Its number; default the best ranked."),
    ] = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="DIR", help="Folder of the pack.")
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace a folder that holds files.")
    ] = False,
    store: options.StorePath = None,
    service: Annotated[
        str,
        typer.Option(
            "--from",
            metavar="URL",
            envvar="PARETORQUE_SERVICE",
            help="A service instead of a store: its URL, or a saved profile.",
        ),
    ] = "",
    dry_run: options.DryRun = False,
    json: options.Json = False,
    quiet: options.Quiet = False,
    verbose: options.Verbose = False,
) -> int:
    """Write a candidate's hand-over pack: parameters, drawing, maps, tables, plots, data sheet.

    \b
      paretorque export last --to packs/best
      paretorque export last 1240 --to packs/1240
    """
    from optim.service.exporting import export_design, fetch_pack

    screen = make_screen(is_json=json, is_quiet=quiet)
    with open_place(store, service) as opened:
        design = candidate_design(opened, run, candidate)
        folder = to if to is not None else Path("packs") / design.label.replace(":", "-")
        if dry_run:
            screen.show(f"would write the pack of {design.label} to {folder}")
            screen.show_document(documents.export_document(design.label, str(folder), []))
            return DONE
        if isinstance(opened, RemoteStore):
            screen.say(f"fetching the pack of {design.label}")
            files = fetch_pack(opened.connection, design, folder, is_overwriting=overwrite)
        else:
            screen.say(
                COMPILING if is_cold() else f"evaluating {design.label} and writing its pack"
            )
            files = export_design(design, folder, store=opened, is_overwriting=overwrite)
    screen.show_document(documents.export_document(design.label, str(folder), files))
    screen.show(f"{design.label}: {len(files)} files in {folder}")
    if verbose:
        screen.show(*[f"  {name}" for name in files])
    screen.advise(f"open {folder}/README.txt, which says what each file is and whom it is for")
    return DONE


def _show_assessment(result: Assessment, screen: Screen) -> int:
    evaluation = result.evaluation
    screen.show(f"{result.design.label}, {evaluation.model} model")
    if evaluation.status != "ok":
        screen.show(f"{evaluation.status}, {evaluation.reason}: {evaluation.message}")
        return NOTHING_FEASIBLE if evaluation.status == "infeasible" else OUR_FAULT
    screen.show("", tables.margins_view(result.margins), "", tables.metrics_view(result.metrics))
    return DONE


def _is_design_file(path: Path) -> bool:
    if path.suffix == ".json":
        return True
    try:
        text = path.read_text(encoding="utf-8-sig")[:1_000_000]
    except (OSError, UnicodeDecodeError):
        return False  # the study's reader says what is wrong with it
    return any(line.strip() == "[exact_si]" or line.strip() == "[shown]"
               for line in text.splitlines())  # fmt: skip


@contextmanager
def _store_if_any(path: str | None, to: str = "") -> Iterator[SqlStore | RemoteStore | None]:
    """Open the store where there is one; a design file may need none."""
    try:
        opened = open_place(path, to)
    except SelectionError:
        if path is not None or to:
            raise
        yield None
        return
    with opened:
        yield opened
