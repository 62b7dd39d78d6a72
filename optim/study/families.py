"""Designs of a study with several rotor families: which family, which space, which metrics.

In such a study a vector begins with the place of its family, followed by that family's own vector,
and a parameter table carries the family's name under `FAMILY`. In a study of one family neither is
there.
"""

from collections.abc import Mapping

from models.duty import Duty
from models.evaluate import evaluate
from models.evaluation import Evaluation
from models.machine import ParameterValue
from models.nomenclature import METRICS
from optim.study.identity import design_key
from optim.study.model import FamilySpace, Study
from optim.study.space import FAMILY


def family_of(study: Study, parameters: Mapping[str, ParameterValue]) -> str:
    """Return the family of a design of a study."""
    return str(parameters.get(FAMILY, study.family))


def own_parameters(parameters: Mapping[str, ParameterValue]) -> dict[str, ParameterValue]:
    """Return a design's parameter table without the name of its family."""
    return {name: value for name, value in parameters.items() if name != FAMILY}


def family_spaces(study: Study) -> tuple[FamilySpace, ...]:
    """Return the spaces of a study, one for each family."""
    return study.spaces or (
        FamilySpace(study.family, study.fixed, study.variables, study.baseline),
    )


def study_key(study: Study, parameters: Mapping[str, ParameterValue], *, model: str = "") -> str:
    """Return the key of a design: the same as in a study of its family alone."""
    return design_key(
        family_of(study, parameters),
        own_parameters(parameters),
        duty=study.duty,
        model=model or study.model,
    )


def evaluate_design(
    parameters: Mapping[str, ParameterValue], *, duty: Duty, family: str, model: str
) -> Evaluation:
    """Put a design through a model; its own family, if it names one, goes before `family`."""
    own = str(parameters.get(FAMILY, family))
    return evaluate(own_parameters(parameters), duty, family=own, model=model)


def has_metric(family: str, metric: str) -> bool:
    """Return whether a family has a metric."""
    families = METRICS[metric].families
    return not families or family in families


def varied_parameters(
    study: Study, parameters: Mapping[str, ParameterValue]
) -> dict[str, ParameterValue]:
    """Return those parameters of a design that its family varies, in the study's order."""
    family = family_of(study, parameters)
    space = next((s for s in family_spaces(study) if s.family == family), None)
    return {v.name: parameters[v.name] for v in (space.variables if space else ())}
