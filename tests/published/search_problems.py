"""Test problems with known fronts, and the loop that runs a searcher on them with a fixed lag.

ZDT: E. Zitzler, K. Deb, L. Thiele, Evol. Comput. 8(2), 173-195, 2000,
doi:10.1162/106365600568202. DTLZ2: K. Deb, L. Thiele, M. Laumanns, E. Zitzler, "Scalable test
problems for evolutionary multiobjective optimization", 2005, doi:10.1007/1-84628-137-7_6.
BNH: T. T. Binh, U. Korn, MENDEL 1997. CONSTR: K. Deb, "Multi-Objective Optimization Using
Evolutionary Algorithms", Wiley 2001, section 8. TNK: M. Tanaka et al., IEEE SMC 1995.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optim.search.protocol import Searcher
from optim.study.model import Variable

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Told:
    """Stand-in for a judged evaluation."""

    objectives: Array | None
    violations: Array | None
    is_feasible: bool
    status: str = "ok"


@dataclass(frozen=True)
class Problem:
    """A function with its bounds: `evaluate` gives objectives and constraints (<= 0 holds)."""

    name: str
    variables: tuple[Variable, ...]
    n_objectives: int
    n_limits: int
    evaluate: Callable[[Array], tuple[list[float], list[float]]]
    reference: tuple[float, ...]
    exact_hypervolume: float


def real(count: int, low: float = 0.0, high: float = 1.0) -> tuple[Variable, ...]:
    return tuple(Variable(f"x{i}", "real", low, high) for i in range(count))


def zdt1(x: Array) -> tuple[list[float], list[float]]:
    g = 1.0 + 9.0 * float(np.mean(x[1:]))
    return [float(x[0]), g * (1.0 - float(np.sqrt(x[0] / g)))], []


def zdt2(x: Array) -> tuple[list[float], list[float]]:
    g = 1.0 + 9.0 * float(np.mean(x[1:]))
    return [float(x[0]), g * (1.0 - float(x[0] / g) ** 2)], []


def dtlz2(x: Array) -> tuple[list[float], list[float]]:
    g = float(np.sum((x[2:] - 0.5) ** 2))
    a, b = 0.5 * np.pi * x[:2]
    radius = 1.0 + g
    return [
        radius * float(np.cos(a) * np.cos(b)),
        radius * float(np.cos(a) * np.sin(b)),
        radius * float(np.sin(a)),
    ], []


def bnh(x: Array) -> tuple[list[float], list[float]]:
    u, v = map(float, x)
    return (
        [4.0 * u**2 + 4.0 * v**2, (u - 5.0) ** 2 + (v - 5.0) ** 2],
        [((u - 5.0) ** 2 + v**2 - 25.0) / 25.0, (7.7 - (u - 8.0) ** 2 - (v + 3.0) ** 2) / 7.7],
    )


def constr(x: Array) -> tuple[list[float], list[float]]:
    u, v = map(float, x)
    return [u, (1.0 + v) / u], [(6.0 - v - 9.0 * u) / 6.0, 1.0 + v - 9.0 * u]


def tnk(x: Array) -> tuple[list[float], list[float]]:
    u, v = map(float, x)
    wave = 0.1 * float(np.cos(16.0 * np.arctan2(u, v)))
    return [u, v], [1.0 + wave - u**2 - v**2, ((u - 0.5) ** 2 + (v - 0.5) ** 2 - 0.5) / 0.5]


def _pair(first: tuple[float, float], second: tuple[float, float]) -> tuple[Variable, ...]:
    return Variable("x0", "real", *first), Variable("x1", "real", *second)


ZDT1 = Problem("ZDT1", real(30), 2, 0, zdt1, (1.1, 1.1), 0.8766667)
ZDT2 = Problem("ZDT2", real(30), 2, 0, zdt2, (1.1, 1.1), 0.5433333)
DTLZ2 = Problem("DTLZ2", real(12), 3, 0, dtlz2, (1.1, 1.1, 1.1), 0.807401)
BNH = Problem("BNH", _pair((0.0, 5.0), (0.0, 3.0)), 2, 2, bnh, (140.0, 50.0), 5285.3333)
CONSTR = Problem("CONSTR", _pair((0.1, 1.0), (0.0, 5.0)), 2, 2, constr, (1.1, 10.0), 5.332669)
TNK = Problem("TNK", _pair((0.0, np.pi), (0.0, np.pi)), 2, 2, tnk, (1.2, 1.2), 0.6547)


def told(problem: Problem, vector: Array) -> Told:
    objectives, constraints = problem.evaluate(vector)
    violations = np.maximum(np.array(constraints, dtype=np.float64), 0.0)
    return Told(np.array(objectives), violations, not np.any(violations > 0.0))


def run(
    searcher: Searcher, problem: Problem, evaluations: int, *, lag: int = 100
) -> tuple[Array, list[Told]]:
    """Ask and tell with a fixed lag; vectors and outcomes in the order asked."""
    vectors: list[Array] = []
    outcomes: list[Told] = []
    for number in range(evaluations):
        if number >= lag:
            late = number - lag
            searcher.tell(late, vectors[late], outcomes[late])
        vectors.append(searcher.ask(number))
        outcomes.append(told(problem, vectors[-1]))
    return np.array(vectors), outcomes


def feasible_objectives(outcomes: list[Told]) -> Array:
    return np.array([o.objectives for o in outcomes if o.is_feasible and o.objectives is not None])
