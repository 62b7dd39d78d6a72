"""How fine the mesh is where: element size from local thickness, graded away from fine places."""

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from models.field.boundary import Graph

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

NO_PLACES: Array = np.zeros((0, 2))
LARGEST_TURN = np.pi / 4.0
"""Largest angle that one side of an element turns along an arc [rad]."""


@dataclass(frozen=True)
class Resolution:
    """Mesh resolution. The defaults keep flux within 0.5 % and mean torque within 0.3 %.

    Attributes
    ----------
    segments_per_pole : int
        Elements along the air gap per pole.
    largest : float
        Largest element over the gap segment length.
    growth : float
        Growth of element size with distance.
    thickness_share : float
        Element size over local thickness of a part (bridge, tooth, magnet).
    harmonics : int
        Harmonics of the air-gap coupling (odd multiples of the pole pairs).
    """

    segments_per_pole: int = 48
    largest: float = 4.0
    growth: float = 0.45
    thickness_share: float = 1.1
    harmonics: int = 30


OVER_POLES = Resolution(segments_per_pole=24, largest=3.0)
"""Resolution of a sector of several poles: there are few slots to a pole, so that 24 segments a
pole are finer against a slot pitch than 48 are against six slots a pole."""


@dataclass(frozen=True, eq=False)
class SizeField:
    """Element size as the least of sources that grow with distance.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Source points [m].
    sizes : ndarray, shape (n,)
        Element size there [m].
    growth : float
        Growth with distance.
    largest : float
        Upper limit [m].
    """

    points: Array
    sizes: Array
    growth: float
    largest: float

    def at(self, points: Array) -> Array:
        """Return the element size at points of shape (n, 2) [m]."""
        return _size_at(
            np.ascontiguousarray(points), self.points, self.sizes, self.growth, self.largest
        )


def size_field(
    graph: Graph, *, largest: float, growth: float, thickness_share: float, limits: Array,
    places: Array = NO_PLACES, place_size: float = 0.0,
) -> SizeField:  # fmt: skip
    """Return the size field of a graph from the distance between edges that do not touch.

    Parameters
    ----------
    graph : Graph
        The boundary.
    largest, growth, thickness_share : float
        See `Resolution`; `largest` in metres here.
    limits : ndarray, shape (m,)
        Upper limit of the size on each edge [m].
    places : ndarray, shape (n, 2)
        Where elements are to be no larger than `place_size` [m].
    place_size : float
        [m].

    Returns
    -------
    SizeField
    """
    points, edge_of = [], []
    fractions = {}
    for k in range(len(graph.edges)):
        pieces = int(np.clip(np.ceil(2.0 * graph.length(k) / largest), 4, 40))
        if pieces not in fractions:
            fractions[pieces] = np.linspace(0.0, 1.0, pieces + 1)
        points.append(graph.points_on(k, fractions[pieces]))
        edge_of.append(np.full(pieces + 1, k))
    samples = np.concatenate(points)
    owner = np.concatenate(edge_of)
    lengths = np.array([graph.length(k) for k in range(len(graph.edges))])
    thickness = _clearance(samples, owner, graph.edges)
    sizes = np.minimum(thickness_share * thickness, np.minimum(lengths, limits)[owner])
    sizes = np.append(np.minimum(sizes, largest), np.full(len(places), place_size))
    return SizeField(np.vstack((samples, places)), sizes, growth, largest)


def divide(graph: Graph, k: int, field: SizeField) -> Array:
    """Return fractions (0 to 1) that cut edge `k` into pieces of the size the field asks for.

    An arc is cut into pieces of at most `LARGEST_TURN`: the second-order sides of flatter cuts
    would reach over their neighbours.
    """
    length = graph.length(k)
    t = np.linspace(0.0, 1.0, 33)
    density = length / field.at(graph.points_on(k, t))
    total = np.concatenate(([0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(t))))
    turn = 4.0 * np.arctan(abs(float(graph.bulges[k])))
    pieces = max(1, int(np.ceil(total[-1] - 0.25)), int(np.ceil(turn / LARGEST_TURN - 1e-9)))
    return np.interp(np.linspace(0.0, total[-1], pieces + 1), total, t)


@numba.njit(cache=True, error_model="numpy")
def _size_at(points: Array, sources: Array, sizes: Array, growth: float, largest: float) -> Array:
    out = np.empty(points.shape[0])
    for i in range(points.shape[0]):
        best = largest
        for j in range(sources.shape[0]):
            if sizes[j] < best:
                dx = points[i, 0] - sources[j, 0]
                dy = points[i, 1] - sources[j, 1]
                room = (best - sizes[j]) / growth
                d2 = dx * dx + dy * dy
                if d2 < room * room:
                    best = sizes[j] + growth * np.sqrt(d2)
        out[i] = best
    return out


@numba.njit(cache=True, error_model="numpy")
def _clearance(samples: Array, owner: IntArray, edges: IntArray) -> Array:
    """Distance of each sample to the nearest edge that shares no corner with its own edge."""
    n = samples.shape[0]
    out = np.empty(n)
    for i in range(n):
        a, b = edges[owner[i], 0], edges[owner[i], 1]
        best = 1e30
        for j in range(n - 1):
            if owner[j] != owner[j + 1]:
                continue
            c, d = edges[owner[j], 0], edges[owner[j], 1]
            if a in (c, d) or b in (c, d):
                continue
            ux = samples[j + 1, 0] - samples[j, 0]
            uy = samples[j + 1, 1] - samples[j, 1]
            vx = samples[i, 0] - samples[j, 0]
            vy = samples[i, 1] - samples[j, 1]
            t = (ux * vx + uy * vy) / (ux * ux + uy * uy)
            t = min(1.0, max(0.0, t))
            dx, dy = vx - t * ux, vy - t * uy
            best = min(best, dx * dx + dy * dy)
        out[i] = np.sqrt(best)
    return out
