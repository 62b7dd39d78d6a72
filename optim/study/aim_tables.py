"""From [objectives], [limits] and [ranking] to objectives, limits and preferences."""

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress

from models.nomenclature import METRICS, Metric
from optim.study.model import Limit, Objective, Preferences, Relation
from optim.study.reading import Problems, near, shorten_key
from optim.study.schema import MOST_OBJECTIVES
from optim.study.units import UnitTextError, from_number, from_text, keyed, shown_text, unit_of

MOST_LIMITS = 100
_SENSES = ("minimise", "maximise")
_RELATIONS: Mapping[str, Relation] = {"<=": "<=", ">=": ">=", "≤": "<=", "≥": ">="}
_BOUND = re.compile(r"\s*(<=|>=|≤|≥)\s*(.*)", re.DOTALL)
_LIMIT_FORM = "<= or >= with a bound, as in '{example}'"

METRIC_KEYS: Mapping[str, str] = {
    **{keyed(name, unit_of(m)): name for name, m in METRICS.items()},
    **{name: name for name in METRICS},
}


def read_objectives(raw: object, *, problems: Problems) -> tuple[Objective, ...]:
    """Read [objectives]: metric = "minimise" or "maximise"."""
    if not isinstance(raw, Mapping) or not raw:
        problems.add("objectives", raw, "a table [objectives] with at least one metric",
                     'Write for example cost = "minimise".')  # fmt: skip
        return ()
    if len(raw) > MOST_OBJECTIVES:
        problems.note("objectives", f"{len(raw)} objectives", f"at most {MOST_OBJECTIVES}",
                     "Turn the least important ones into limits.")  # fmt: skip
    out = []
    for key, sense in list(raw.items())[: 4 * MOST_OBJECTIVES]:
        where = f"objectives.{shorten_key(key)}"
        if key not in METRICS:
            problems.unknown(where, key, METRICS, "metric")
        if not isinstance(sense, str) or sense not in _SENSES:
            close = near(sense, _SENSES) if isinstance(sense, str) else None
            problems.add(where, sense, "minimise, maximise",
                         f"Did you mean {close!r}?" if close else "")  # fmt: skip
        elif key in METRICS:
            out.append(Objective(key, "minimise" if sense == "minimise" else "maximise"))
    return tuple(out)


def read_limits(raw: object, *, problems: Problems) -> tuple[Limit, ...]:
    """Read [limits]: metric = ">= 250 N*m", or a list of such."""
    if not isinstance(raw, Mapping):
        problems.add("limits", raw, "a table [limits]")
        return ()
    out: list[Limit] = []
    if len(raw) > MOST_LIMITS:
        problems.note("limits", f"{len(raw)} entries", f"at most {MOST_LIMITS}")
    for key, entry in list(raw.items())[:MOST_LIMITS]:
        where = f"limits.{shorten_key(key)}"
        name = METRIC_KEYS.get(key)
        if name is None:
            problems.unknown(where, key, METRICS, "metric")
            continue
        texts = entry if isinstance(entry, list) else [entry]
        if not texts or len(texts) > 4:
            problems.add(where, entry, "one limit or a list of up to 4")
            continue
        for k, text in enumerate(texts):
            at = f"{where}[{k}]" if isinstance(entry, list) else where
            limit = read_limit(name, text, where=at, is_keyed=key != name, problems=problems)
            if limit is not None:
                out.append(limit)
    check_limits(out, problems)
    return tuple(out)


def read_limit(
    name: str, text: object, *, where: str, is_keyed: bool, problems: Problems
) -> Limit | None:
    """Read one relation and bound of a known metric; None if it is wrong.

    Parameters
    ----------
    name : str
        Metric.
    text : object
        As in ">= 250 N*m".
    where : str
        Place for messages.
    is_keyed : bool
        Whether the key carried the metric's unit, so that a bare number is allowed.
    problems : Problems
        Receives mistakes.
    """
    metric = METRICS[name]
    sign = "<=" if metric.better == "less" else ">="
    form = _LIMIT_FORM.format(example=f"{sign} 12 {metric.shown_unit}".rstrip())
    match = _BOUND.fullmatch(text[:120]) if isinstance(text, str) else None
    if match is None:
        problems.add(where, text, form)
        return None
    try:
        bound = _read_value(match[2], metric, is_keyed=is_keyed)
    except UnitTextError as error:
        problems.add(where, text, f"{form}; after the sign {error}")
        return None
    return Limit(name, _RELATIONS[match[1]], bound)


def check_limits(limits: Sequence[Limit], problems: Problems) -> None:
    """Record limits given twice and pairs that no value can meet."""
    seen: dict[tuple[str, str], Limit] = {}
    for limit in limits:
        if (limit.metric, limit.relation) in seen:
            problems.note(f"limits.{limit.metric}", f"two limits with {limit.relation}",
                         "one of each relation", "Keep the tighter one.")  # fmt: skip
        seen[limit.metric, limit.relation] = limit
    for (name, relation), lower in seen.items():
        upper = seen.get((name, "<="))
        if relation == ">=" and upper is not None and lower.bound > upper.bound:
            unit = unit_of(METRICS[name])
            problems.note(
                f"limits.{name}",
                f">= {shown_text(lower.bound, unit)} and <= {shown_text(upper.bound, unit)}",
                "limits that some value can meet", "They contradict each other.",
            )  # fmt: skip


def read_preferences(raw: object, objectives: object, *, problems: Problems) -> Preferences:
    """Read [ranking]: weights, goals and ranges.

    `objectives` is the raw table, so that an objective with a mistake of its own counts as known.
    """
    names = tuple(METRICS)
    if isinstance(objectives, Mapping) and objectives:
        names = tuple(key for key in objectives if key in METRICS)
    if not isinstance(raw, Mapping):
        problems.add("ranking", raw, "a table [ranking]")
        return Preferences({}, {})
    known = ("weights", "goals", "ranges")
    for key in list(raw)[:50]:
        if key not in known:
            problems.unknown(f"ranking.{shorten_key(key)}", key, known)
    weights: dict[str, float] = {}
    for name, key, value in _ranked(raw, "weights", names, problems):
        if (
            isinstance(value, bool)
            or not isinstance(value, (int, float))
            or not (0.0 <= value <= 1e6)
        ):
            problems.add(f"ranking.weights.{key}", value, "a number from 0 to 1e6")
        else:
            weights[name] = float(value)
    if weights and not any(weights.values()):
        problems.note("ranking.weights", "zeros only", "at least one weight above 0")
    goals: dict[str, float] = {}
    for name, key, value in _ranked(raw, "goals", names, problems):
        goal = _one(name, key, value, f"ranking.goals.{key}", problems)
        if goal is not None:
            goals[name] = goal
    ranges: dict[str, tuple[float, float]] = {}
    for name, key, value in _ranked(raw, "ranges", names, problems):
        where = f"ranking.ranges.{key}"
        if not isinstance(value, list) or len(value) != 2:
            problems.add(where, value, "a list of two values, best and worst in any order")
            continue
        ends = [_one(name, key, v, f"{where}[{k}]", problems) for k, v in enumerate(value)]
        low, high = ends
        if low is None or high is None:
            continue
        if low == high:
            problems.add(where, value, "two different values")
            continue
        ranges[name] = (min(low, high), max(low, high))
    return Preferences(weights, goals, ranges)


def _ranked(
    raw: Mapping[str, object], table: str, names: tuple[str, ...], problems: Problems
) -> list[tuple[str, str, object]]:
    """Return metric, key and value of the entries of a ranking table that name objectives."""
    entries = raw.get(table, {})
    where = f"ranking.{table}"
    if not isinstance(entries, Mapping):
        problems.add(where, entries, f"a table [{where}]")
        return []
    out = []
    for key, value in list(entries.items())[:50]:
        name = METRIC_KEYS.get(key) if table != "weights" else key
        if name is None or name not in names:
            problems.unknown(f"{where}.{shorten_key(key)}", key, names, "objective")
        else:
            out.append((name, key, value))
    return out


def _one(name: str, key: str, value: object, where: str, problems: Problems) -> float | None:
    try:
        return _read_value(value, METRICS[name], is_keyed=key != name)
    except UnitTextError as error:
        problems.add(where, value, str(error))
        return None


def _read_value(value: object, metric: Metric, *, is_keyed: bool) -> float:
    """Return a metric's value in SI from a number under a key with a unit, or from text."""
    unit = unit_of(metric)
    text = value.strip() if isinstance(value, str) else ""
    if text and is_keyed:
        with suppress(ValueError):  # no bare number: read as text with a unit below
            value = float(text)
    if isinstance(value, str):
        return from_text(value, unit)
    if not is_keyed and unit.shown:
        raise UnitTextError(
            f"text with a unit, as in {f'12 {unit.shown}'!r}, or a number under "
            f"{keyed(metric.name, unit)}"
        )
    return from_number(value, unit)
