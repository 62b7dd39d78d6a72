"""Two designs side by side under the same supply, cooling and prices."""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from models.machine import ParameterValue
from models.nomenclature import METRICS
from optim.ranking.front import header
from optim.service.designs import Assessment, Design, assess
from optim.store.contract import Store
from optim.study.model import Study


@dataclass(frozen=True, eq=False)
class Comparison:
    """Two designs at one duty.

    Attributes
    ----------
    study : Study
        Whose duty, limits and prices both are put under.
    first, second : Assessment
        The designs.
    differing : mapping of str to (value, value)
        Parameters in which they differ [SI].
    alone : mapping of str to (value or None, value or None)
        Parameters that only one of them has, because its family does [SI].
    """

    study: Study
    first: Assessment
    second: Assessment
    differing: Mapping[str, tuple[ParameterValue, ParameterValue]]
    alone: Mapping[str, tuple[ParameterValue | None, ParameterValue | None]]

    def table(self) -> pd.DataFrame:
        """Return the metrics in shown units, one row a metric."""
        names = [n for n in METRICS if n in self.first.metrics or n in self.second.metrics]
        columns = {
            a.design.label: [METRICS[n].shown(a.metrics[n]) if n in a.metrics else None
                             for n in names]
            for a in (self.first, self.second)
        }  # fmt: skip
        return pd.DataFrame(columns, index=[header(METRICS[n]) for n in names])


def compare(first: Design, second: Design, *, study: Study, store: Store | None) -> Comparison:
    """Put two designs under one study's duty, limits and prices.

    Parameters
    ----------
    first, second : Design
        The designs; each keeps its own model.
    study : Study
        Duty, limits and prices.
    store : Store or None
        Spares the evaluation of designs known under this duty.
    """
    return comparison(assess(first, study, store), assess(second, study, store), study=study)


def comparison(first: Assessment, second: Assessment, *, study: Study) -> Comparison:
    """Return what two designs that were assessed under one study have and differ in."""
    a, b = first.design.parameters, second.design.parameters
    return Comparison(
        study=study,
        first=first,
        second=second,
        differing={name: (a[name], b[name]) for name in a if name in b and a[name] != b[name]},
        alone={n: (a.get(n), b.get(n)) for n in (*a, *b) if (n in a) != (n in b)},
    )
