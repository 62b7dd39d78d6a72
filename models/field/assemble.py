"""Equations of one sector: what is linear once, what is iron in a compiled loop.

Weak form for the vector potential A along the shaft, per metre of length:
integral nu grad A . grad v = integral J v + integral nu (Br_x dv/dy - Br_y dv/dx).
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import atan2

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.field.airgap import AirGap, air_gap
from models.field.domain import Domain
from models.field.elements import Elements, element_geometry
from models.field.elimination import EliminationPlan, plan_elimination
from models.field.media import Medium
from models.field.stiffness import add_linear
from models.geometry.section import Region
from models.materials.reluctivity import ReluctivityTable

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_UPPER = np.triu_indices(6)


@dataclass(frozen=True, eq=False)
class Iron:
    """Elements that share one reluctivity table.

    Attributes
    ----------
    index : ndarray of int, shape (m,)
        Elements.
    unknown : ndarray of int32, shape (m, 6)
        Unknown of each node; the number of unknowns marks a node with A = 0.
    place : ndarray of int32, shape (m, 21)
        Where each upper-triangle pair is stored.
    gradient, weight : ndarray
        As in `Elements`; gradients are times the sign of their unknown, -1 where it lies on the
        opposite radial side.
    table : ReluctivityTable
        nu(B^2).
    """

    index: IntArray
    unknown: NDArray[np.int32]
    place: NDArray[np.int32]
    gradient: Array
    weight: Array
    table: ReluctivityTable


@dataclass(frozen=True, eq=False)
class System:
    """Everything that does not change with current, rotor angle or saturation.

    Attributes
    ----------
    elements : Elements
        All elements, rotor first.
    region : ndarray of int, shape (m,)
        Index into `regions`.
    regions : tuple of Region
        Rotor regions, then stator regions.
    unknown, sign : ndarray, shape (nodes,)
        A of a node is sign times its unknown (index `size` means A = 0).
    element_nodes : ndarray of int, shape (m, 6)
        Nodes of elements.
    size : int
        Number of unknowns.
    columns, rows : ndarray of int32
        Upper triangle by columns (column pointers, row indices).
    linear : ndarray, shape (nnz + 1,)
        Stored values of the linear parts, without the mutual block of the air gap. The last
        entry collects what belongs to nodes with A = 0.
    iron : tuple of Iron
        Nonlinear parts.
    magnet_source : ndarray, shape (size + 1,)
        Right-hand side of the magnets.
    gap : AirGap
        Air-gap coupling in terms of the interface unknowns.
    gap_rotor, gap_stator : ndarray of int
        Interface unknowns.
    gap_place : ndarray of int, shape (n1, n2)
        Where the mutual block is stored.
    plan : EliminationPlan
        Order of elimination of this pattern.
    linear_place : ndarray of int
        Stored pairs that the linear parts touch, with `linear_columns` and `linear_rows`: their
        own pattern.
    """

    elements: Elements
    region: IntArray
    regions: tuple[Region, ...]
    unknown: IntArray
    sign: Array
    element_nodes: IntArray
    size: int
    columns: NDArray[np.int32]
    rows: NDArray[np.int32]
    linear: Array
    iron: tuple[Iron, ...]
    magnet_source: Array
    gap: AirGap
    gap_rotor: IntArray
    gap_stator: IntArray
    gap_place: IntArray
    plan: EliminationPlan
    linear_place: IntArray
    linear_columns: NDArray[np.int32]
    linear_rows: NDArray[np.int32]


def assemble(domain: Domain, medium_of: Callable[[Region], Medium]) -> System:
    """Assemble the linear parts and prepare the nonlinear ones.

    Parameters
    ----------
    domain : Domain
        Meshed section.
    medium_of : callable
        Gives the medium of a region.

    Returns
    -------
    System
    """
    rotor, stator = domain.rotor, domain.stator
    offset = len(rotor.nodes)
    element_nodes = np.vstack((rotor.elements, stator.elements + offset))
    region = np.concatenate((rotor.region, stator.region + len(rotor.regions)))
    regions = rotor.regions + stator.regions
    elements = element_geometry(np.vstack((rotor.nodes, stator.nodes)), element_nodes)

    unknown, sign, size = _number(domain)
    gap, gap_rotor, gap_stator = _gap(domain, unknown, sign, size)
    columns, rows, place, gap_places = _pattern(unknown[element_nodes], size, gap_rotor, gap_stator)
    stored = len(rows)
    # positions of pairs that touch a node with A = 0 point one past the end
    linear = np.zeros(stored + 1)
    for block, where in zip(gap.own_blocks(), gap_places[:2]):
        upper = np.triu_indices(len(block))
        linear[where[upper]] += block[upper]

    media = [medium_of(r) for r in regions]
    element_sign = sign[element_nodes]
    nu = np.array([m.reluctivity if isinstance(m.reluctivity, float) else 0.0 for m in media])
    straight = nu[region] > 0.0
    signed = elements.gradient * element_sign[:, None, None, :]
    add_linear(
        linear,
        place[straight],
        signed[straight],
        elements.weight[straight] * nu[region[straight]][:, None],
    )
    is_touched = linear[:-1] != 0.0
    is_touched[gap_places[2].ravel()] = True
    touched = np.nonzero(is_touched)[0]
    return System(
        elements=elements,
        region=region,
        regions=regions,
        unknown=unknown,
        sign=sign,
        element_nodes=element_nodes,
        size=size,
        columns=columns,
        rows=rows,
        linear=linear,
        iron=_iron(media, region, signed, elements.weight, unknown[element_nodes], place),
        magnet_source=_magnets(
            media, regions, region, elements, unknown[element_nodes], element_sign, size
        ),
        gap=gap,
        gap_rotor=gap_rotor,
        gap_stator=gap_stator,
        gap_place=gap_places[2],
        plan=plan_elimination(columns, rows),
        linear_place=touched,
        linear_columns=np.searchsorted(touched, columns).astype(np.int32),
        linear_rows=rows[touched],
    )


def _number(domain: Domain) -> tuple[IntArray, Array, int]:
    """Number the unknowns; high radial sides refer to the low ones, over odd poles with a minus."""
    offset = len(domain.rotor.nodes)
    total = offset + len(domain.stator.nodes)
    master = np.arange(total)
    sign = np.ones(total)
    is_zero = np.zeros(total, dtype=bool)
    for side, shift in ((domain.rotor, 0), (domain.stator, offset)):
        # a node on both sides (the centre of a full rotor) has A = -A = 0
        if domain.poles % 2:
            is_zero[side.low[side.low == side.high] + shift] = True
        is_zero[side.fixed + shift] = True
        master[side.high + shift] = side.low + shift
        sign[side.high + shift] = -1.0 if domain.poles % 2 else 1.0
    is_zero |= is_zero[master]
    free = np.nonzero((master == np.arange(total)) & ~is_zero)[0]
    number = np.full(total, len(free), dtype=np.int64)
    number[free] = np.arange(len(free))
    unknown = number[master]
    sign[unknown == len(free)] = 0.0
    return unknown, sign, len(free)


def _gap(
    domain: Domain, unknown: IntArray, sign: Array, size: int
) -> tuple[AirGap, IntArray, IntArray]:
    rotor, stator = domain.rotor, domain.stator

    def polar(nodes: Array) -> Array:
        return np.array([atan2(y, x) for x, y in nodes])

    segments = (len(rotor.interface) // 2, len(stator.interface) // 2)
    gap = air_gap(
        angles_1=polar(rotor.nodes[rotor.interface]),
        angles_2=polar(stator.nodes[stator.interface]),
        radius_1=rotor.interface_radius,
        radius_2=stator.interface_radius,
        pole_pairs=domain.pole_pairs,
        poles=domain.poles,
        # as many harmonics as interface nodes would be noise locked to the rotor position
        harmonics=min(domain.poles * domain.resolution.harmonics, 5 * min(segments) // 8),
    )
    # the last node is minus the first over odd poles, and the first over even ones
    node_1 = rotor.interface
    node_2 = stator.interface + len(rotor.nodes)

    def fold(matrix: Array, nodes: IntArray) -> Array:
        out: Array = matrix[:, :-1] * sign[nodes[:-1]]
        out[:, 0] += matrix[:, -1] * sign[nodes[-1]]
        return out

    folded = AirGap(
        gap.orders,
        fold(gap.cosine_1, node_1),
        fold(gap.sine_1, node_1),
        fold(gap.cosine_2, node_2),
        fold(gap.sine_2, node_2),
        gap.own,
        gap.mutual,
        gap.log_ratio,
    )
    return folded, unknown[node_1[:-1]], unknown[node_2[:-1]]


def _pattern(
    element_unknowns: IntArray, size: int, gap_rotor: IntArray, gap_stator: IntArray
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32], tuple[IntArray, ...]]:
    """Return the upper-triangle pattern and where each pair is stored."""
    stride = size + 1

    def key(i: IntArray, j: IntArray) -> IntArray:
        low, high = np.minimum(i, j), np.maximum(i, j)
        return np.where(high == size, size * stride + size, high * stride + low)

    pair = key(element_unknowns[:, _UPPER[0]], element_unknowns[:, _UPPER[1]])
    blocks = [
        key(a[:, None] + 0 * b, b + 0 * a[:, None])
        for a, b in ((gap_rotor, gap_rotor), (gap_stator, gap_stator), (gap_rotor, gap_stator))
    ]
    unique, inverse = np.unique(
        np.concatenate([pair.ravel(), *(b.ravel() for b in blocks)]), return_inverse=True
    )
    if unique[-1] == size * stride + size:
        unique = unique[:-1]
    rows = (unique % stride).astype(np.int32)
    columns = np.searchsorted(unique // stride, np.arange(size + 1)).astype(np.int32)
    place = inverse[: pair.size].reshape(pair.shape).astype(np.int32)
    start = pair.size
    places = []
    for b in blocks:
        places.append(inverse[start : start + b.size].reshape(b.shape))
        start += b.size
    return columns, rows, place, tuple(places)


def _iron(
    media: list[Medium],
    region: IntArray,
    gradient: Array,
    weight: Array,
    unknown: IntArray,
    place: NDArray[np.int32],
) -> tuple[Iron, ...]:
    tables: dict[int, tuple[ReluctivityTable, list[int]]] = {}
    for k, medium in enumerate(media):
        if isinstance(medium.reluctivity, ReluctivityTable):
            entry = tables.setdefault(id(medium.reluctivity), (medium.reluctivity, []))
            entry[1].append(k)
    out = []
    for table, members in tables.values():
        index = np.nonzero(np.isin(region, members))[0]
        out.append(
            Iron(
                index,
                unknown[index].astype(np.int32),
                place[index],
                np.ascontiguousarray(gradient[index]),
                np.ascontiguousarray(weight[index]),
                table,
            )
        )
    return tuple(out)


def _magnets(
    media: list[Medium],
    regions: tuple[Region, ...],
    region: IntArray,
    elements: Elements,
    unknown: IntArray,
    sign: Array,
    size: int,
) -> Array:
    source = np.zeros(size + 1)
    for k, (medium, r) in enumerate(zip(media, regions)):
        if medium.remanence == 0.0:
            continue
        if r.magnetisation is None or not isinstance(medium.reluctivity, float):
            raise InvalidInputError(
                f"region {r.name!r} has a remanence but no magnetisation direction or no constant "
                "reluctivity; give it both"
            )
        index = np.nonzero(region == k)[0]
        where = elements.place[index]
        direction = atan2(r.magnetisation[1], r.magnetisation[0]) + (
            (medium.magnetisation_order + r.magnetisation_order)
            * np.arctan2(where[..., 1], where[..., 0])
        )
        scale = elements.weight[index] * medium.reluctivity * medium.remanence
        local = np.einsum(
            "mq,mqi->mi", scale * np.cos(direction), elements.gradient[index][:, :, 1]
        ) - np.einsum("mq,mqi->mi", scale * np.sin(direction), elements.gradient[index][:, :, 0])
        np.add.at(source, unknown[index], local * sign[index])
    source[size] = 0.0
    return source
