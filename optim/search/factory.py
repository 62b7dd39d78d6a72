"""Make the searcher that a study asks for."""

from collections.abc import Sequence
from dataclasses import replace

from optim.search.contest import ContestSearcher
from optim.search.errors import SearchError
from optim.search.protocol import FloatArray, Searcher
from optim.search.space import search_space
from optim.search.steady import SteadySearcher
from optim.search.survival import HypervolumeSurvival, Survival
from optim.study.model import SearchSettings, Variable

ALGORITHMS = ("nsga2", "sms-emoa", "nsga3", "tpe")

# In six objectives a result costs 15 ms of exact hypervolume, in four 1 ms (measured).
_MOST_HYPERVOLUME_OBJECTIVES = 5

# Space-filling designs before the tree estimator; it gains from every result after that.
_TREE_START = 20


def default_algorithm(n_objectives: int) -> str:
    """Name of the algorithm for a number of objectives when the study names none.

    Parameters
    ----------
    n_objectives : int
        Number of objectives, >= 1.

    Returns
    -------
    str
        `nsga2` for one or two, `sms-emoa` for three to five, `nsga3` above.
    """
    if n_objectives <= 2:
        return "nsga2"
    return "sms-emoa" if n_objectives <= _MOST_HYPERVOLUME_OBJECTIVES else "nsga3"


def make_searcher(
    variables: Sequence[Variable],
    n_objectives: int,
    *,
    n_limits: int,
    settings: SearchSettings,
    seeds: Sequence[FloatArray] = (),
) -> Searcher:
    """Make a fresh searcher, ready for `ask(0)`.

    Parameters
    ----------
    variables : sequence of Variable
        Variables of the study, in the order of the vectors.
    n_objectives, n_limits : int
        Lengths of the objectives and violations that will be told.
    settings : SearchSettings
        Algorithm, population, lag and seed. The search starts with space-filling designs, as
        many as the population or the lag, whichever is larger: before that nothing is known.
    seeds : sequence of ndarray of shape (n_variables,), optional
        Designs that come first: the baseline, the front of an earlier run.

    Returns
    -------
    Searcher
        Deterministic in its sequence of calls.

    Raises
    ------
    SearchError
        For an unknown algorithm, or numbers it does not allow.
    """
    name = settings.algorithm or default_algorithm(n_objectives)
    if name not in ALGORITHMS or (name == "nsga3" and n_objectives < 2) or n_objectives < 1:
        raise SearchError(
            f"[search] algorithm: {name!r} was given for {n_objectives} objectives; allowed: "
            f"{', '.join(ALGORITHMS)}, with nsga3 from two objectives on. Choose one of these, "
            "or leave it out."
        )
    space = search_space(variables)
    initial = max(settings.population, settings.lag)
    if name == "tpe":
        # Imported here because it takes long and the others do without.
        from optim.search.tree_estimator import TreeEstimatorSearcher

        return TreeEstimatorSearcher(
            space, n_objectives, n_limits, initial=_TREE_START, seed=settings.seed, seeds=seeds
        )
    return SteadySearcher(
        space,
        n_objectives,
        n_limits,
        survival=_survival(name, n_objectives, settings.population),
        population=settings.population,
        initial=initial,
        seed=settings.seed,
        seeds=seeds,
    )


def make_contest(
    spaces: Sequence[Sequence[Variable]],
    n_objectives: int,
    *,
    n_limits: int,
    settings: SearchSettings,
    seeds: Sequence[FloatArray] = (),
) -> Searcher:
    """Make a fresh searcher over several families.

    Parameters
    ----------
    spaces : sequence of sequences of Variable
        Variables of each family, in the study's order.
    n_objectives, n_limits, settings
        As for `make_searcher`; population and start are divided evenly among the families, each
        with its own random numbers.
    seeds : sequence of ndarray, optional
        Designs that come first, each beginning with the place of its family.
    """
    count = len(spaces)
    share = max(4, -(-settings.population // count))
    lag = max(1, -(-settings.lag // count))
    searchers = [
        make_searcher(
            variables,
            n_objectives,
            n_limits=n_limits,
            settings=replace(settings, population=share, lag=lag, seed=settings.seed + place),
            seeds=[seed[1:] for seed in seeds if int(seed[0]) == place],
        )
        for place, variables in enumerate(spaces)
    ]
    return ContestSearcher(searchers, n_objectives, trial=max(share, lag))


def _survival(name: str, n_objectives: int, population: int) -> Survival:
    """Selection of a named genetic algorithm."""
    from optim.search.pymoo_survival import CrowdingSurvival, ReferenceSurvival

    if name == "nsga2":
        return CrowdingSurvival()
    if name == "nsga3":
        return ReferenceSurvival(n_objectives, population)
    return HypervolumeSurvival()
