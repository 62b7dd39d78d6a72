"""A magnetic network as data: vector-potential nodes, iron cells, linear parts.

Unknowns are values of the axial vector potential (flux per metre of length) at places where the
potential varies: slots, air gap, magnets, barriers. Flux through a piece of iron is the
difference of the potentials on its two sides. Every iron piece is a *cell* with a few nodes
and one integration point, so its field is  B = gradient @ potentials  and its energy
area * w(|B|). Energy is convex, so its Hessian is positive definite and Newton's method cannot
get lost. One sector is modelled (`models.geometry.sector`): the stator's tables cover it whole, the
rotor's tables one pole, which is repeated. A rotor's potentials are counted with the sign of their
pole, so that its poles are alike, magnets included; seen one pole further on, a node is that of the
next pole with opposite sign.

Rotor families differ only in the tables they add with `NetworkBuilder`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_GAUSS = 1.0 / sqrt(3.0)
GAUSS_PAIR = (0.5 - 0.5 * _GAUSS, 0.5 + 0.5 * _GAUSS)
"""Gauss's two points on a length of 1, of equal weight."""
CORNERS = 6
"""Most nodes that an iron cell may touch."""
GROUND = -1
"""Node index of zero potential (stator outer surface, shaft)."""


def before(node: int) -> int:
    """Return the index that stands for the same place on the rotor pole before (its sign: -1)."""
    return -2 - node


@dataclass(frozen=True)
class Place:
    """A node seen at a point: index, sign (-1: that of the pole before), coordinates [m]."""

    node: int
    x: float
    y: float
    sign: float = 1.0

    @property
    def seen(self) -> int:
        """Index of the node on the pole that it is seen from."""
        return before(self.node) if self.sign < 0.0 and self.node != GROUND else self.node

    @property
    def terms(self) -> tuple[tuple[int, float], ...]:
        """Nodes and weights of the potential there."""
        return ((self.seen, self.sign),)


@dataclass(frozen=True)
class Between:
    """A point whose potential is a mean of nodes: (node, weight) pairs, coordinates [m]."""

    terms: tuple[tuple[int, float], ...]
    x: float
    y: float


def half_way(first: Between, second: Between) -> Between:
    """Return the point half way from one to another, its potential the mean of theirs."""
    total: dict[int, float] = {}
    for node, weight in (*first.terms, *second.terms):
        total[node] = total.get(node, 0.0) + 0.5 * weight
    return Between(tuple(total.items()), 0.5 * (first.x + second.x), 0.5 * (first.y + second.y))


@dataclass(frozen=True, eq=False)
class Network:
    """Nodes, iron cells and linear parts of one sector, rotor and stator not yet coupled.

    Attributes
    ----------
    size : int
        Number of unknowns.
    cell_count : ndarray of int, shape (n_cells,)
        Number of corners in use, the first of them.
    cell_nodes : ndarray of int, shape (n_cells, CORNERS)
        Node of each corner; unused and grounded corners point to node 0 with zero gradient.
    cell_gradient : ndarray, shape (n_cells, 2, CORNERS)
        Field components per potential [1/m], signs included.
    cell_area : ndarray, shape (n_cells,)
        Iron area [m^2].
    cell_part : tuple of str
        What each cell is (`tooth`, `yoke`, `bridge`, ...).
    cell_beside : ndarray, shape (n_cells,)
        Width of the air beside each cell's iron that sees the same field, over the iron's.
    linear : ndarray, shape (size, size)
        Stiffness of air and magnets [m/H].
    magnet_source : ndarray, shape (size,)
        Source per T of remanence [m/H].
    magnet_segments : ndarray, shape (n_segments, size)
    magnet_offsets : ndarray, shape (n_segments,)
        Flux density along the magnetisation of each magnet segment [T], pole after pole, is
        magnet_segments @ A + magnet_offsets * remanence.
    rotor_start, rotor_size : int
        Node k of rotor pole j is unknown rotor_start + j * rotor_size + k.
    poles : int
        Rotor poles.
    """

    size: int
    cell_count: IntArray
    cell_nodes: IntArray
    cell_gradient: Array
    cell_area: Array
    cell_part: tuple[str, ...]
    cell_beside: Array
    linear: Array
    magnet_source: Array
    magnet_segments: Array
    magnet_offsets: Array
    rotor_start: int
    rotor_size: int
    poles: int

    def of_every_pole(self, nodes: IntArray) -> IntArray:
        """Return the unknowns of a rotor pole's nodes on every pole, shape (poles, nodes)."""
        first = self.rotor_start + self.rotor_size * np.arange(self.poles)
        return np.asarray(first[:, None] + nodes)


@dataclass(frozen=True, eq=False)
class Table:
    """What a `NetworkBuilder` collected; indices as there.

    Attributes
    ----------
    size : int
        Nodes.
    counts, cells, gradients, areas, parts, beside
        Of the iron cells, as in `Network`.
    entries, entry_values
        Pairs of nodes, shape (n, 2), and stiffness between them [m/H].
    sources, source_values
        Nodes and what magnets of 1 T send into them [m/H].
    segments, segment_values
        Pairs of magnet segment and node, shape (n, 2), and weights [1/m].
    segment_offsets
        As `Network.magnet_offsets`.
    """

    size: int
    counts: IntArray
    cells: IntArray
    gradients: Array
    areas: Array
    parts: tuple[str, ...]
    beside: Array
    entries: IntArray
    entry_values: Array
    sources: IntArray
    source_values: Array
    segments: IntArray
    segment_values: Array
    segment_offsets: Array


@dataclass
class NetworkBuilder:
    """Collects nodes, cells and branches of the stator or of one rotor pole; `join` freezes them.

    An index made by `before` stands for a node of the pole before.

    Parameters
    ----------
    stacking_factor : float
        Iron length over stack length: raises the flux density in iron. 1 where the space between
        sheets is part of the reluctivity, see `models.circuit.solution.Circuit.iron_shares`.
    """

    stacking_factor: float
    names: list[str] = field(default_factory=list)
    _counts: list[int] = field(default_factory=list)
    _nodes: list[list[int]] = field(default_factory=list)
    _gradients: list[tuple[list[float], list[float]]] = field(default_factory=list)
    _areas: list[float] = field(default_factory=list)
    _parts: list[str] = field(default_factory=list)
    _beside: list[float] = field(default_factory=list)
    _entries: list[tuple[int, int, float]] = field(default_factory=list)
    _sources: list[tuple[int, float]] = field(default_factory=list)
    _segments: list[tuple[tuple[tuple[int, float], ...], float]] = field(default_factory=list)

    def node(self, name: str) -> int:
        """Add an unknown and return its index."""
        self.names.append(name)
        return len(self.names) - 1

    def iron(
        self,
        part: str,
        area: float,
        first: Sequence[tuple[int, float]],
        second: Sequence[tuple[int, float]] = (),
        *,
        beside: float = 0.0,
    ) -> None:
        """Add an iron cell from its gradient rows, given as (node, weight [1/m]) pairs.

        `beside` is the width of air beside the iron over the iron's: the field is then the mean
        over both.
        """
        nodes: list[int] = []
        rows = ([0.0] * CORNERS, [0.0] * CORNERS)
        filled = self.stacking_factor * (1.0 + beside)
        for row, pairs in zip(rows, (first, second)):
            for n, w in pairs:
                if n == GROUND:
                    continue
                if n not in nodes:
                    if len(nodes) == CORNERS:
                        raise ValueError(f"cell {part!r} touches more than {CORNERS} nodes")
                    nodes.append(n)
                row[nodes.index(n)] += w / filled
        self._counts.append(len(nodes))
        self._nodes.append(nodes + nodes[:1] * (CORNERS - len(nodes)))
        self._gradients.append(rows)
        self._areas.append(area * filled)
        self._parts.append(part)
        self._beside.append(beside)

    def iron_quad(
        self,
        part: str,
        corners: Sequence[Place | Between],
        *,
        points: int = 1,
        beside: float = 0.0,
    ) -> None:
        """Add an iron quadrilateral or triangle with one integration point at its centre.

        Corners run around it in either direction. With two `points` a quadrilateral takes its
        field at two Gauss points along its first side: where flux gathers along the way the fuller
        end needs most of the magnetomotive force. `beside` as for `iron`.
        """
        places = [(p.x, p.y) for p in corners]
        if points == 1:
            cells = [centre_gradient(places)]
        else:
            at = [_shape_gradient(places, xi, 0.0) for xi in (-_GAUSS, _GAUSS)]
            cells = [(gradient, 2.0 * abs(det)) for gradient, det in at]
        for rows, area in cells:
            self.iron(
                part,
                area,
                [(n, w * g) for p, g in zip(corners, rows[0]) for n, w in p.terms],
                [(n, w * g) for p, g in zip(corners, rows[1]) for n, w in p.terms],
                beside=beside,
            )

    def mark(self) -> tuple[int, int]:
        """Return where the table stands, for `repeat`."""
        return len(self._counts), len(self._entries)

    def repeat(self, since: tuple[int, int], count: int) -> None:
        """Add what was added since a mark again, each time seen from the next of its nodes.

        For pieces that are alike all round, whose nodes of each kind follow one another; no
        magnets, and no node of the pole before.
        """
        cells, entries = (slice(since[0], None), slice(since[1], None))
        nodes, pairs = self._nodes[cells], self._entries[entries]
        self._counts += self._counts[cells] * count
        self._gradients += self._gradients[cells] * count
        self._areas += self._areas[cells] * count
        self._parts += self._parts[cells] * count
        self._beside += self._beside[cells] * count
        for shift in range(1, count + 1):
            self._nodes += [[node + shift for node in row] for row in nodes]
            self._entries += [(i + shift, j + shift, value) for i, j, value in pairs]

    def air_quad(self, corners: Sequence[Place], reluctivity: float) -> None:
        """Add a quadrilateral of air as a bilinear element (two by two integration)."""
        for weights, gradient in _gauss_gradients([(p.x, p.y) for p in corners]):
            for i, p in enumerate(corners):
                for j, q in enumerate(corners):
                    dot = gradient[0][i] * gradient[0][j] + gradient[1][i] * gradient[1][j]
                    self._add(p.seen, q.seen, reluctivity * weights * dot * p.sign * q.sign)

    def branch(self, stiffness: float, row: Sequence[tuple[int, float]]) -> None:
        """Add energy  0.5 stiffness (row . A)^2  [m/H]."""
        for i, wi in row:
            for j, wj in row:
                self._add(i, j, stiffness * wi * wj)

    def magnet(
        self,
        row: Sequence[tuple[int, float]],
        *,
        thickness: float,
        width: float,
        air_width: float,
        reluctivity: float,
        recoil: float,
        strength: float = 1.0,
    ) -> None:
        """Add a magnet segment whose flux along the magnetisation is  row . A.

        `air_width` is air that lies beside it in the same pocket and shares its mmf; `strength`
        the share of the remanence that acts along the flux.
        """
        effective = recoil * width + air_width
        stiffness = thickness * reluctivity / effective
        self.branch(stiffness, row)
        live = [(n, w) for n, w in row if n != GROUND]
        self._sources += [(n, stiffness * width * strength * w) for n, w in live]
        self._segments.append(
            (tuple((n, w * recoil / effective) for n, w in live), air_width / effective)
        )

    def table(self) -> "Table":
        """Return what was collected as arrays."""
        entries = np.array([(i, j) for i, j, _ in self._entries], dtype=np.int64).reshape(-1, 2)
        rows = [(k, n, w) for k, (row, _) in enumerate(self._segments) for n, w in row]
        return Table(
            size=len(self.names),
            counts=np.array(self._counts, dtype=np.int64),
            cells=np.array(self._nodes, dtype=np.int64).reshape(-1, CORNERS),
            gradients=np.array(self._gradients),
            areas=np.array(self._areas),
            parts=tuple(self._parts),
            beside=np.array(self._beside),
            entries=entries,
            entry_values=np.array([value for _, _, value in self._entries]),
            sources=np.array([n for n, _ in self._sources], dtype=np.int64),
            source_values=np.array([value for _, value in self._sources]),
            segments=np.array([(k, n) for k, n, _ in rows], dtype=np.int64).reshape(-1, 2),
            segment_values=np.array([w for _, _, w in rows]),
            segment_offsets=np.array([offset for _, offset in self._segments]),
        )

    def _add(self, i: int, j: int, value: float) -> None:
        if i != GROUND and j != GROUND:
            self._entries.append((i, j, value))


def centre_gradient(
    points: Sequence[tuple[float, float]],
) -> tuple[tuple[list[float], list[float]], float]:
    """Return d/dx and d/dy of the shape functions at the centre, and the area.

    Bilinear for four points, linear for three.
    """
    if len(points) == 3:
        (x0, y0), (x1, y1), (x2, y2) = points
        det = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        d_x = [(y1 - y2) / det, (y2 - y0) / det, (y0 - y1) / det]
        d_y = [(x2 - x1) / det, (x0 - x2) / det, (x1 - x0) / det]
        return (d_x, d_y), 0.5 * abs(det)
    gradient, det = _shape_gradient(points, 0.0, 0.0)
    return gradient, 4.0 * abs(det)


def _gauss_gradients(
    points: Sequence[tuple[float, float]],
) -> list[tuple[float, tuple[list[float], list[float]]]]:
    """Return (weight [m^2], gradient) at the two by two Gauss points."""
    out = []
    for xi in (-_GAUSS, _GAUSS):
        for eta in (-_GAUSS, _GAUSS):
            gradient, det = _shape_gradient(points, xi, eta)
            out.append((abs(det), gradient))
    return out


def _shape_gradient(
    points: Sequence[tuple[float, float]], xi: float, eta: float
) -> tuple[tuple[list[float], list[float]], float]:
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = points
    low, high, left, right = 1.0 - eta, 1.0 + eta, 1.0 - xi, 1.0 + xi
    d_xi = (-0.25 * low, 0.25 * low, 0.25 * high, -0.25 * high)
    d_eta = (-0.25 * left, -0.25 * right, 0.25 * right, 0.25 * left)
    x_xi = 0.25 * (low * (x1 - x0) + high * (x2 - x3))
    y_xi = 0.25 * (low * (y1 - y0) + high * (y2 - y3))
    x_eta = 0.25 * (left * (x3 - x0) + right * (x2 - x1))
    y_eta = 0.25 * (left * (y3 - y0) + right * (y2 - y1))
    det = x_xi * y_eta - y_xi * x_eta
    d_x = [(y_eta * a - y_xi * b) / det for a, b in zip(d_xi, d_eta)]
    d_y = [(x_xi * b - x_eta * a) / det for a, b in zip(d_xi, d_eta)]
    return (d_x, d_y), det
