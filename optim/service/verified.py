"""A front beside what the field model says of its members, all read from the store.

Nothing is evaluated here: what the field model knows is found under the designs' own keys, so
verified members are known to every run of the store, also under other limits or prices.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

import pandas as pd

from models.evaluation import Evaluation
from models.machine import ParameterValue
from models.nomenclature import METRICS
from optim.ranking.binding import Margin, what_binds
from optim.ranking.front import Candidate, Entry, header
from optim.service.results import FrontResult, front_result
from optim.store.contract import RunRecord, Store
from optim.study.families import study_key
from optim.study.judge import priced_metrics
from optim.study.model import Study

Fate = Literal["kept", "dominated", "misses a limit", "no machine", "failed", "not verified"]

FIELD = "field"
"""Model that verifies."""
STRESS = "plane_stress"
"""Model that verifies the rotor's strength alone."""
_ABSOLUTE_UNITS = ("%", "degC", "T", "")
_SAME = 1e-9


@dataclass(frozen=True, eq=False)
class Member:
    """A member of a front by the model it was found with and by the field model.

    Attributes
    ----------
    candidate : Candidate
        As found, with its rank among the front as found.
    evaluation : Evaluation or None
        Outcome of the field model; None if it is not known.
    metrics : mapping of str to float
        By the field model, SI, cost included; empty unless ok.
    margins : tuple of Margin
        To each limit by the field model, tightest first; empty unless ok.
    sheet_safety_factor : float or None
        Yield strength over greatest stress by plane-stress elements; None if not known.
    rank : int or None
        Rank by field values among the members that stay on the front.
    """

    candidate: Candidate
    evaluation: Evaluation | None
    metrics: Mapping[str, float]
    margins: tuple[Margin, ...]
    sheet_safety_factor: float | None
    rank: int | None

    @property
    def missed(self) -> tuple[Margin, ...]:
        """Limits that the field model finds missed."""
        return tuple(m for m in self.margins if not m.is_met)

    @property
    def fate(self) -> Fate:
        """What becomes of the member."""
        if self.evaluation is None:
            return "not verified"
        if self.evaluation.status != "ok":
            return "no machine" if self.evaluation.status == "infeasible" else "failed"
        if self.missed:
            return "misses a limit"
        return "kept" if self.rank is not None else "dominated"


@dataclass(frozen=True)
class Difference:
    """How far the field model is from the model of the search in one metric.

    Attributes
    ----------
    metric : str
        Name.
    unit : str
        `%` of the first value, or the shown unit for shares, temperatures and flux densities.
    median, largest : float
        Of the size of field less circuit over the verified members.
    mean : float
        With its sign: where it is near the median the difference is one-sided.
    worst : int
        Candidate with the largest difference.
    """

    metric: str
    unit: str
    median: float
    largest: float
    mean: float
    worst: int


@dataclass(frozen=True, eq=False)
class Verification:
    """A front and its verification.

    Attributes
    ----------
    front : FrontResult
        As found.
    members : tuple of Member
        Every member, in the order found.
    by_field : FrontResult
        The verified members judged and ranked by field values.
    differences : tuple of Difference
        One a metric in which the models differ.
    """

    front: FrontResult
    members: tuple[Member, ...]
    by_field: FrontResult
    differences: tuple[Difference, ...]

    @property
    def verified(self) -> tuple[Member, ...]:
        """Members that the field model knows."""
        return tuple(m for m in self.members if m.evaluation is not None)

    def member(self, number: int) -> Member | None:
        """Return the member with a candidate number, if there is one."""
        return next((m for m in self.members if m.candidate.number == number), None)

    def table(self) -> pd.DataFrame:
        """Return the differences as a table, one row a metric."""
        rows = [[d.unit, d.median, d.largest, d.mean, d.worst] for d in self.differences]
        names = [header(METRICS[d.metric]) for d in self.differences]
        return pd.DataFrame(
            rows, index=names, columns=["unit", "median", "largest", "mean", "worst candidate"]
        )


def read_verification(store: Store, record: RunRecord, front: FrontResult) -> Verification:
    """Put a front beside what the store knows of its members by the field model.

    Parameters
    ----------
    store : Store
        Where field evaluations are found.
    record : RunRecord
        The run of the front.
    front : FrontResult
        Its front, under the aims to judge by.
    """
    study = front.study
    known = {c.number: _known(store, study, c.parameters, FIELD) for c in front.candidates}
    entries = [
        Entry(c.number, c.parameters, evaluation)
        for c in front.candidates
        if (evaluation := known[c.number]) is not None
    ]
    by_field = front_result(record, study, entries, method=front.method)
    ranks = {c.number: c.rank for c in by_field.candidates}
    members = tuple(
        _member(study, c, known[c.number], _stress(store, study, c, known), ranks.get(c.number))
        for c in front.candidates
    )
    return Verification(front, members, by_field, differences(members))


def verification_key(
    study: Study, parameters: Mapping[str, ParameterValue], model: str
) -> str:  # fmt: skip
    """Return the key under which a design's evaluation by another model is stored."""
    return study_key(study, parameters, model=model)


def field_evaluation(
    store: Store, study: Study, parameters: Mapping[str, ParameterValue]
) -> Evaluation | None:
    """Return what the store knows of a design by the field model, None for nothing."""
    return _known(store, study, parameters, FIELD)


def differences(members: Sequence[Member]) -> tuple[Difference, ...]:
    """Return per metric how far the models are apart, where they differ at all.

    A member whose value is zero by the first model and another by the field model has no relative
    difference and does not count.
    """
    ok = [m for m in members if m.metrics]
    out = []
    for name in METRICS:
        pairs = [
            (m.candidate.number, m.candidate.metrics[name], m.metrics[name])
            for m in ok
            if name in m.metrics and name in m.candidate.metrics
        ]
        if all(abs(b - a) <= _SAME * max(abs(a), abs(b)) for _, a, b in pairs):
            continue
        found = [
            (number, value)
            for number, a, b in pairs
            if (value := difference(name, a, b)) is not None
        ]
        if not found:
            continue
        sizes = [abs(value) for _, value in found]
        worst = max(found, key=lambda item: abs(item[1]))[0]
        mean = sum(value for _, value in found) / len(found)
        out.append(
            Difference(name, difference_unit(name), median(sizes), max(sizes), mean, worst)
        )  # fmt: skip
    return tuple(out)


def difference(name: str, first: float, second: float) -> float | None:
    """Return second less first [SI] in the unit of `difference_unit`.

    None for a relative difference from zero to something else.
    """
    if first == second:
        return 0.0
    if METRICS[name].shown_unit in _ABSOLUTE_UNITS:
        return METRICS[name].shown(second - first)
    return 100.0 * (second - first) / abs(first) if first else None


def difference_unit(name: str) -> str:
    """Return `%` for a relative difference, `points` or the shown unit for an absolute one."""
    unit = METRICS[name].shown_unit
    if unit not in _ABSOLUTE_UNITS:
        return "%"
    return {"%": "points", "degC": "K", "": "-"}.get(unit, unit)


def _known(
    store: Store, study: Study, parameters: Mapping[str, ParameterValue], model: str
) -> Evaluation | None:
    known = store.find(verification_key(study, parameters, model), run_id="")
    return None if known is None else known.evaluation


def _stress(
    store: Store, study: Study, candidate: Candidate, known: Mapping[int, Evaluation | None]
) -> Evaluation | None:
    # Stored beside the field evaluation, so without one there is nothing to look for.
    if known[candidate.number] is None:
        return None
    return _known(store, study, candidate.parameters, STRESS)


def _member(
    study: Study,
    candidate: Candidate,
    evaluation: Evaluation | None,
    stress: Evaluation | None,
    rank: int | None,
) -> Member:
    factor = stress.metrics.get("bridge_safety_factor") if stress is not None else None
    if evaluation is None or evaluation.status != "ok":
        return Member(candidate, evaluation, {}, (), factor, None)
    priced = priced_metrics(study, evaluation, candidate.parameters)
    metrics = {name: priced[name] for name in METRICS if name in priced}
    return Member(candidate, evaluation, metrics, what_binds(study, metrics), factor, rank)
