"""Rotor part of the network for layers of flux barriers, with or without magnets.

The layers repeat what `interior_table` does for one V: nodes along each barrier (one value for
both faces, because flux crosses it), two more at its corners under the bridge, iron cells between
the layers and the surface. Between two barriers lies a channel of iron cells.
"""

import itertools
from dataclasses import dataclass
from math import ceil, cos, dist, hypot, pi, sin

from models.circuit.barrier_faces import (
    PARTS,
    Point,
    bend_between,
    bend_excess,
    between,
    face_points,
    magnet_overlap,
    over_cap,
    parts_before_bend,
)
from models.circuit.coupling import SurfaceNodes
from models.circuit.network import (
    GAUSS_PAIR,
    GROUND,
    Between,
    NetworkBuilder,
    Place,
    centre_gradient,
)
from models.constants import MU0
from models.machine import Barrier, LayeredRotor, Machine, rotor_as

SURFACE_STEP = 6.0
"""Largest step between surface nodes on a bridge and between two [electrical degrees]: with one
node in the middle of either, the teeth's flux lacked a third to a half of its harmonics 9 to 15."""


@dataclass(frozen=True)
class _Layer:
    """Nodes of one half barrier and where they are seen on its two faces."""

    barrier: Barrier
    nodes: tuple[int, ...]
    near: int
    far: int
    gap: tuple[Point, ...]
    shaft: tuple[Point, ...]


def add_layered_rotor(builder: NetworkBuilder, machine: Machine) -> SurfaceNodes:
    """Add one rotor pole with layers of barriers.

    Notes
    -----
    Each half pole has surface nodes over the outermost barrier's parts, at near and far corner of
    every bridge, every few degrees of a bridge and between two bridges, and in the middle of the
    interpolar zone. Two nodes lie on the boundary between poles.
    """
    rotor = rotor_as(machine, LayeredRotor)
    half_pole = pi / (2 * machine.pole_pairs)
    centre = builder.node("surface centre")
    edge = builder.node("surface pole boundary")
    q_nodes = (builder.node("q line upper"), builder.node("q line lower"))
    surface = [(centre, 0.0), (edge, half_pole)]
    halves = []
    for side in (1.0, -1.0):
        half = _HalfPole(builder, machine, rotor, side, (centre, edge), q_nodes)
        half.add()
        surface += [(n, side * a) for n, a in half.surface]
        halves.append(half)
    _add_axis(builder, halves[0], halves[1])
    surface.sort(key=lambda item: item[1])
    return SurfaceNodes.of_pole(
        [n for n, _ in surface], [a for _, a in surface], rotor.outer_radius
    )


def _add_axis(builder: NetworkBuilder, upper: "_HalfPole", lower: "_HalfPole") -> None:
    """Add ribs and the pieces of iron between them, on the pole axis."""
    pairs = list(zip(upper.layers, lower.layers))
    for a, b in pairs:
        width = a.barrier.rib_width
        g = 1.0 / width
        builder.iron("rib", width * a.barrier.thickness, [(a.nodes[0], g), (b.nodes[0], -g)])
    # The neck between the deepest rib and the shaft: half the rib's flux turns off to either side.
    a, b = pairs[-1]
    width, depth = a.barrier.rib_width, a.shaft[0][0] - upper.rotor.shaft_radius
    builder.iron(
        "core",
        width * depth,
        [(a.nodes[0], 0.5 / width), (b.nodes[0], -0.5 / width)],
        [(a.nodes[0], 0.5 / depth), (b.nodes[0], 0.5 / depth)],
    )
    for (a, b), (c, d) in itertools.pairwise(pairs):
        # Flux from rib to rib spreads at 45 degrees into the iron between.
        depth = a.shaft[0][0] - c.gap[0][0]
        width = 0.5 * (a.barrier.rib_width + c.barrier.rib_width) + 0.5 * depth
        builder.iron(
            "channel",
            width * depth,
            [(n, sign * 0.5 / width) for n, sign in (
                (a.nodes[0], 1.0), (c.nodes[0], 1.0), (b.nodes[0], -1.0), (d.nodes[0], -1.0)
            )],
            [(n, sign * 0.5 / depth) for n, sign in (
                (a.nodes[0], 1.0), (b.nodes[0], 1.0), (c.nodes[0], -1.0), (d.nodes[0], -1.0)
            )],
        )  # fmt: skip


class _HalfPole:
    """The half pole with y > 0 (side 1) or its mirror (side -1) while it is being added."""

    def __init__(
        self,
        builder: NetworkBuilder,
        machine: Machine,
        rotor: LayeredRotor,
        side: float,
        ends: tuple[int, int],
        q_nodes: tuple[int, int],
    ) -> None:
        self.builder, self.machine, self.rotor, self.side = builder, machine, rotor, side
        self.centre, self.edge = ends
        self.q_nodes = q_nodes
        self.half_pole = pi / (2 * machine.pole_pairs)
        self.tag = "+" if side > 0 else "-"
        self.surface: list[tuple[int, float]] = []
        self.layers = [self._layer(k, b) for k, b in enumerate(rotor.barriers)]

    def _layer(self, number: int, barrier: Barrier) -> _Layer:
        gap, shaft = face_points(barrier)
        node = self.builder.node
        return _Layer(
            barrier=barrier,
            nodes=tuple(node(f"barrier {number} part {k}{self.tag}") for k in range(PARTS)),
            near=node(f"barrier {number} near{self.tag}"),
            far=node(f"barrier {number} far{self.tag}"),
            gap=gap,
            shaft=shaft,
        )

    def at(self, node: int, point: Point, sign: float = 1.0) -> Place:
        """Return a node seen at a point of the upper half."""
        return Place(node, point[0], self.side * point[1], sign)

    def polar(self, node: int, radius: float, angle: float, sign: float = 1.0) -> Place:
        """Return a node seen at polar coordinates of the upper half."""
        return self.at(node, (radius * cos(angle), radius * sin(angle)), sign)

    def on_surface(self, name: str, angle: float) -> Place:
        """Add a node on the rotor surface."""
        node = self.builder.node(f"surface {name}{self.tag}")
        self.surface.append((node, angle))
        return self.polar(node, self.rotor.outer_radius, angle)

    def add(self) -> None:
        """Add all cells and branches of the half pole."""
        first = self.layers[0]
        top = [self.polar(self.centre, self.rotor.outer_radius, 0.0)]
        b = first.barrier
        thick = b.bridge_thickness / self.rotor.outer_radius
        for k, angle in enumerate(over_cap(b.near_angle, thick, first.gap[1:]), 1):
            top.append(self.on_surface(f"cap {k}", angle))
        near = self.on_surface("near 0", b.near_angle)
        top.append(near)
        below = [*(self.at(n, p) for n, p in zip(first.nodes, first.gap)),
                 self.at(first.near, first.barrier.gap_face[2])]  # fmt: skip
        for k in range(PARTS):
            self.builder.iron_quad("cap", [top[k], top[k + 1], below[k + 1], below[k]])
        for k, layer in enumerate(self.layers):
            far = self._bridge(k, layer, near)
            self._barrier(layer)
            if k + 1 < len(self.layers):
                near = self.on_surface(f"near {k + 1}", self.layers[k + 1].barrier.near_angle)
                self._channel(k, layer, self.layers[k + 1], far, near)
        self._core(self.layers[-1], far)

    def _bridge(self, number: int, layer: _Layer, near: Place) -> Place:
        """Add a bridge in parts; return its far surface node.

        Its inner side goes evenly from one of the barrier's corners to the other. Flux that enters
        from the gap gathers towards both ends: every part takes its field at two Gauss points.
        """
        b = layer.barrier
        t, r_out = b.bridge_thickness, self.rotor.outer_radius
        parts = self._parts(b.near_angle, b.far_angle)
        length = (b.far_angle - b.near_angle) * (r_out - 0.5 * t) / parts
        last = near
        for k in range(parts):
            name = f"bridge {number} {k}" if k + 1 < parts else f"far {number}"
            angle = b.near_angle + (k + 1) / parts * (b.far_angle - b.near_angle)
            node = self.on_surface(name, angle)
            for at in GAUSS_PAIR:
                inner = (k + at) / parts
                self.builder.iron(
                    "bridge",
                    0.5 * length * t,
                    [
                        (last.node, (1.0 - at) / t),
                        (node.node, at / t),
                        (layer.near, -(1.0 - inner) / t),
                        (layer.far, -inner / t),
                    ],
                )
            last = node
        return last

    def _parts(self, start: float, end: float) -> int:
        """Return into how many parts to divide the surface between two angles [rad]."""
        return max(2, ceil((end - start) / self.half_pole * 90.0 / SURFACE_STEP - 1e-9))

    def _barrier(self, layer: _Layer) -> None:
        """Add magnet and air parts of a barrier."""
        b, nodes = layer.barrier, layer.nodes
        before = parts_before_bend(b)
        extra = bend_excess(b)
        for k in range(PARTS - 1):
            corners = (layer.gap[k], layer.gap[k + 1], layer.shaft[k + 1], layer.shaft[k])
            length = 0.5 * (dist(*corners[:2]) + dist(*corners[2:]))
            thickness = centre_gradient(corners)[1] / length
            if k in (before - 1, before):
                # Beside the bend: the straight face towards the gap, and what the corner adds.
                thickness = (
                    dist(layer.gap[k], layer.shaft[k])
                    if k < before
                    else dist(layer.gap[k + 1], layer.shaft[k + 1])
                )
                length = dist(*corners[:2]) + thickness * extra[0 if k < before else 1]
            row = [(nodes[k], -self.side), (nodes[k + 1], self.side)]
            width = magnet_overlap(b, layer.gap[k], layer.gap[k + 1])
            if width > 0.0:
                self.builder.magnet(
                    row,
                    thickness=thickness,
                    width=width,
                    air_width=max(length - width, 0.0),
                    reluctivity=1.0 / MU0,
                    recoil=self.machine.magnet.recoil_permeability,
                )
            else:
                self.builder.branch(thickness / (MU0 * length), row)
        self.builder.air_quad(
            [
                self.at(nodes[-1], layer.gap[-1]),
                self.at(layer.near, b.gap_face[2]),
                self.at(layer.far, b.shaft_face[2]),
                self.at(nodes[-1], layer.shaft[-1]),
            ],
            1.0 / MU0,
        )

    def _channel(self, number: int, outer: _Layer, inner: _Layer, far: Place, near: Place) -> None:
        """Add the iron between two barriers."""
        quad = self.builder.iron_quad
        for k in range(PARTS - 1):
            quad("channel", [
                self.at(outer.nodes[k], outer.shaft[k]),
                self.at(outer.nodes[k + 1], outer.shaft[k + 1]),
                self.at(inner.nodes[k + 1], inner.gap[k + 1]),
                self.at(inner.nodes[k], inner.gap[k]),
            ])  # fmt: skip
        self._mouth(number, outer, inner, far, near)

    def _mouth(self, number: int, outer: _Layer, inner: _Layer, far: Place, near: Place) -> None:
        """Add the end of a channel between surface and the barriers' last nodes.

        Flux from the gap spreads over the channel's width on its way in: two rows of cells, with
        nodes of their own on the line between the barriers' corners. Along the surface the flux
        grows towards the saturated bridges, so that cells there take their field at two points.
        """
        left = self.at(outer.far, outer.barrier.shaft_face[2])
        right = self.at(inner.near, inner.barrier.gap_face[2])
        first = self.at(outer.nodes[-1], outer.shaft[-1])
        last = self.at(inner.nodes[-1], inner.gap[-1])
        start, stop = outer.barrier.far_angle, inner.barrier.near_angle
        parts = self._parts(start, stop)
        top, foot = [far], [left]
        deep: list[Place | Between] = [first]
        for k in range(1, parts):
            share = k / parts
            top.append(self.on_surface(f"channel {number} {k}", start + share * (stop - start)))
            node = self.builder.node(f"channel {number} foot {k}{self.tag}")
            foot.append(Place(node, *between((left.x, left.y), (right.x, right.y), share)))
            deep.append(self._mean(first, last, share))
        top.append(near)
        foot.append(right)
        deep.append(last)
        for k in range(parts):
            self.builder.iron_quad("mouth", [top[k], top[k + 1], foot[k + 1], foot[k]], points=2)
            self.builder.iron_quad("channel", [foot[k], foot[k + 1], deep[k + 1], deep[k]])

    def _mean(self, a: Place, b: Place, share: float) -> Between:
        """Return the point a share of the way from one place to another."""
        return Between(
            ((a.seen, (1.0 - share) * a.sign), (b.seen, share * b.sign)),
            *between((a.x, a.y), (b.x, b.y), share),
        )

    def _bend(self, layer: _Layer) -> tuple[int, Between] | None:
        """Return the shaft face's bend and the number of the node before it.

        None where a node lies on it. Its potential is the mean of its neighbours' by their
        distance along the face.
        """
        found = bend_between(layer.barrier, layer.shaft)
        if found is None:
            return None
        k, share = found
        nodes = (*layer.nodes, layer.far)
        terms = ((nodes[k], 1.0 - share), (nodes[k + 1], share))
        x, y = layer.barrier.shaft_face[1]
        return k, Between(terms, x, self.side * y)

    def _core(self, layer: _Layer, far: Place) -> None:
        """Add interpolar zone and core inside the deepest barrier, as in `interior_table`."""
        quad, half = self.builder.iron_quad, self.half_pole
        b = layer.barrier
        shaft = [self.at(n, p) for n, p in zip(layer.nodes, layer.shaft)]
        corner = self.at(layer.far, b.shaft_face[2])
        middle = self.on_surface("interpolar", 0.5 * (b.far_angle + half))
        edge = self.polar(self.edge, self.rotor.outer_radius, half, self.side)
        r_bridge = self.rotor.outer_radius - b.bridge_thickness
        radius = [hypot(*p) for p in layer.shaft]
        q_high = self.polar(self.q_nodes[0], 0.75 * r_bridge + 0.25 * radius[3], half, self.side)
        q_low = self.polar(self.q_nodes[1], 0.5 * (radius[1] + radius[2]), half, self.side)
        r_shaft = self.rotor.shaft_radius
        z_d = self.polar(GROUND, r_shaft, 0.0)
        z_mid = self.polar(GROUND, r_shaft, 0.5 * half)
        z_q = self.polar(GROUND, r_shaft, half)
        quad("interpolar", [far, middle, q_high, corner])
        quad("interpolar", [middle, edge, q_high])
        before, bend = self._bend(layer) or (-1, corner)
        # Where no node lies on the face's bend the iron between them is cut there.
        quad("interpolar", [corner, q_high, bend if before == 3 else shaft[3]])
        if before == 3:
            quad("core", [shaft[3], bend, q_high, q_low], points=2)
            quad("core", [shaft[2], shaft[3], q_low])
        elif before == 2:
            quad("core", [bend, shaft[3], q_high, q_low], points=2)
            quad("core", [shaft[2], bend, q_low])
        else:
            quad("core", [shaft[2], shaft[3], q_high, q_low], points=2)
        if before == 1:
            quad("core", [bend, q_low, z_q, z_mid], points=2)
            quad("core", [bend, shaft[2], q_low])
            quad("core", [shaft[1], bend, z_mid])
        else:
            quad("core", [shaft[2], q_low, z_q, z_mid], points=2)
            quad("core", [shaft[1], shaft[2], z_mid])
        quad("core", [shaft[0], shaft[1], z_mid, z_d], points=2)
