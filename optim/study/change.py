"""A study with tighter limits, other objectives or other prices, for running it again.

The change is made in the tables of the file and the result is read like any file, so it gets the
same checks and a text of its own.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from models.cost import default_prices
from models.nomenclature import METRICS
from optim.errors import StudyError
from optim.study.aim_tables import METRIC_KEYS, read_limit
from optim.study.load import assemble, parse
from optim.study.model import Limit, Study
from optim.study.reading import Problems
from optim.study.units import exact, keyed, shown_text, unit_of
from optim.study.write import dumps

_LIMIT = re.compile(r"\s*([A-Za-z0-9_]+)\s*(?=<=|>=|≤|≥)(.*)", re.DOTALL)
_OBJECTIVE = re.compile(r"\s*(\w+)\s+(\w+)\s*")


def with_changes(
    study: Study,
    *,
    limits: Sequence[str] = (),
    objectives: Sequence[str] = (),
    prices: Mapping[str, float] | None = None,
    allow_looser: bool = False,
) -> Study:
    """Return the study with changed aims; its text is rewritten and stands alone.

    Parameters
    ----------
    study : Study
        As read by `load` or `loads`, or already changed.
    limits : sequence of str
        As "magnet_mass <= 1.4 kg". Each is added, or replaces the looser limit on the same
        metric and relation.
    objectives : sequence of str
        As "maximise peak_torque". If any is given they replace all objectives of the study.
    prices : mapping of str to float, optional
        New prices [EUR per unit of the price list].
    allow_looser : bool
        Whether a limit may also be replaced by a looser one.

    Raises
    ------
    StudyError
        With every mistake, among them a limit looser than the study's unless that is allowed.
    """
    data = parse(study.text)
    problems = Problems()
    kept = {(item.metric, item.relation): item for item in study.limits}
    for text in limits:
        limit = _read_limit(text, problems)
        if limit is None:
            continue
        old = kept.get((limit.metric, limit.relation))
        if old is not None and not allow_looser and _is_looser(limit, old):
            problems.add(
                "--limit", text, f"at least as tight as the study's {limit_text(old)}",
                "Change the study file to loosen a limit.",
            )  # fmt: skip
        kept[limit.metric, limit.relation] = limit
    wanted = dict(pair for text in objectives if (pair := _read_objective(text, problems)))
    if problems.found:
        raise StudyError(problems.found, source="changes")
    data["limits"] = _limit_table(tuple(kept.values()))
    if wanted:
        data["objectives"] = wanted
        data["ranking"] = _ranking_for(data.get("ranking", {}), tuple(wanted))
    data["prices"] = {**_price_table(study), **(prices or {})}
    data["duty"] = {**data["duty"], "cycle": _cycle_table(study, data["duty"]["cycle"])}
    data = {key: value for key, value in data.items() if value}
    text = dumps(data)
    return assemble(data, text=text, duty=study.duty, source="changed study")


def self_contained(study: Study) -> str:
    """Return the study as TOML text without references to other files.

    Comments are lost. Reading it gives the same study, digest included.
    """
    return with_changes(study).text


def limit_text(limit: Limit) -> str:
    """Return a limit as people write it (`magnet_mass <= 1.4 kg`)."""
    bound = shown_text(limit.bound, unit_of(METRICS[limit.metric]))
    return f"{limit.metric} {limit.relation} {bound}"


def _is_looser(new: Limit, old: Limit) -> bool:
    return new.bound < old.bound if new.relation == ">=" else new.bound > old.bound


def _read_limit(text: str, problems: Problems) -> Limit | None:
    match = _LIMIT.fullmatch(text[:200])
    if match is None:
        problems.add("--limit", text, "a limit, as in 'magnet_mass <= 1.4 kg'")
        return None
    name = METRIC_KEYS.get(match[1])
    if name is None:
        problems.unknown("--limit", match[1], METRICS, "metric")
        return None
    return read_limit(name, match[2], where="--limit", is_keyed=match[1] != name, problems=problems)


def _read_objective(text: str, problems: Problems) -> tuple[str, str] | None:
    match = _OBJECTIVE.fullmatch(text[:200])
    if match is None or match[1] not in ("minimise", "maximise"):
        problems.add("--objective", text, "an objective, as in 'maximise peak_torque'")
        return None
    if match[2] not in METRICS:
        problems.unknown("--objective", match[2], METRICS, "metric")
        return None
    return match[2], match[1]


def _limit_table(limits: tuple[Limit, ...]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for limit in limits:
        unit = unit_of(METRICS[limit.metric])
        # Bare numbers under a key with the unit keep every bit of the bound.
        text = f"{limit.relation} {exact(limit.bound, unit)}"
        out.setdefault(keyed(limit.metric, unit), []).append(text)
    return {key: texts[0] if len(texts) == 1 else texts for key, texts in out.items()}


def _price_table(study: Study) -> dict[str, float]:
    default = default_prices()
    return {key: value for key, value in study.prices.items() if default.get(key) != value}


def _cycle_table(study: Study, given: object) -> object:
    if not isinstance(given, Mapping) or "file" not in given:
        return given
    cycle = study.duty.cycle
    return {
        "name": re.sub(r"[^A-Za-z0-9_-]", "-", cycle.name)[:64].lstrip("_-") or "recorded",
        "time_s": cycle.time.tolist(),
        "speed_m_per_s": cycle.speed.tolist(),
    }


def _ranking_for(ranking: Mapping[str, Any], objectives: tuple[str, ...]) -> dict[str, Any]:
    """Return [ranking] without entries of metrics that are no objectives any more."""
    out: dict[str, Any] = {}
    for table, entries in ranking.items():
        kept = {k: v for k, v in entries.items() if METRIC_KEYS.get(k) in objectives}
        if kept:
            out[table] = kept
    return out
