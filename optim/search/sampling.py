"""First designs of a search: given ones, then a space-filling set."""

from collections.abc import Sequence

import numpy as np
from scipy.stats import qmc

from optim.search.errors import SearchError
from optim.search.protocol import FloatArray
from optim.search.space import SearchSpace


def candidate_generator(seed: int, *key: int) -> np.random.Generator:
    """Random generator of one candidate, independent of what other candidates have drawn.

    Parameters
    ----------
    seed : int
        Seed of the run, >= 0.
    *key : int
        Number of the candidate, and further numbers for other streams.

    Returns
    -------
    numpy.random.Generator
        The same stream for the same arguments.
    """
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=key))


def space_filling(space: SearchSpace, count: int, *, seed: int) -> FloatArray:
    """Spread designs evenly over all variables with a scrambled Sobol sequence.

    Parameters
    ----------
    space : SearchSpace
        Variables; each value of a choice or of a narrow integer is met equally often.
    count : int
        Number of designs, >= 0.
    seed : int
        Seed of the run, >= 0.

    Returns
    -------
    ndarray of shape (count, n)
        Canonical vectors; designs may coincide when the space is small.

    Notes
    -----
    The sequence is drawn up to the next power of two, where it is balanced, and cut.

    References
    ----------
    A. B. Owen, "Scrambling Sobol' and Niederreiter-Xing points", J. Complexity 14(4), 466-489,
    1998, doi:10.1006/jcom.1998.0487.
    """
    if count <= 0:
        return np.empty((0, len(space)))
    # 2**32 keeps this stream apart from those of the candidates, whose key is their number.
    sequence = qmc.Sobol(len(space), scramble=True, rng=candidate_generator(seed, 2**32))
    quantiles = sequence.random_base2(max(count - 1, 0).bit_length())[:count]
    return space.from_quantile(np.asarray(quantiles, dtype=np.float64))


def initial_designs(
    space: SearchSpace, count: int, *, seed: int, seeds: Sequence[FloatArray] = ()
) -> FloatArray:
    """Given designs first, then space-filling ones, without repeats where possible.

    Parameters
    ----------
    space : SearchSpace
        Variables.
    count : int
        Number of designs wanted, >= 1. More given designs than that are all kept.
    seed : int
        Seed of the run, >= 0.
    seeds : sequence of ndarray of shape (n,)
        Designs to start from, such as the baseline or the front of an earlier run.

    Returns
    -------
    ndarray of shape (m, n)
        Canonical, different vectors; m < count only if the space holds fewer designs.

    Raises
    ------
    SearchError
        If a given design has the wrong length or a value that is not finite.
    """
    designs: dict[bytes, FloatArray] = {}
    for position, given in enumerate(seeds):
        vector = np.asarray(given, dtype=np.float64)
        if vector.shape != (len(space),) or not np.all(np.isfinite(vector)):
            raise SearchError(
                f"search: start design {position} has shape {vector.shape} with "
                f"{np.count_nonzero(~np.isfinite(vector))} values that are not finite; "
                f"{len(space)} finite values are needed, one for each variable."
            )
        canonical = space.canonical(vector)
        designs.setdefault(canonical.tobytes(), canonical)
    wanted = max(count, len(designs))
    # Coarse grids map several points of the sequence to one design, hence the larger draws.
    for factor in (1, 4, 16):
        for vector in space_filling(space, factor * count, seed=seed):
            if len(designs) >= wanted:
                break
            designs.setdefault(vector.tobytes(), vector)
    return np.array(list(designs.values()))
