"""Any vector has one canonical form; any text is a study or a list of mistakes."""

import string

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optim.errors import StudyError
from optim.study.change import with_changes
from optim.study.identity import design_key, study_digest
from optim.study.load import loads
from optim.study.model import Study
from optim.study.space import bounds, canonical, decode, encode
from optim.study.units import UNITS, UnitTextError, from_text
from optim.study.write import dumps
from tests.study_example import HARBOUR_VAN

STUDY = loads(HARBOUR_VAN)
COUNT = len(STUDY.variables)
LOW, HIGH = bounds(STUDY)
SHARES = st.lists(st.floats(-0.2, 1.2), min_size=COUNT, max_size=COUNT)
VECTORS = SHARES.map(lambda shares: LOW + np.array(shares) * (HIGH - LOW))


@given(VECTORS)
def test_canonical_form_is_a_fixed_point(vector) -> None:
    row = canonical(STUDY, vector)
    assert np.array_equal(canonical(STUDY, row), row)
    assert np.all((row >= LOW) & (row <= HIGH))


@given(VECTORS)
def test_vectors_and_tables_are_the_same_designs(vector) -> None:
    table = decode(STUDY, vector)
    row = encode(STUDY, table)
    assert row.tobytes() == canonical(STUDY, vector).tobytes()
    assert decode(STUDY, row) == table


@given(VECTORS, VECTORS)
def test_equal_keys_mean_equal_vectors(one, two) -> None:
    def key(vector) -> str:
        return design_key(STUDY.family, decode(STUDY, vector), duty=STUDY.duty, model=STUDY.model)

    same = np.array_equal(canonical(STUDY, one), canonical(STUDY, two))
    assert (key(one) == key(two)) == same
    nudged = one + 1e-12 * (HIGH - LOW) * [v.kind != "real" for v in STUDY.variables]
    if np.array_equal(canonical(STUDY, nudged), canonical(STUDY, one)):
        assert key(nudged) == key(one)


def read(text: str) -> Study | None:
    try:
        return loads(text)
    except StudyError as error:
        problems = error.problems
    assert problems
    assert all(p.where and p.given and p.allowed for p in problems)
    assert all(len(p.given) < 400 for p in problems)
    return None


@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    assert read(text) is None


VALUES = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(10**30), 10**30),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(max_size=20),
        st.sampled_from(["350 V", ">= 3 kg", "9**9**9 kg", "minimise", "wltc_3b", "1e400 V"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=5,
)
LINES = [
    (k, line) for k, line in enumerate(HARBOUR_VAN.splitlines()) if "=" in line and line[0] != "#"
]


@given(st.sampled_from(LINES), VALUES)
@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_any_value_in_any_place_is_answered(line, value) -> None:
    number, text = line
    lines = HARBOUR_VAN.splitlines()
    lines[number] = text.split("=")[0] + "= " + dumps({"x": [value]})[5:-2]
    read("\n".join(lines))


@given(
    st.dictionaries(
        st.text(string.printable, max_size=10),
        st.dictionaries(st.text(max_size=10), VALUES, max_size=4),
        max_size=4,
    )
)
@settings(deadline=None)
def test_written_text_reads_back(data) -> None:
    import tomllib

    assert tomllib.loads(dumps(data)) == data


@given(st.text(max_size=40), st.sampled_from(sorted(UNITS)))
@settings(deadline=None)
def test_any_text_is_a_quantity_or_none(text: str, unit: str) -> None:
    try:
        value = from_text(text, UNITS[unit])
    except UnitTextError:
        return
    assert np.isfinite(value)


@given(st.floats(0.01, 5.9), st.floats(80.0, 98.0))
@settings(deadline=None, max_examples=40)
def test_changed_study_reads_back_bit_for_bit(mass: float, efficiency: float) -> None:
    new = with_changes(
        STUDY, limits=[f"magnet_mass <= {mass!r} kg", f"cycle_efficiency >= {efficiency!r} %"]
    )
    assert study_digest(loads(new.text)) == study_digest(new)
