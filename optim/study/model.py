"""A study as frozen data, in SI units. `optim.study.load` makes it from a file."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from models.duty import Duty
from models.machine import ParameterValue

Relation = Literal["<=", ">="]


@dataclass(frozen=True)
class Variable:
    """A machine parameter that the search may change.

    Attributes
    ----------
    name : str
        Name in `models.nomenclature.PARAMETERS`.
    kind : {"real", "integer", "choice"}
        A choice picks from `choices`, whose values may be words or numbers.
    low, high : float
        Bounds in SI (real and integer); for a choice 0 and len(choices) - 1.
    step : float
        Spacing of an integer variable, in SI; 0 for real. A real parameter on a grid (magnet
        thickness in steps of 0.1 mm) counts as an integer variable too: values low + k step.
    choices : tuple
        Values of a choice.
    """

    name: str
    kind: Literal["real", "integer", "choice"]
    low: float
    high: float
    step: float = 0.0
    choices: tuple[ParameterValue, ...] = ()


@dataclass(frozen=True)
class FamilySpace:
    """What one rotor family may vary in a study of several.

    Attributes
    ----------
    family : str
    fixed : mapping
        Its parameters that are not variables, SI, complete with defaults.
    variables : tuple of Variable
    baseline : mapping
        A full parameter table of the family.
    """

    family: str
    fixed: Mapping[str, ParameterValue]
    variables: tuple[Variable, ...]
    baseline: Mapping[str, ParameterValue]


@dataclass(frozen=True)
class Objective:
    """A metric to minimise or maximise."""

    metric: str
    sense: Literal["minimise", "maximise"]


@dataclass(frozen=True)
class Limit:
    """An inequality on a metric, bound in SI."""

    metric: str
    relation: Relation
    bound: float


@dataclass(frozen=True)
class SearchSettings:
    """How to search.

    Attributes
    ----------
    algorithm : str
        `sms-emoa`, `nsga2`, `nsga3` or `tpe`; empty picks by number of objectives.
    population, budget, seed : int
        Population size, evaluations in all, random seed.
    lag : int
        Ordered dispatch: candidate n is asked once all results up to n - lag are told.
    batch : int
        Candidates sent to a worker together (0: chosen from measured time).
    wall_time : float
        Longest time [s]; 0 for none.
    stall_evaluations : int
        Stop when hypervolume has not grown by 0.1 % over so many evaluations; 0 for never.
    evaluation_time_limit : float
        Longest time of one evaluation [s]; past it the design is `failed`.
    is_ordered : bool
        Ordered dispatch (reproducible) or free dispatch with a recorded order.
    """

    algorithm: str = ""
    population: int = 100
    budget: int = 3000
    seed: int = 1
    lag: int = 100
    batch: int = 0
    wall_time: float = 0.0
    stall_evaluations: int = 0
    evaluation_time_limit: float = 60.0
    is_ordered: bool = True


@dataclass(frozen=True)
class Preferences:
    """How to rank the front.

    Attributes
    ----------
    weights : mapping of str to float
        Importance by objective metric; missing ones count 1 if no weight is given, else 0.
    goals : mapping of str to float
        Value that is good enough, SI.
    ranges : mapping of str to (low, high)
        Fixed range that an objective is normalised on, SI; where missing it is taken from the
        metric's limits and plausible range.
    """

    weights: Mapping[str, float]
    goals: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Study:
    """Everything a run needs.

    Attributes
    ----------
    name, title : str
        Short name (letters, digits, hyphens) and one line for people.
    family : str
        Rotor family; of a study of several, their names joined with `+`, which is no family: the
        family of a design is `optim.study.families.family_of`.
    fixed : mapping
        Every machine parameter that is not a variable, SI, complete with defaults.
    baseline : mapping
        A full parameter table: `fixed` plus a start value of each variable. In a study of several
        families every parameter table also names its family.
    variables, objectives, limits : tuples
        See their classes.
    duty : Duty
        What the machine must do.
    model : str
        `circuit`, `field` or `surrogate`.
    prices : mapping of str to float
        Price list: key of `models.cost` to price in EUR per unit.
    search, preferences : objects
        See their classes.
    text : str
        The study file as given (kept with the run).
    spaces : tuple of FamilySpace
        Of a study of several families; empty for one. Then `variables` holds those of all, each
        name once, and `fixed` what is fixed alike in all.
    """

    name: str
    title: str
    family: str
    fixed: Mapping[str, ParameterValue]
    baseline: Mapping[str, ParameterValue]
    variables: tuple[Variable, ...]
    objectives: tuple[Objective, ...]
    limits: tuple[Limit, ...]
    duty: Duty
    model: str
    prices: Mapping[str, float]
    search: SearchSettings
    preferences: Preferences
    text: str
    spaces: tuple[FamilySpace, ...] = ()

    @property
    def families(self) -> tuple[str, ...]:
        """Rotor families, in the study's order."""
        return tuple(space.family for space in self.spaces) or (self.family,)
