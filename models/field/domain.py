"""The meshed section: rotor pole and stator over it, second-order triangles, interfaces.

The rotor pole is meshed whole. The stator is meshed for one slot pitch and copied, so that slots
differ by nothing but their place (a freely meshed stator adds torque that is not there). Each side
ends inside the air gap with one layer of elements; the analytic annulus lies between.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from models.errors import InfeasibleDesignError, SolverError
from models.field.boundary import build_graph, check_cover, turned
from models.field.cuts import angle_in_sector, divide_edges, lay_nodes, mirrored_corners, on_ray
from models.field.edge_flips import smallest_angles
from models.field.sizing import Resolution, size_field
from models.field.triangulate import triangulate
from models.geometry.section import Outline, Region, Section, arc_bulge

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

SMALLEST_ANGLE = pi / 90.0
"""Smallest angle of a triangle that is accepted [rad]; random designs stay above 10 degrees."""
CORNER_SHARE = 0.12
"""Size of elements at a magnet's corner over the root of the magnets' area: 0.6 % of it each."""
GAP_LAYER = "air_gap"
"""Part name of the element layers inside the air gap."""


@dataclass(frozen=True, eq=False)
class SideMesh:
    """Second-order triangles of one side of the air gap.

    Attributes
    ----------
    nodes : ndarray, shape (n, 2)
        Corner and mid-side nodes [m], in the side's own axes.
    elements : ndarray of int, shape (m, 6)
        Corners 0-2 counter-clockwise, then middles of sides 01, 12, 20.
    region : ndarray of int, shape (m,)
        Index into `regions`.
    regions : tuple of Region
        Parts; copies of one slot pitch carry their own `slot`.
    low, high : ndarray of int, shape (k,)
        Nodes on the two radial sides in the same order (A high = -A low).
    fixed : ndarray of int
        Nodes with A = 0.
    interface : ndarray of int, shape (2 s + 1,)
        Nodes on the interface circle by angle: ends and middles of s segments.
    interface_radius : float
        Its radius [m].
    """

    nodes: Array
    elements: IntArray
    region: IntArray
    regions: tuple[Region, ...]
    low: IntArray
    high: IntArray
    fixed: IntArray
    interface: IntArray
    interface_radius: float


@dataclass(frozen=True, eq=False)
class Domain:
    """Both sides of one pole, ready for assembly.

    Attributes
    ----------
    rotor, stator : SideMesh
        In their own axes: rotor d axis on x; stator as drawn in the section.
    pole_pairs : int
        Pole pairs.
    resolution : Resolution
        What it was meshed with.
    poles : int
        Poles it covers: the potential changes sign over one and comes back over two.
    """

    rotor: SideMesh
    stator: SideMesh
    pole_pairs: int
    resolution: Resolution
    poles: int = 1


def mesh_section(
    section: Section, resolution: Resolution | None = None, *, poles: int = 1
) -> Domain:
    """Mesh a section.

    Parameters
    ----------
    section : Section
        Drawn in equal slot pitches (any number that fills the angle), each with its own core
        region, and in equal rotor poles that fill their sector up to the rotor radius. Regions of
        part `shaft` are left out: A = 0 at the innermost rotor radius.
    resolution : Resolution, optional
        Mesh resolution.
    poles : int
        Poles that the section covers, symmetric about the x axis.

    Returns
    -------
    Domain

    Raises
    ------
    InfeasibleDesignError
        The section does not close, overlaps, leaves a hole, or has a needle's angle.
    SolverError
        No usable mesh was found.
    """
    res = resolution or Resolution()
    half = poles * pi / (2 * section.pole_pairs)
    gap = section.bore_radius - section.rotor_radius
    if gap <= 0.0:
        raise InfeasibleDesignError(
            "no_air_gap",
            f"bore radius {1e3 * section.bore_radius:.3f} mm is not larger than rotor radius "
            f"{1e3 * section.rotor_radius:.3f} mm",
        )
    rotor_regions = [r for r in section.rotor if r.part != "shaft"]
    inner = min(hypot(x, y) for r in rotor_regions for x, y in r.outline.points)
    # A cage repeats with its bars, any other rotor with its poles.
    bars = sum(r.part == "bar" for r in rotor_regions)
    copies = bars or poles
    copy_pitch = 2.0 * half / copies
    if copies > 1:
        rotor_regions = [r for r in rotor_regions if _lies_within(r, -half, -half + copy_pitch)]
        if bars and sum(r.part == "rotor_core" for r in rotor_regions) != 1:
            raise InfeasibleDesignError(
                "bars_per_pole_not_whole",
                f"the rotor over one pole is not {bars} equal bar pitches of "
                f"{np.degrees(copy_pitch):.3f} degrees; the field model needs a whole number of "
                "bars per pole",
            )
    rotor = _mesh_side(
        rotor_regions,
        gap_radius=section.rotor_radius,
        interface_radius=section.rotor_radius + gap / 3.0,
        far_radius=inner,
        angles=(-half, -half + copy_pitch),
        pole_angle=2.0 * half / poles,
        resolution=res,
    )
    if copies > 1:
        rotor = _repeat(rotor, copies, copy_pitch, alternates=not bars)
    pitches = sum(r.part == "stator_core" for r in section.stator)
    if pitches == 0:
        raise InfeasibleDesignError("no_stator_core", "the stator has no region of part core")
    pitch = 2.0 * half / pitches
    first = [r for r in section.stator if _lies_within(r, -half, -half + pitch)]
    if sum(r.part == "stator_core" for r in first) != 1:
        raise InfeasibleDesignError(
            "slots_per_pole_not_whole",
            f"the stator over one pole is not {pitches} equal slot pitches of "
            f"{np.degrees(pitch):.3f} degrees; the field model needs a whole number of slots per "
            "pole",
        )
    outer = max(hypot(x, y) for r in first for x, y in r.outline.points)
    one = _mesh_side(
        first,
        gap_radius=section.bore_radius,
        interface_radius=section.bore_radius - gap / 3.0,
        far_radius=outer,
        angles=(-half, -half + pitch),
        pole_angle=2.0 * half / poles,
        resolution=res,
    )
    return Domain(rotor, _repeat(one, pitches, pitch), section.pole_pairs, res, poles)


def _lies_within(region: Region, low: float, high: float) -> bool:
    middle = 0.5 * (low + high)
    half = 0.5 * (high - low) + 1e-7
    return all(
        abs(atan2(*turned(np.array([p]), -middle)[0][::-1])) <= half for p in region.outline.points
    )


def _mesh_side(
    regions: Sequence[Region],
    *,
    gap_radius: float,
    interface_radius: float,
    far_radius: float,
    angles: tuple[float, float],
    pole_angle: float,
    resolution: Resolution,
) -> SideMesh:
    low, high = angles
    tolerance = 1e-6 * gap_radius
    check_regions = list(regions)
    layer = _layer(gap_radius, interface_radius, low, high)
    everything = [*check_regions, layer]
    graph = build_graph(everything, tolerance=tolerance)
    graph = build_graph(
        everything,
        tolerance=tolerance,
        extra=[(p[0], p[1]) for p in mirrored_corners(graph, low, high, tolerance)],
    )
    radii = sorted((far_radius, interface_radius))
    check_cover(graph, everything, inner=radii[0], outer=radii[1], angle=high - low)

    segment = gap_radius * pole_angle / resolution.segments_per_pole
    r = np.hypot(graph.vertices[:, 0], graph.vertices[:, 1])
    on_gap = np.all(np.abs(r[graph.edges] - gap_radius) <= tolerance, axis=1) & (graph.bulges != 0)
    corners, corner_size = _magnet_corners(regions, tolerance)
    field = size_field(
        graph,
        largest=resolution.largest * segment,
        growth=resolution.growth,
        thickness_share=resolution.thickness_share,
        limits=np.where(on_gap, segment, np.inf),
        places=corners,
        place_size=corner_size,
    )
    cuts = divide_edges(
        graph, field=field, on_gap=on_gap, angles=angles, interface_radius=interface_radius,
        layer=len(regions), segment=segment, tolerance=tolerance,
    )  # fmt: skip
    nodes, segments, middles, left, right = lay_nodes(graph, cuts)
    sector = (min(far_radius, gap_radius), max(far_radius, gap_radius))
    points, triangles, region = triangulate(
        nodes, segments, left=left, right=right, radii=sector, angles=angles, field=field
    )
    _check_angles(points, triangles)
    return _second_order(
        points, triangles, region, everything, segments, middles,
        angles=angles, far_radius=far_radius, interface_radius=interface_radius,
        tolerance=tolerance,
    )  # fmt: skip


def _magnet_corners(regions: Sequence[Region], tolerance: float) -> tuple[Array, float]:
    """Return every magnet's corners nearest to the gap, and the size of elements there.

    Demagnetisation begins there, where the pocket turns towards the gap. The lowest field is read
    as that below which 2 % of the magnets' area lies; elements as large as a magnet is thick can
    hold more than that each, which put it up to 0.08 T too low.
    """
    magnets = [r for r in regions if r.part == "magnet"]
    corners = []
    for outline in (r.outline for r in magnets):
        radius = [hypot(x, y) for x, y in outline.points]
        corners += [p for p, r in zip(outline.points, radius) if r > max(radius) - tolerance]
    area = sum(r.area() for r in magnets)
    return np.array(corners).reshape(-1, 2), CORNER_SHARE * sqrt(area)


def _check_angles(points: Array, triangles: IntArray) -> None:
    """Refuse slivers: the mesher makes none by itself, so two edges meet at a needle's angle."""
    angles = smallest_angles(points, triangles)
    worst = int(np.argmin(angles))
    if angles[worst] < SMALLEST_ANGLE:
        x, y = 1e3 * points[triangles[worst]].mean(axis=0)
        raise InfeasibleDesignError(
            "section_too_narrow",
            f"edges of the section meet at or leave only {np.degrees(angles[worst]):.2f} degrees "
            f"near ({x:.3f}, {y:.3f}) mm; at least {np.degrees(SMALLEST_ANGLE):.0f} are needed: "
            "move the corners there apart",
        )


def _layer(gap_radius: float, interface_radius: float, low: float, high: float) -> Region:
    inner, outer = sorted((gap_radius, interface_radius))
    sweep = arc_bulge(high - low)
    outline = Outline(
        (
            (inner * cos(low), inner * sin(low)),
            (outer * cos(low), outer * sin(low)),
            (outer * cos(high), outer * sin(high)),
            (inner * cos(high), inner * sin(high)),
        ),
        (0.0, sweep, 0.0, -sweep),
    )
    return Region("gap_layer", GAP_LAYER, "air", outline)


def _second_order(
    points: Array, triangles: IntArray, region: IntArray, regions: Sequence[Region],
    segments: IntArray, middles: Array, *, angles: tuple[float, float], far_radius: float,
    interface_radius: float, tolerance: float,
) -> SideMesh:  # fmt: skip
    """Add mid-side nodes, on the arc where the side is an arc."""
    used = np.zeros(len(points), dtype=bool)
    used[triangles] = True
    index = np.cumsum(used) - 1
    points, triangles, segments = points[used], index[triangles], index[segments]
    n = len(points)
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    key = np.sort(sides, axis=1) @ np.array([n, 1])
    unique, inverse = np.unique(key, return_inverse=True)
    mid = 0.5 * (points[unique // n] + points[unique % n])
    segment_key = np.sort(segments, axis=1) @ np.array([n, 1])
    mid[np.searchsorted(unique, segment_key)] = middles
    nodes = np.vstack((points, mid))
    elements = np.hstack((triangles, n + inverse.reshape(-1, 3)))

    r = np.hypot(nodes[:, 0], nodes[:, 1])

    def by(mask: NDArray[np.bool_], order: Array) -> IntArray:
        found = np.nonzero(mask)[0]
        return found[np.argsort(order[found], kind="stable")]

    low = by(on_ray(nodes, angles[0], tolerance), r)
    high = by(on_ray(nodes, angles[1], tolerance), r)
    if len(low) != len(high) or np.any(np.abs(r[low] - r[high]) > 10.0 * tolerance):
        raise SolverError(
            "mesh_sides_differ: the two radial sides of the mesh have different nodes"
        )
    return SideMesh(
        nodes=nodes,
        elements=elements,
        region=region,
        regions=tuple(regions),
        low=low,
        high=high,
        fixed=np.nonzero(np.abs(r - far_radius) <= tolerance)[0],
        interface=by(np.abs(r - interface_radius) <= tolerance, angle_in_sector(nodes, *angles)),
        interface_radius=interface_radius,
    )


def _repeat(one: SideMesh, copies: int, pitch: float, *, alternates: bool = False) -> SideMesh:
    """Copy the mesh of one slot or bar pitch, or of one pole, round the gap and join the copies.

    With `alternates` the magnetisation changes sign from copy to copy.
    """
    n = len(one.nodes)
    joined = np.zeros(n, dtype=bool)
    joined[one.low] = True
    own = np.nonzero(~joined)[0]
    index = np.empty((copies, n), dtype=np.int64)
    nodes = [one.nodes[one.low]]
    total = len(one.low)
    for k in range(copies):
        index[k, one.low] = np.arange(len(one.low)) if k == 0 else index[k - 1, one.high]
        index[k, own] = np.arange(total, total + len(own))
        total += len(own)
        nodes.append(turned(one.nodes[own], k * pitch))
    regions = tuple(
        replace(
            r.turned(k * pitch, is_opposite=alternates and k % 2 != 0), name=f"{r.name}@{k}", slot=k
        )
        for k in range(copies)
        for r in one.regions
    )
    interface = np.concatenate(
        [index[k, one.interface[(0 if k == 0 else 1) :]] for k in range(copies)]
    )
    return SideMesh(
        nodes=np.vstack(nodes),
        elements=np.concatenate([index[k][one.elements] for k in range(copies)]),
        region=np.concatenate([one.region + k * len(one.regions) for k in range(copies)]),
        regions=regions,
        low=index[0, one.low],
        high=index[copies - 1, one.high],
        fixed=np.unique(index[:, one.fixed]),
        interface=interface,
        interface_radius=one.interface_radius,
    )
