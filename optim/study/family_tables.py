"""From [families.NAME.machine] and [families.NAME.variables] to one space for each family.

[machine] and [variables] hold what all families share; a family's own tables come on top.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from models.machine import ParameterValue
from models.nomenclature import FAMILIES, METRICS
from optim.errors import Problem
from optim.study.design_tables import Space, read_space
from optim.study.families import has_metric
from optim.study.model import FamilySpace, Limit, Objective, Variable
from optim.study.reading import Problems, shorten_key
from optim.study.space import FAMILY

_PARTS = ("machine", "variables")


def read_family_spaces(data: Mapping[str, Any], *, problems: Problems) -> tuple[FamilySpace, ...]:
    """Read the spaces of a study of several families.

    Parameters
    ----------
    data : mapping
        The study's tables: `machine` and `variables`, which may be left out, and `families`.
    problems : Problems
        Receives every mistake.

    Returns
    -------
    tuple of FamilySpace
        In the order of the file; empty if anything was wrong.
    """
    families, shared = data.get("families"), {part: data.get(part, {}) for part in _PARTS}
    before = len(problems.found)
    if not isinstance(families, Mapping) or len(families) < 2:
        problems.add("families", families, "a table [families.NAME] for each of two or more",
                     "Name a single family in [machine].")  # fmt: skip
        return ()
    for part in _PARTS:
        if not isinstance(shared[part], Mapping):
            problems.add(part, shared[part], f"a table [{part}]")
            shared[part] = {}
    if "family" in shared["machine"]:
        problems.note("machine.family", "a family beside [families]", "one of both",
                      "Take it out: the families are named under [families].")  # fmt: skip
    out = []
    for name, own in list(families.items())[: 2 * len(FAMILIES)]:
        where = f"families.{shorten_key(name)}"
        if name not in FAMILIES:
            problems.unknown(where, name, FAMILIES, "family")
            continue
        if not isinstance(own, Mapping):
            problems.add(where, own, f"tables [{where}.machine] and [{where}.variables]")
            continue
        for part in own:
            if part not in _PARTS:
                problems.unknown(f"{where}.{shorten_key(part)}", part, _PARTS, "table")
        space = _read_one(name, own, shared, where=where, problems=problems)
        if space is not None:
            out.append(space)
    return tuple(out) if len(problems.found) == before else ()


def _read_one(
    family: str,
    own: Mapping[str, Any],
    shared: Mapping[str, Any],
    *,
    where: str,
    problems: Problems,
) -> FamilySpace | None:
    tables: dict[str, dict[str, Any]] = {}
    for part in _PARTS:
        mine = own.get(part, {})
        if not isinstance(mine, Mapping):
            problems.add(f"{where}.{part}", mine, f"a table [{where}.{part}]")
            mine = {}
        tables[part] = {**shared[part], **mine}
    # What a family varies itself is not fixed for it, and the other way round.
    for key in own.get("variables", {}) or {}:
        if key not in (own.get("machine", {}) or {}):
            tables["machine"].pop(key, None)
    for key in own.get("machine", {}) or {}:
        if key not in (own.get("variables", {}) or {}):
            tables["variables"].pop(key, None)
    found = Problems()
    machine = {**tables["machine"], "family": family}
    space = read_space(machine, tables["variables"], problems=found)
    known = {(p.where, p.given) for p in problems.found}
    for problem in found.found:
        placed = _placed(problem, own, where)
        if (placed.where, placed.given) not in known:
            problems.found.append(placed)
    if space is None:
        return None
    return FamilySpace(family, space.fixed, space.variables, space.baseline)


def _placed(problem: Problem, own: Mapping[str, Any], where: str) -> Problem:
    """Return a problem under the family's own table where the key stands there."""
    part, _, rest = problem.where.partition(".")
    mine = own.get(part)
    key = rest.split(".")[0].split("[")[0]
    if isinstance(mine, Mapping) and (key in mine or not rest):
        return replace(problem, where=f"{where}.{problem.where}")
    return problem


def joined(spaces: Sequence[FamilySpace]) -> Space:
    """Return what a whole study shows of several spaces: all variables, and what is fixed alike."""
    variables: dict[str, Variable] = {}
    for space in spaces:
        for variable in space.variables:
            variables.setdefault(variable.name, variable)
    first = spaces[0]
    alike: dict[str, ParameterValue] = {
        name: value
        for name, value in first.fixed.items()
        if all(space.fixed.get(name) == value for space in spaces)
    }
    return Space(
        family="+".join(space.family for space in spaces),
        fixed=alike,
        variables=tuple(variables.values()),
        baseline={FAMILY: first.family, **first.baseline},
    )


def check_metrics(
    families: Sequence[str],
    objectives: Sequence[Objective],
    limits: Sequence[Limit],
    *,
    problems: Problems,
) -> None:
    """Record objectives that a family does not have, and limits that none has."""
    for objective in objectives:
        lacking = [f for f in families if not has_metric(f, objective.metric)]
        if lacking:
            own = " and ".join(METRICS[objective.metric].families)
            problems.note(
                f"objectives.{objective.metric}", f"a metric of family {own}",
                f"metrics of {' and '.join(families)}", "Take one that every family has.",
            )  # fmt: skip
    for limit in limits:
        if not any(has_metric(f, limit.metric) for f in families):
            own = " and ".join(METRICS[limit.metric].families)
            problems.note(
                f"limits.{limit.metric}", f"a metric of family {own}",
                f"metrics of {' or '.join(families)}", "Take it out.",
            )  # fmt: skip
