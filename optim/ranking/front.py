"""The ranked front of a study, as candidates and as a table."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.evaluation import Evaluation
from models.machine import ParameterValue
from models.nomenclature import METRICS, PARAMETERS, Metric, Parameter
from optim.ranking.archive import front_of
from optim.ranking.binding import Margin, what_binds
from optim.ranking.preferences import Method, rank
from optim.study.families import family_of
from optim.study.judge import judge, priced_metrics
from optim.study.model import Study

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Entry:
    """One evaluated design as the store knows it."""

    number: int
    parameters: Mapping[str, ParameterValue]
    evaluation: Evaluation


@dataclass(frozen=True, eq=False)
class Candidate:
    """A member of the front.

    Attributes
    ----------
    rank : int
        Place in the ranking, from 1.
    number : int
        Number of the design in its run.
    parameters : mapping
        Full parameter table [SI].
    metrics : mapping
        Metrics [SI] with the cost at the study's prices.
    objectives : ndarray, shape (n_objectives,)
        Minimised, SI.
    score : float
        Score of the ranking, lower is better.
    pseudo_weights : ndarray, shape (n_objectives,)
        Weights the design stands for.
    margins : tuple of Margin
        Margin to each limit, tightest first.
    """

    rank: int
    number: int
    parameters: Mapping[str, ParameterValue]
    metrics: Mapping[str, float]
    objectives: Array
    score: float
    pseudo_weights: Array
    margins: tuple[Margin, ...]


def ranked_front(
    study: Study, entries: Iterable[Entry], *, method: Method | None = None
) -> list[Candidate]:
    """Return the front of evaluated designs, best first.

    Everything is judged anew from the raw metrics, so entries of an earlier run under other
    limits, objectives or prices are welcome.

    Parameters
    ----------
    study : Study
        Objectives, limits, prices and preferences.
    entries : iterable of Entry
        Evaluated designs of any status.
    method : {"weights", "goals", "knee"} or None
        How to rank; see `optim.ranking.preferences.rank`.

    Returns
    -------
    list of Candidate
        Empty if nothing is feasible.
    """
    feasible: dict[int, tuple[Entry, Array]] = {}
    for entry in entries:
        judgement = judge(study, entry.evaluation, entry.parameters)
        if judgement.is_feasible and judgement.objectives is not None:
            feasible[entry.number] = (entry, judgement.objectives)
    numbers = front_of(feasible, [objectives for _, objectives in feasible.values()])
    members = [feasible[int(number)] for number in numbers]
    if not members:
        return []
    rows = np.array([objectives for _, objectives in members])
    ranking = rank(study, rows, numbers=numbers, method=method)
    out = []
    for place, k in enumerate(ranking.order, start=1):
        entry, objectives = members[k]
        metrics = priced_metrics(study, entry.evaluation, entry.parameters)
        out.append(
            Candidate(
                rank=place,
                number=entry.number,
                parameters=entry.parameters,
                metrics=metrics,
                objectives=objectives,
                score=float(ranking.scores[k]),
                pseudo_weights=ranking.pseudo_weights[k],
                margins=what_binds(study, metrics),
            )
        )
    return out


def front_table(study: Study, candidates: Sequence[Candidate]) -> pd.DataFrame:
    """Return candidates as a table in shown units.

    Parameters
    ----------
    study : Study
        Decides the columns.
    candidates : sequence of Candidate
        Rows, in this order.

    Returns
    -------
    pandas.DataFrame
        Index `candidate` (number of the design); columns `rank`, `score`, in a study of several
        families `family`, objectives, limited
        metrics, the tightest limit with its margin, and variables. Headers carry the unit:
        `peak_torque [N*m]`.
    """
    metrics = dict.fromkeys(
        [o.metric for o in study.objectives] + [limit.metric for limit in study.limits]
    )
    rows = []
    for c in candidates:
        row: dict[str, object] = {"rank": c.rank, "score": c.score}
        if study.spaces:
            row["family"] = family_of(study, c.parameters)
        row |= {header(METRICS[m]): METRICS[m].shown(c.metrics[m]) if m in c.metrics else None
                for m in metrics}  # fmt: skip
        if c.margins:
            row["tightest limit"] = c.margins[0].limit.metric
            row["margin [%]"] = 100.0 * c.margins[0].share
        row |= {header(PARAMETERS[v.name]): _shown(c.parameters[v.name], PARAMETERS[v.name])
                if v.name in c.parameters else None for v in study.variables}  # fmt: skip
        rows.append(row)
    columns = list(rows[0]) if rows else None
    index = pd.Index([c.number for c in candidates], name="candidate", dtype="int64")
    return pd.DataFrame(rows, index=index, columns=columns)


def header(entry: Metric | Parameter) -> str:
    """Return a column heading with its unit: `peak_torque [N*m]`."""
    return f"{entry.name} [{entry.shown_unit}]" if entry.shown_unit else entry.name


def _shown(value: ParameterValue, parameter: Parameter) -> ParameterValue:
    return value * parameter.shown_factor if isinstance(value, float) else value
