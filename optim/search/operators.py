"""Variation of mixed variables: recombine two parents and mutate the child.

Real and wide integer variables use simulated binary crossover and polynomial mutation, both
bounded; choices and narrow integers are taken from either parent and reset at random.

References
----------
K. Deb, R. B. Agrawal, "Simulated binary crossover for continuous search space", Complex Systems
9(2), 115-148, 1995. K. Deb, S. Agrawal, "A niched-penalty approach for constraint handling in
genetic algorithms", Artificial Neural Nets and Genetic Algorithms, 235-243, Springer 1999
(bounded polynomial mutation).
"""

from dataclasses import dataclass

import numpy as np

from optim.search.protocol import FloatArray
from optim.search.space import SearchSpace


@dataclass(frozen=True)
class Variation:
    """How strongly children differ from their parents.

    Attributes
    ----------
    crossover_probability : float
        Share of children made from two parents, 0..1.
    crossover_index, mutation_index : float
        Distribution indices, > 0; larger keeps children nearer to the parents.
    mutations : float
        Mean number of mutated variables, > 0.
    """

    crossover_probability: float = 0.9
    crossover_index: float = 15.0
    mutation_index: float = 20.0
    mutations: float = 1.0


def make_child(
    space: SearchSpace,
    first: FloatArray,
    second: FloatArray,
    *,
    generator: np.random.Generator,
    variation: Variation,
) -> FloatArray:
    """One child of two parents.

    Parameters
    ----------
    space : SearchSpace
        Variables.
    first, second : ndarray of shape (n,)
        Canonical parents.
    generator : numpy.random.Generator
        Source of randomness of this candidate.
    variation : Variation
        Strengths.

    Returns
    -------
    ndarray of shape (n,)
        Canonical child; variables that were not varied keep the parent's bits.
    """
    child = first.copy()
    if generator.random() < variation.crossover_probability:
        child = _crossover(space, first, second, generator, variation.crossover_index)
    rate = min(1.0, variation.mutations / len(space))
    return _mutate(space, child, generator, rate, variation.mutation_index)


def _crossover(
    space: SearchSpace,
    first: FloatArray,
    second: FloatArray,
    generator: np.random.Generator,
    index: float,
) -> FloatArray:
    """Recombine: along a line where values are ordered, from either parent elsewhere."""
    count = len(space)
    is_second, is_crossed, draw, side = generator.random((4, count))
    # Ordered variables that are not crossed stay the first parent's; swapping them at random
    # as well would break up groups of values that work together.
    child = np.where(~space.is_ordered & (is_second < 0.5), second, first)
    position = space.to_unit(np.stack((first, second)))
    low, high = position.min(axis=0), position.max(axis=0)
    gap = high - low
    moves = space.is_ordered & (is_crossed < 0.5) & (gap > 1e-12)
    if not moves.any():
        return child
    gap = np.where(moves, gap, 1.0)
    is_lower = side < 0.5
    margin = np.where(is_lower, low, 1.0 - high)
    limit = 2.0 - (1.0 + 2.0 * margin / gap) ** -(index + 1.0)
    product = draw * limit
    spread = np.where(product <= 1.0, product, 1.0 / np.maximum(2.0 - product, 1e-300))
    reach = 0.5 * gap * spread ** (1.0 / (index + 1.0))
    centre = 0.5 * (low + high)
    value = np.clip(np.where(is_lower, centre - reach, centre + reach), 0.0, 1.0)
    return np.where(moves, space.from_unit(value), child)


def _mutate(
    space: SearchSpace,
    child: FloatArray,
    generator: np.random.Generator,
    rate: float,
    index: float,
) -> FloatArray:
    """Mutate: polynomial where values are ordered, random reset elsewhere."""
    is_mutated, draw = generator.random((2, len(space)))
    moves = is_mutated < rate
    if not moves.any():
        return child
    position = np.clip(space.to_unit(child), 0.0, 1.0)
    is_down = draw < 0.5
    power = 1.0 / (index + 1.0)
    # Each formula is evaluated only on its half of the draw: beyond, its base turns negative.
    down, up = np.minimum(draw, 0.5), np.maximum(draw, 0.5)
    below = (2.0 * down + (1.0 - 2.0 * down) * (1.0 - position) ** (index + 1.0)) ** power - 1.0
    above = 1.0 - (2.0 * (1.0 - up) + (2.0 * up - 1.0) * position ** (index + 1.0)) ** power
    step = np.where(is_down, below, above)
    moved = space.from_unit(np.clip(position + step, 0.0, 1.0))
    reset = space.from_quantile(draw)
    return np.where(moves, np.where(space.is_ordered, moved, reset), child)
