"""Studies of several rotor families: reading, designs, keys, judgement."""

from types import MappingProxyType

import numpy as np
import pytest

from models.evaluation import Evaluation
from models.nomenclature import family_metrics, family_parameters
from optim.errors import StudyError, VectorError
from optim.ranking.binding import what_binds
from optim.study.families import family_of, own_parameters, study_key, varied_parameters
from optim.study.identity import design_key, study_digest
from optim.study.judge import judge
from optim.study.load import loads
from optim.study.model import Study
from optim.study.space import FAMILY, contains, decode, encode
from tests.family_study import two_families
from tests.study_example import HARBOUR_VAN

STUDY = loads(two_families())


def test_each_family_brings_its_own_variables() -> None:
    assert STUDY.families == ("interior", "surface")
    interior, surface = STUDY.spaces
    names = [{v.name for v in s.variables} for s in (interior, surface)]
    assert "rib_width" in names[0] - names[1]
    assert "magnet_arc_ratio" in names[1] - names[0]
    assert "stack_length" in names[0] & names[1]
    for space in STUDY.spaces:
        table = {v.name for v in space.variables} | set(space.fixed)
        assert table == set(family_parameters(space.family))
    assert surface.fixed["shaft_ratio"] == 0.4
    assert interior.fixed["shaft_ratio"] != 0.4
    assert "shaft_ratio" not in STUDY.fixed
    assert {v.name for v in STUDY.variables} == names[0] | names[1]


@pytest.mark.parametrize("place", [0, 1])
def test_designs_keep_their_family(place: int) -> None:
    space = STUDY.spaces[place]
    table = {FAMILY: space.family, **space.baseline}
    vector = encode(STUDY, table)
    assert vector[0] == place
    assert decode(STUDY, vector) == table
    assert contains(STUDY, table)
    assert family_of(STUDY, table) == space.family
    assert FAMILY not in own_parameters(table)
    assert list(varied_parameters(STUDY, table)) == [v.name for v in space.variables]


def test_a_design_has_the_key_of_its_family_alone() -> None:
    """So that what a study of one family has found is not evaluated again."""
    space = STUDY.spaces[1]
    table = {FAMILY: space.family, **space.baseline}
    alone = design_key("surface", space.baseline, duty=STUDY.duty, model=STUDY.model)
    assert study_key(STUDY, table) == alone


def test_vectors_of_no_family_are_refused() -> None:
    for bad in ([], [2.0], [0.5, 1.0], [-1.0, 0.0]):
        with pytest.raises(VectorError):
            decode(STUDY, np.array(bad))
    with pytest.raises(VectorError, match="family"):
        encode(STUDY, STUDY.spaces[0].baseline)


def evaluation(family: str, **values: float) -> Evaluation:
    metrics = dict.fromkeys((n for n in family_metrics(family) if n != "cost"), 1e3)
    metrics |= {"winding_temperature": 100.0, "magnet_temperature": 100.0,
                "continuous_current_density": 1e6, "back_emf_line_peak": 100.0,
                "bridge_safety_factor": 2.0, "top_speed_power": 1e5}  # fmt: skip
    metrics |= values
    own = family_metrics(family)
    return Evaluation("ok", "circuit", MappingProxyType({k: v for k, v in metrics.items()
                                                          if k in own}))  # fmt: skip


def test_a_limit_on_what_a_family_lacks_does_not_bind_it() -> None:
    for space, missed in ((STUDY.spaces[0], "bridge_safety_factor"),
                          (STUDY.spaces[1], "magnet_contact_factor")):  # fmt: skip
        table = {FAMILY: space.family, **space.baseline}
        good = judge(STUDY, evaluation(space.family), table)
        assert good.is_feasible, [x for x in good.violations if x]
        worse = {"bridge_safety_factor": 9.0, "magnet_contact_factor": 0.5}
        bad = judge(STUDY, evaluation(space.family, **worse), table)
        limits = [limit.metric for limit, v in zip(STUDY.limits, bad.violations) if v > 0.0]
        assert limits == [missed]
        margins = what_binds(STUDY, dict(evaluation(space.family).metrics))
        assert len(margins) == len(STUDY.limits) - 1


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("magnet_arc_ratio = {", "rib_width = { low = 1, high = 2 }\nmagnet_arc_ratio = {",
         "families.surface.variables.rib_width", "family interior"),
        ("[families.surface.machine]", "[families.surfice.machine]", "families.surfice", "surface"),
        ("slots = 48", 'slots = 48\nfamily = "interior"', "machine.family", "families"),
        ("shaft_ratio = 0.4", "shaft_ratio = 4", "families.surface.machine.shaft_ratio", "0.75"),
        ('cost = "minimise"', 'v_angle = "minimise"', "objectives.v_angle", "family interior"),
        ("slots = 48", "slots = 48\nrib_width_mm = 1.2", "machine.rib_width_mm", "family interior"),
        ("slots = 48", "slotts = 48", "machine.slotts", "slots"),
    ],
)  # fmt: skip
def test_mistakes_are_named_at_their_place(old: str, new: str, place: str, words: str) -> None:
    text = two_families().replace(old, new, 1)
    with pytest.raises(StudyError) as caught:
        loads(text)
    found = [p for p in caught.value.problems if p.where == place]
    assert found, [p.where for p in caught.value.problems]
    assert words in str(found[0])
    assert len(found) == 1


def test_one_family_is_not_a_contest() -> None:
    head, _, tail = two_families().partition("[families.surface.machine]")
    with pytest.raises(StudyError, match="two or more"):
        loads(head + tail[tail.index("[objectives]") :])


def test_a_limit_that_no_family_has_is_refused() -> None:
    text = HARBOUR_VAN.replace("[limits]\n", '[limits]\nmagnet_contact_factor = ">= 1"\n')
    with pytest.raises(StudyError, match="magnet_contact_factor"):
        loads(text)


def test_studies_of_one_family_keep_their_shape() -> None:
    study: Study = loads(HARBOUR_VAN)
    assert study.spaces == ()
    assert study.families == ("interior",)
    assert FAMILY not in study.baseline
    assert study_digest(study) != study_digest(STUDY)
