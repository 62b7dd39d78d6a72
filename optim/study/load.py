"""Reads a study file: text in, a frozen `Study` in SI units out, or every mistake at once."""

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from models.duty import Duty
from models.nomenclature import METRICS
from optim.errors import Problem, StudyError
from optim.study.aim_tables import read_limits, read_objectives, read_preferences
from optim.study.design_tables import Space, read_space
from optim.study.duty_tables import read_duty
from optim.study.family_tables import check_metrics, joined, read_family_spaces
from optim.study.lines import with_lines
from optim.study.model import FamilySpace, Limit, Objective, SearchSettings, Study
from optim.study.price_table import read_prices
from optim.study.reading import MOST_PROBLEMS, Problems, read_table, shorten_key
from optim.study.schema import FORMAT, ModelTable, SearchTable, StudyTable

LARGEST_FILE = 1_000_000
"""Longest study text [characters]; a recorded cycle of ten hours still fits."""

LONGEST_KEY = 20
"""Parts of a dotted key that no study file needs."""

_KEY_PART = re.compile(r"[\w-]+|\"[^\"]*\"|'[^']*'")

TABLES = (
    "study", "duty", "machine", "variables", "families", "objectives", "limits", "search", "model",
    "prices", "ranking",
)  # fmt: skip
_REQUIRED = ("study", "duty", "machine", "variables", "objectives")

# Old format -> function that returns the same study in the next format. Empty while there is
# only one format; old study files must open for ever.
MIGRATIONS: Mapping[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}


def load(path: str | Path) -> Study:
    """Read a study file.

    Parameters
    ----------
    path : str or Path
        TOML file in UTF-8. Cycles and price lists that it names lie in the same folder.

    Returns
    -------
    Study
        Complete, in SI units.

    Raises
    ------
    StudyError
        With every mistake of the file.
    """
    path = Path(path)
    where = path.name
    try:
        if path.stat().st_size > 4 * LARGEST_FILE:
            raise StudyError([_too_long(f"{path.stat().st_size} bytes")], source=where)
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        problem = Problem(where, f"byte {error.start} that is no UTF-8", "a text file in UTF-8")
        raise StudyError([problem], source=where) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        problem = Problem(where, f"a path that cannot be read ({reason})", "a readable study file")
        if isinstance(error, StudyError):
            raise
        raise StudyError([problem], source=where) from error
    return loads(text, folder=path.parent, source=where)


def loads(text: str, *, folder: Path | None = None, source: str = "study") -> Study:
    """Read a study from text.

    Parameters
    ----------
    text : str
        TOML.
    folder : Path or None
        Folder of the files that the study names; None (a study that came over a network)
        refuses them.
    source : str
        Name for error messages.

    Raises
    ------
    StudyError
        With every mistake of the text.
    """
    data = parse(text, source=source)
    return assemble(data, text=text, folder=folder, source=source)


def parse(text: str, *, source: str = "study") -> dict[str, Any]:
    """Return a study text as nested tables, moved to the newest format.

    Raises
    ------
    StudyError
        If it is no TOML, too long, nested too deeply, or of a newer format.
    """
    if len(text) > LARGEST_FILE:
        raise StudyError([_too_long(f"{len(text)} characters")], source=source)
    line = _overlong_key(text)
    if line is not None:
        given, allowed = f"a key of {LONGEST_KEY} parts or more", "the keys of a study file"
        raise StudyError([Problem(source, given, allowed, line=line)], source=source)
    try:
        data = tomllib.loads(text)
    except RecursionError:
        problem = Problem(source, "brackets nested too deeply", "the tables of a study file")
        raise StudyError([problem], source=source) from None
    except ValueError as error:  # also the parser's own, for a number of thousands of digits
        found = re.search(r"line (\d+)", str(error))
        problem = Problem(
            source, f"text that is no TOML: {str(error)[:160]}", "TOML 1.0",
            "Correct this place first; the rest is read then.",
            int(found[1]) if found else None,
        )  # fmt: skip
        raise StudyError([problem], source=source) from None
    return migrate(data, source=source)


def migrate(data: dict[str, Any], *, source: str = "study") -> dict[str, Any]:
    """Return tables of an older format in the newest one.

    Raises
    ------
    StudyError
        For a newer format than this version reads.
    """
    head = data.get("study")
    number = head.get("format") if isinstance(head, Mapping) else None
    if isinstance(number, bool) or not isinstance(number, int) or number < 1:
        return data  # reported with everything else when [study] is read
    if number > FORMAT:
        problem = Problem(
            "study.format", str(number)[:40], f"1 to {FORMAT}",
            "The file was written for a newer version of this program: install that one.",
        )  # fmt: skip
        raise StudyError([problem], source=source)
    for old in range(number, FORMAT):
        data = MIGRATIONS[old](data)
    return data


def assemble(
    data: Mapping[str, Any],
    *,
    text: str,
    folder: Path | None = None,
    source: str = "study",
    duty: Duty | None = None,
) -> Study:
    """Check parsed tables and build the study.

    Parameters
    ----------
    data : mapping
        Tables as parsed.
    text : str
        The text they came from, kept with the study and used for line numbers.
    folder : Path or None
        Folder of the files that the study names.
    source : str
        Name for error messages.
    duty : Duty or None
        Already known duty, taken instead of [duty].

    Raises
    ------
    StudyError
        With every mistake.
    """
    problems = Problems()
    for key in list(data)[:MOST_PROBLEMS]:
        if key not in TABLES:
            problems.unknown(shorten_key(key), key, TABLES, "table")
    several = "families" in data
    for key in _REQUIRED:
        if key not in data and not (several and key in ("machine", "variables")):
            problems.note(key, "nothing", f"a table [{key}]", "Add this table.")
    head = read_table(StudyTable, data.get("study", {}), where="study", problems=problems)
    if duty is None:
        duty = read_duty(data.get("duty", {}), folder=folder, problems=problems)
    space: Space | None = None
    spaces: tuple[FamilySpace, ...] = ()
    if several:
        spaces = read_family_spaces(data, problems=problems)
        space = joined(spaces) if spaces else None
    else:
        space = read_space(data.get("machine", {}), data.get("variables", {}), problems=problems)
    objectives = read_objectives(data.get("objectives", {}), problems=problems)
    limits = read_limits(data.get("limits", {}), problems=problems)
    if space is not None:
        check_metrics(tuple(s.family for s in spaces) or (space.family,), objectives, limits,
                      problems=problems)  # fmt: skip
    search = _search(data.get("search", {}), problems)
    model = read_table(ModelTable, data.get("model", {}), where="model", problems=problems)
    _check_model(objectives, limits, model.name, problems)
    prices = read_prices(data.get("prices", {}), folder=folder, problems=problems)
    preferences = read_preferences(
        data.get("ranking", {}), data.get("objectives", {}), problems=problems
    )
    if problems.found or duty is None or space is None or search is None:
        raise StudyError(with_lines(_without_echoes(problems.found, data), text), source=source)
    return Study(
        name=head.name,
        title=head.title,
        family=space.family,
        fixed=space.fixed,
        baseline=space.baseline,
        variables=space.variables,
        objectives=objectives,
        limits=limits,
        duty=duty,
        model=model.name,
        prices=prices,
        search=search,
        preferences=preferences,
        text=text,
        spaces=spaces,
    )


def _check_model(
    objectives: Sequence[Objective], limits: Sequence[Limit], model: str, problems: Problems
) -> None:
    """Check that the model gives every metric that is aimed at or limited."""
    for table, entries in (("objectives", objectives), ("limits", limits)):
        for entry in entries:
            models = METRICS[entry.metric].models
            if models and model not in models:
                problems.note(
                    f"{table}.{entry.metric}", f"a metric that the {model} model does not give",
                    "metrics of the model named in [model]",
                    f'Set name = "{models[0]}" in [model], or look at it in verify.',
                )  # fmt: skip


def _overlong_key(text: str) -> int | None:
    """Return the line of a dotted key with very many parts.

    The parser's time grows with the square of their number: a text of the allowed length could
    hold it up for hours.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") >= LONGEST_KEY:
            run = 0
            for part in line.split("."):
                run = run + 1 if _KEY_PART.fullmatch(part.strip()) else 0
                if run >= LONGEST_KEY:
                    return number
    return None


def _too_long(given: str) -> Problem:
    return Problem("study", given, f"at most {LARGEST_FILE} characters")


def _without_echoes(found: list[Problem], data: Mapping[str, Any]) -> list[Problem]:
    """Drop what follows from a missing table: one message for it is enough."""
    missing = [key for key in _REQUIRED if key not in data]
    return [
        p for p in found
        if (p.where in _REQUIRED and p.hint == "Add this table.")
        or p.where.split(".")[0] not in missing
    ]  # fmt: skip


def _search(raw: object, problems: Problems) -> SearchSettings | None:
    before = len(problems.found)
    table = read_table(SearchTable, raw, where="search", problems=problems)
    budget = table.budget
    if table.population is not None and budget is not None and table.population > budget:
        problems.add("search.population", table.population, f"at most the budget, {budget}",
                     "Raise the budget or lower the population.")  # fmt: skip
    if len(problems.found) > before:
        return None
    # A budget below the usual population is a quick look: the population shrinks with it.
    population = table.population or min(SearchSettings.population, max(4, table.budget))
    return SearchSettings(
        algorithm=table.algorithm or "",
        population=population,
        budget=table.budget,
        seed=table.seed,
        lag=table.lag or population,
        batch=table.batch,
        wall_time=table.wall_time_s,
        stall_evaluations=table.stall_evaluations,
        evaluation_time_limit=table.evaluation_time_limit_s,
        is_ordered=table.ordered,
    )
