"""Waveforms fine enough for slot harmonics, from a coarse subset of a map's currents.

A few rotor positions average linkages well but fold the slots' harmonics onto lower ones: with
three, deep in field weakening, the stator's iron loss comes out 11 to 18 % low, and the magnets'
ripple at 6 f cannot be told from that of the slots. The positions in between are therefore solved
at a subset of the map's currents. What these add to the trigonometric
interpolation of the others is smooth over the currents (in a linear machine it is linear) and is
carried to the other currents by polynomials.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class CurrentSubset:
    """Some currents of a map.

    Attributes
    ----------
    rows, columns : tuple of int
        The currents picked, i_d and i_q (first and last always).
    to_all : ndarray, shape (n_d * n_q, rows * columns)
        Products of Lagrange's polynomials: from values at the picked currents to those at all.
    shape : tuple of 2 int
        (n_d, n_q).
    """

    rows: tuple[int, ...]
    columns: tuple[int, ...]
    to_all: Array
    shape: tuple[int, int]

    def pick(self, values: Array, axis: int = 0) -> Array:
        """Pick from values whose i_d lies along `axis` and i_q along the next."""
        return np.asarray(
            np.take(np.take(values, self.rows, axis), self.columns, axis + 1), dtype=values.dtype
        )

    def carry(self, values: NDArray[Any]) -> NDArray[Any]:
        """Carry values of shape (rows, columns, ...) to all currents, (n_d, n_q, ...)."""
        rest = values.shape[2:]
        picked = values.reshape(len(self.rows) * len(self.columns), -1)
        return np.asarray(self.to_all @ picked).reshape(*self.shape, *rest)


def current_subset(i_d: Array, i_q: Array, counts: tuple[int, int]) -> CurrentSubset:
    """Pick currents of each axis evenly by number, rounded towards no current.

    Parameters
    ----------
    i_d, i_q : ndarray, shapes (n_d,), (n_q,)
        Ascending, the first up to 0, the second from 0 [A].
    counts : tuple of 2 int
        How many of each.

    Notes
    -----
    The rotor's loss grows with the square of small currents and slower later. With three currents
    of each axis, evenly spaced and less than half of all, what it came to over a cycle, which is
    spent at small currents, was 0.95 to 1.9 times that of all currents on six machines; with three
    i_d and four i_q of a map that stands closer near zero it is 0.96 to 1.11 times.
    """
    return _subset(tuple(i_d.tolist()), tuple(i_q.tolist()), counts)


@lru_cache(maxsize=32)
def _subset(
    i_d: tuple[float, ...], i_q: tuple[float, ...], counts: tuple[int, int]
) -> CurrentSubset:
    n_d, n_q = (
        [(len(axis) - 1) * k // (count - 1) for k in range(count)]
        for axis, count in zip((i_d, i_q), counts)
    )
    rows, columns = tuple(len(i_d) - 1 - k for k in reversed(n_d)), tuple(n_q)
    to_all: Array = np.kron(_lagrange(i_d, rows), _lagrange(i_q, columns)).astype(np.float64)
    to_all.setflags(write=False)
    return CurrentSubset(rows, columns, to_all, (len(i_d), len(i_q)))


def refined(subset: CurrentSubset, waves: Array, fine_waves: Array) -> Array:
    """Return waveforms of fine sampling for every current of a map.

    Parameters
    ----------
    subset : CurrentSubset
    waves : ndarray, shape (n_d, n_q, cells, samples)
        Over one electrical period.
    fine_waves : ndarray, shape (rows, columns, cells, parts * samples)
        The same at the subset, the samples of `waves` among them.

    Returns
    -------
    ndarray, shape (n_d, n_q, cells, parts * samples)
        The samples of `waves` come back as they are.
    """
    samples = waves.shape[-1]
    widen = interpolant(samples, fine_waves.shape[-1] // samples)
    rest = fine_waves - subset.pick(waves) @ widen
    return np.asarray(waves @ widen + subset.carry(rest))


def ripples(
    subset: CurrentSubset, field: Array, fine_field: Array, *, per_belt: int, weights: Array
) -> tuple[Array, Array]:
    """Return the magnets' ripple at six times electrical frequency and at the slots'.

    Parameters
    ----------
    subset : CurrentSubset
    field : ndarray, shape (positions, n_d, n_q, places)
        Flux density along the magnetisation at positions over one phase belt [T].
    fine_field : ndarray, shape (fine positions, rows, columns, places)
        The same at the subset.
    per_belt : int
        Slots per belt: the slots' harmonic is that of the belt times this.
    weights : ndarray, shape (places,)
        Areas or volumes of the places.

    Returns
    -------
    belt, slot : ndarray, shape (n_d, n_q)
        Root mean square over the places of the harmonic's amplitude [T]. The slots' is zero with
        one slot per belt, where both are one.
    """
    share = weights / weights.sum()
    folded = _harmonic(field, 1)
    # Few positions fold higher harmonics into the first: what they add is carried over.
    belt = folded - subset.carry(_pick(subset, folded) - _harmonic(fine_field, 1))
    first = np.sqrt(np.abs(belt) ** 2 @ share)
    if per_belt == 1:
        return first, np.zeros_like(first)
    slot = subset.carry(_harmonic(fine_field, per_belt))
    return first, np.asarray(np.sqrt(np.abs(slot) ** 2 @ share))


def _harmonic(field: Array, order: int) -> ComplexArray:
    n = field.shape[0]
    turn = np.exp(-2j * pi * order * np.arange(n) / n)
    return np.asarray(2.0 / n * np.tensordot(turn, field, axes=(0, 0)))


def _pick(subset: CurrentSubset, values: ComplexArray) -> ComplexArray:
    return values[list(subset.rows)][:, list(subset.columns)]


def _lagrange(axis: tuple[float, ...], picked: tuple[int, ...]) -> Array:
    x = np.array(axis)
    nodes = x[list(picked)]
    matrix = np.ones((x.size, nodes.size))
    for j in range(nodes.size):
        for k in range(nodes.size):
            if k != j:
                matrix[:, j] *= (x - nodes[k]) / (nodes[j] - nodes[k])
    return matrix


@lru_cache(maxsize=16)
def interpolant(samples: int, parts: int) -> Array:
    """Return the matrix from samples of a period to `parts` times as many (trigonometric)."""
    spectrum = np.fft.fft(np.eye(samples), axis=1) / samples
    orders = np.fft.fftfreq(samples, 1.0 / samples)
    angle = 2.0 * pi * np.arange(samples * parts) / (samples * parts)
    basis = np.exp(1j * np.outer(orders, angle))
    if samples % 2 == 0:
        # The samples tell only the cosine of the harmonic at half their number.
        basis[samples // 2] = np.cos(0.5 * samples * angle)
    matrix = np.ascontiguousarray((spectrum @ basis).real)
    matrix.setflags(write=False)
    return matrix
