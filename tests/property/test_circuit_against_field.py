"""The circuit model stays within its bars of the field model, on few designs of the demo study.

`make accuracy` does the same on 200 designs and writes docs/accuracy.md.
"""

import numpy as np
import pytest

from optim.study.load import load
from optim.study.space import encode
from tests.accuracy.both import both_models
from tests.accuracy.designs import perturbed_designs
from tests.accuracy.differences import map_rows, metric_rows
from tests.commands import DEMO

COUNT = 8


@pytest.mark.slow
def test_bars_are_met_beside_the_baseline() -> None:
    study = load(DEMO)
    designs = perturbed_designs(
        study,
        [encode(study, study.baseline)],
        count=COUNT,
        generator=np.random.default_rng(3),
    )
    found = [both_models(d, study.duty, study.family) for d in designs]
    rows = [row for row in (*metric_rows(found), *map_rows(found)) if row.bars is not None]
    assert len(rows) == 6
    missed = {row.name: (row.median, row.high, row.bars) for row in rows if not row.is_met}
    assert not missed
