"""Limits beside what the design reaches: margins, and which of them bind."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from models.nomenclature import METRICS
from optim.export.notation import metric_text, name_text
from optim.study.judge import margin
from optim.study.model import Limit

BINDS_BELOW = 0.02
"""A limit met by less than this part of its bound binds (common practice, no source)."""

State = Literal["met", "binds", "missed"]


@dataclass(frozen=True)
class Requirement:
    """One limit and the design.

    Attributes
    ----------
    limit : Limit
        The limit.
    value : float
        What the design reaches [SI].
    margin : float
        Distance inside the limit in parts of its bound (of the metric's plausible width where
        the bound is 0); negative when missed.
    """

    limit: Limit
    value: float
    margin: float

    @property
    def state(self) -> State:
        """Whether the limit is met, met with next to nothing to spare, or missed."""
        if self.margin < 0.0:
            return "missed"
        return "binds" if self.margin < BINDS_BELOW else "met"

    @property
    def name(self) -> str:
        """The metric in words."""
        return name_text(self.limit.metric)

    @property
    def bound_text(self) -> str:
        """Relation and bound with unit."""
        sign = "≤" if self.limit.relation == "<=" else "≥"
        return f"{sign} {metric_text(self.limit.metric, self.limit.bound)}"

    @property
    def value_text(self) -> str:
        """Value with unit."""
        return metric_text(self.limit.metric, self.value)


def requirements(limits: Sequence[Limit], metrics: Mapping[str, float]) -> tuple[Requirement, ...]:
    """Return each limit with the design's value, tightest first.

    Raises
    ------
    LookupError
        If a limit's metric is not among the metrics.
    """
    missing = [limit.metric for limit in limits if limit.metric not in metrics]
    if missing:
        raise LookupError(f"no value for {', '.join(missing)}, which the limits need")
    rows = [
        Requirement(limit, metrics[limit.metric], margin(limit, metrics[limit.metric]))
        for limit in limits
    ]
    return tuple(sorted(rows, key=lambda row: row.margin))


def implausible(metrics: Mapping[str, float]) -> tuple[str, ...]:
    """Return the metrics outside their plausible range of `models.nomenclature`."""
    return tuple(
        name
        for name, value in metrics.items()
        if not METRICS[name].low <= METRICS[name].shown(value) <= METRICS[name].high
    )


_FATAL = (
    ("bridge_safety_factor", 1.0, "the rotor would yield at overspeed"),
    ("demagnetisation_margin", 0.0, "the magnets would be demagnetised for good"),
)


def dangers(metrics: Mapping[str, float]) -> tuple[str, ...]:
    """Return what no limit of a study may excuse: a rotor that yields, magnets that give way."""
    return tuple(
        f"{name_text(name).lower()} {metric_text(name, metrics[name], 3)}: {what}"
        for name, least, what in _FATAL
        if metrics.get(name, least) < least
    )
