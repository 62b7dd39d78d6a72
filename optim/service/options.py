"""Options and arguments that several commands share, and reading their values."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from models.cost import default_prices
from models.nomenclature import nearest
from optim.errors import StudyError
from optim.ranking.preferences import Method
from optim.service.errors import RequestError
from optim.study.aim_tables import read_preferences
from optim.study.model import Study
from optim.study.reading import Problems

METHODS: dict[str, Method] = {"compromise": "weights", "goals": "goals", "knee": "knee"}

StudyFile = Annotated[Path, typer.Argument(metavar="STUDY", help="Study file (TOML).")]
RunName = Annotated[
    str,
    typer.Argument(metavar="RUN", help="Run id, the beginning of one, or 'last'."),
]
StorePath = Annotated[
    str | None,
    typer.Option("--store", metavar="FILE", envvar="PARETORQUE_STORE",
                 help="Store of runs: a file or postgresql://...; "
                      "default runs/paretorque.sqlite."),
]  # fmt: skip
To = Annotated[
    str,
    typer.Option("--to", metavar="URL", envvar="PARETORQUE_SERVICE",
                 help="A service instead of a store: its URL, or a saved profile."),
]  # fmt: skip
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No progress, no advice.")]
Verbose = Annotated[bool, typer.Option("--verbose", "-v", help="More detail; full error reports.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Say what would be done, and stop.")]
Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", help="Worker processes; default one a core."),
]
Scheduler = Annotated[
    str,
    typer.Option("--scheduler", metavar="ADDRESS",
                 help="Use a running Dask scheduler, as in tcp://host:8786."),
]  # fmt: skip
Seed = Annotated[int | None, typer.Option("--seed", metavar="N", help="Instead of the study's.")]
Budget = Annotated[int | None, typer.Option("--budget", metavar="N", help="Evaluations to make.")]
Limits = Annotated[
    list[str] | None,
    typer.Option("--limit", metavar="LIMIT", help="As in 'magnet_mass <= 1.2 kg'; repeatable."),
]
Settings = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="NAME=VALUE",
                 help="Parameter, as in 'magnet_thickness=4 mm'; repeatable."),
]  # fmt: skip


def method_of(by: str) -> Method | None:
    """Return the ranking method of --by; None for an empty one.

    Raises
    ------
    RequestError
        For an unknown one.
    """
    if not by:
        return None
    if by not in METHODS:
        hint = nearest(by, METHODS)
        raise RequestError(
            f"--by: given {by!r}; allowed: {', '.join(METHODS)}"
            + (f". Did you mean {hint!r}?" if hint else "")
        )
    return METHODS[by]


def with_preferences(study: Study, *, weights: str = "", goals: str = "") -> Study:
    """Return the study ranked by other weights or goals.

    Parameters
    ----------
    study : Study
        As read.
    weights : str
        As in "cost=2,magnet_mass=1"; empty keeps the study's.
    goals : str
        As in "magnet_mass=1.2 kg,cost=240 EUR"; empty keeps the study's.

    Raises
    ------
    StudyError
        With every mistake.
    """
    problems = Problems()
    raw: dict[str, object] = {}
    if weights:
        raw["weights"] = {k: _number(v) for k, v in _pairs(weights, "--weights", problems)}
    if goals:
        raw["goals"] = dict(_pairs(goals, "--goals", problems))
    names = {o.metric: o.sense for o in study.objectives}
    read = read_preferences(raw, names, problems=problems)
    if problems.found:
        raise StudyError(problems.found, source="preferences")
    kept = study.preferences
    return replace(
        study,
        preferences=replace(
            kept,
            weights=read.weights if weights else kept.weights,
            goals=read.goals if goals else kept.goals,
        ),
    )


def read_prices(texts: Sequence[str]) -> dict[str, float]:
    """Return prices given as KEY=VALUE [EUR per unit of the price list].

    Raises
    ------
    StudyError
        With every mistake.
    """
    problems = Problems()
    known = default_prices()
    prices: dict[str, float] = {}
    for text in texts:
        for key, value in _pairs(text, "--price", problems):
            number = _number(value)
            if key not in known:
                problems.unknown("--price", key, known, "price")
            elif not isinstance(number, float) or not 0.0 <= number < float("inf"):
                problems.add(f"--price {key}", value, "a number of EUR, 0 or more")
            else:
                prices[key] = number
    if problems.found:
        raise StudyError(problems.found, source="prices")
    return prices


def _pairs(text: str, where: str, problems: Problems) -> list[tuple[str, str]]:
    out = []
    for part in text.split(","):
        key, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or not key or not value:
            problems.add(where, part.strip(), "NAME=VALUE, several apart by commas")
        else:
            out.append((key, value))
    return out


def _number(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text
