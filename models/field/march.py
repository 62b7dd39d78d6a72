"""Solving many operating points: each starts from neighbours in current or rotor position."""

from math import gcd, pi

import numpy as np
from numpy.typing import NDArray

from models.field.factor import Factor
from models.field.lanes import COUNT
from models.field.machine_field import FieldModel
from models.field.solve import TOLERANCE, Problem, Solution, at_angle, responses, solve_points

Array = NDArray[np.float64]


def averaging_positions(passings: int, least: int = 3) -> Array:
    """Return rotor positions over one phase belt that see the slots evenly [electrical rad].

    A count with no common factor with `Sector.passings` (the slots per belt where these are whole)
    puts the positions at different places of a slot pitch.
    """
    count = least
    while gcd(count, passings) != 1:
        count += 1
    return pi / 3.0 * np.arange(count) / count


def solve_grid(
    model: FieldModel,
    i_d: Array,
    i_q: Array,
    *,
    rotor_angles: Array,
    remanence: float,
    factor: Factor | None = None,
) -> tuple[Array, Array]:
    """Solve a grid of currents at several rotor positions.

    Parameters
    ----------
    model : FieldModel
        Equations.
    i_d, i_q : ndarray, shapes (n_d,) and (n_q,)
        Currents [A], ascending; the march starts at the last i_d and the first i_q.
    rotor_angles : ndarray, shape (n,)
        Electrical angles [rad].
    remanence : float
        [T].
    factor : Factor, optional
        Kept between calls.

    Returns
    -------
    potential : ndarray, shape (n, n_d, n_q, size + 1)
        Vector potential [Wb/m].
    per_remanence : ndarray, shape (n_d, n_q, size + 1)
        Its derivative by remanence at the first position [m].
    """
    system = model.system
    factor = factor or Factor(system.columns, system.rows, system.plan)
    out = solve_currents(
        model, i_d, i_q, rotor_angles=rotor_angles, remanence=remanence, factor=factor
    )
    first = out[0].reshape(-1, system.size + 1)
    magnets = model.source(0.0, 0.0, 0.0, 1.0)
    linear = at_angle(system, model.mechanical_angle(float(rotor_angles[0])))
    derivative = responses(
        system, [linear] * len(first), first, [magnets] * len(first), factor=factor
    )
    return out, derivative.reshape(out.shape[1:])


def solve_currents(
    model: FieldModel,
    i_d: Array,
    i_q: Array,
    *,
    rotor_angles: Array,
    remanence: float,
    guess: Array | None = None,
    factor: Factor | None = None,
) -> Array:
    """Solve a grid of currents at several rotor positions; return the potentials.

    Arguments as in `solve_grid`, and a first guess of the shape returned, (n, n_d, n_q, size + 1).
    Without it every point starts from its neighbours in current.
    """
    angles = rotor_angles.tolist()
    linear = [at_angle(model.system, model.mechanical_angle(angle)) for angle in angles]
    places = _grid_order(len(angles), len(i_d), len(i_q))
    number = {place: k for k, place in enumerate(places)}
    problems = []
    for n, k, q in places:
        source = model.source(float(i_d[k]), float(i_q[q]), angles[n], remanence)
        if guess is None:
            neighbours = tuple((number[n, *at], weight) for at, weight in _guess(i_d, k, q))
            problems.append(Problem(linear[n], source, neighbours=neighbours))
        else:
            problems.append(Problem(linear[n], source, guess[n, k, q]))
    out = np.zeros((len(angles), len(i_d), len(i_q), model.system.size + 1))
    for place, solution in zip(places, solve_points(model.system, problems, factor=factor)):
        out[place] = solution.potential
    return out


def _grid_order(positions: int, d_points: int, q_points: int) -> list[tuple[int, int, int]]:
    """Return (position, d, q) by distance from the last i_d and the first i_q: as they are ready.

    Points of one distance do not need each other, so that no lane has to wait.
    """
    every = [(n, k, q) for q in range(q_points) for k in range(d_points) for n in range(positions)]
    return sorted(every, key=lambda place: (place[2] - place[1], place[2], place[0]))


def _guess(i_d: Array, k: int, q: int) -> tuple[tuple[tuple[int, int], float], ...]:
    """Return currents (d, q) nearer to the start, and weights that extrapolate from them."""
    last = len(i_d) - 1
    if k == last:
        # teeth saturate between two steps of i_q: a straight line overshoots
        return (((k, q - 1), 1.0),) if q > 0 else ()
    if q > 0:
        # parallelogram: the step along i_d is much the same one row earlier
        return ((k + 1, q), 1.0), ((k, q - 1), 1.0), ((k + 1, q - 1), -1.0)
    if k == last - 1:
        return (((k + 1, q), 1.0),)
    ratio = float((i_d[k] - i_d[k + 1]) / (i_d[k + 1] - i_d[k + 2]))
    return ((k + 1, q), 1.0 + ratio), ((k + 2, q), -ratio)


def solve_positions(
    model: FieldModel,
    *,
    i_d: float,
    i_q: float,
    rotor_angles: Array,
    remanence: float,
    factor: Factor | None = None,
    tolerance: float = TOLERANCE,
) -> list[Solution]:
    """Solve one operating point at several rotor positions.

    Parameters
    ----------
    model : FieldModel
        Equations.
    i_d, i_q : float
        Currents [A].
    rotor_angles : ndarray
        Electrical angles [rad], ascending.
    remanence : float
        [T].
    factor : Factor, optional
        Kept between calls.
    tolerance : float
        See `solve_points`.

    Returns
    -------
    list of Solution

    Notes
    -----
    Four and more positions far apart first, then those half way between positions solved.
    """
    angles = rotor_angles.tolist()
    guesses = _halvings(angles)
    order = list(guesses)
    points = [
        Problem(
            at_angle(model.system, model.mechanical_angle(angles[n])),
            model.source(i_d, i_q, angles[n], remanence),
            neighbours=tuple((order.index(k), weight) for k, weight in guesses[n]),
        )
        for n in order
    ]
    found = solve_points(model.system, points, factor=factor, tolerance=tolerance)
    return [found[order.index(n)] for n in range(len(angles))]


def _halvings(angles: list[float]) -> dict[int, tuple[tuple[int, float], ...]]:
    """Return positions in the order to solve them, with neighbours and weights to start from."""
    count = len(angles)
    stride = 1
    while count >= 2 * COUNT * stride:
        stride *= 2
    out: dict[int, tuple[tuple[int, float], ...]] = dict.fromkeys(range(0, count, stride), ())
    while stride > 1:
        half = stride // 2
        for n in range(half, count, stride):
            # past the last one solved: a straight line through the last two
            other = n + half if n + half < count else n - half - stride
            near = n - half
            share = (angles[n] - angles[near]) / (angles[other] - angles[near])
            out[n] = ((near, 1.0 - share), (other, share))
        stride = half
    return out
