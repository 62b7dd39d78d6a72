"""Rotor part of the network for one V (or flat) of buried magnets per pole."""

from math import cos, hypot, pi, sin

from models.circuit.barrier_faces import over_cap
from models.circuit.coupling import SurfaceNodes
from models.circuit.network import GAUSS_PAIR, GROUND, NetworkBuilder, Place
from models.constants import MU0
from models.machine import InteriorRotor, Machine, rotor_as

MAGNET_PARTS = 3
"""Segments per magnet leg."""


def add_interior_rotor(builder: NetworkBuilder, machine: Machine) -> SurfaceNodes:
    """Add one rotor pole.

    Notes
    -----
    Seen from the pole axis outwards, each half pole has surface nodes over the magnet thirds, the
    near corner, the middle and the far corner of the outer barrier, the middle of the interpolar
    zone, and the pole boundary. The magnet leg has nodes at the inner pocket end, the thirds and
    the end. One value serves both magnet faces where flux crosses the magnet along its
    magnetisation; at the end, where it leaves through the end face into the outer barrier, the
    faces have one each. Two nodes lie on the boundary between poles (the q line).
    """
    rotor = rotor_as(machine, InteriorRotor)
    half_pole = pi / (2 * machine.pole_pairs)
    centre = builder.node("surface centre")
    edge = builder.node("surface pole boundary")
    q_upper, q_lower = builder.node("q line upper"), builder.node("q line lower")
    angles = _surface_angles(rotor, half_pole)
    surface = [(centre, 0.0), (edge, half_pole)]
    inner: list[int] = []
    for side in (1.0, -1.0):
        nodes, inner_node = _add_half_pole(
            builder, machine, side, angles, (centre, edge, q_upper, q_lower)
        )
        surface += [(n, side * a) for n, a in zip(nodes, angles)]
        inner.append(inner_node)

    # Rib on the pole axis: its flux is the difference of the two inner pocket ends.
    (x_gap, _), (x_shaft, _) = rotor.pocket_inner
    g = 1.0 / rotor.rib_width
    builder.iron("rib", rotor.rib_width * (x_gap - x_shaft), [(inner[0], g), (inner[1], -g)])
    surface.sort(key=lambda item: item[1])
    return SurfaceNodes.of_pole(
        [n for n, _ in surface], [a for _, a in surface], rotor.outer_radius
    )


def _surface_angles(rotor: InteriorRotor, half_pole: float) -> tuple[float, ...]:
    """Return the angles of the seven surface nodes between pole axis and pole boundary."""
    near, far = rotor.barrier_near_angle, rotor.barrier_far_angle
    over = over_cap(near, rotor.bridge_thickness / rotor.outer_radius, _leg_points(rotor)[0][1:])
    return (*over, near, 0.5 * (near + far), far, 0.5 * (far + half_pole))


def _leg_points(
    rotor: InteriorRotor,
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Return inner end, magnet thirds and magnet end on the gap face and on the shaft face."""
    gap_in, gap_out, shaft_out, shaft_in = rotor.magnet_corners
    faces = []
    for start, a, b in (
        (rotor.pocket_inner[0], gap_in, gap_out),
        (rotor.pocket_inner[1], shaft_in, shaft_out),
    ):
        points = [start]
        for k in range(1, MAGNET_PARTS + 1):
            s = k / MAGNET_PARTS
            points.append((a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])))
        faces.append(points)
    return faces[0], faces[1]


def _add_half_pole(
    builder: NetworkBuilder,
    machine: Machine,
    side: float,
    angles: tuple[float, ...],
    shared: tuple[int, int, int, int],
) -> tuple[list[int], int]:
    """Add the half pole with y > 0 (side 1) or its mirror (side -1)."""
    rotor = rotor_as(machine, InteriorRotor)
    centre, edge, q_upper, q_lower = shared
    half_pole = pi / (2 * machine.pole_pairs)
    tag = "+" if side > 0 else "-"
    surface = [builder.node(f"surface {k}{tag}") for k in range(len(angles))]
    leg = [builder.node(f"leg {k}{tag}") for k in range(MAGNET_PARTS + 1)]
    near, far = builder.node(f"barrier near{tag}"), builder.node(f"barrier far{tag}")
    end_shaft = builder.node(f"leg end shaft{tag}")
    gap_face, shaft_face = _leg_points(rotor)
    near_xy, far_xy = rotor.barrier_corners
    # Nodes on the boundary belong to the upper side; the lower side sees them one pole back.
    q_sign = side

    def at(node: int, point: tuple[float, float], sign: float = 1.0) -> Place:
        return Place(node, point[0], side * point[1], sign)

    def polar(node: int, radius: float, angle: float, sign: float = 1.0) -> Place:
        return Place(node, radius * cos(angle), side * radius * sin(angle), sign)

    r_out = rotor.outer_radius
    top = [polar(centre, r_out, 0.0)]
    top += [polar(n, r_out, a) for n, a in zip(surface, angles)]
    top.append(polar(edge, r_out, half_pole, q_sign))
    gap = [at(n, p) for n, p in zip(leg, gap_face)]
    shaft = [at(n, p) for n, p in zip((*leg[:-1], end_shaft), shaft_face)]

    # Pole cap between surface and magnet.
    below = [*gap, at(near, near_xy)]
    for k in range(MAGNET_PARTS + 1):
        builder.iron_quad("cap", [top[k], top[k + 1], below[k + 1], below[k]])

    # Bridge in two halves, each with its field at two Gauss points: flux that enters from the gap
    # gathers towards both ends. Its inner side goes evenly from corner to corner.
    r_bridge = r_out - rotor.bridge_thickness
    half_length = 0.5 * (rotor.barrier_far_angle - rotor.barrier_near_angle)
    length = half_length * 0.5 * (r_out + r_bridge)
    t = rotor.bridge_thickness
    for k in range(2):
        for share in GAUSS_PAIR:
            across = 0.5 * (k + share)
            builder.iron(
                "bridge",
                0.5 * length * t,
                [
                    (surface[3 + k], (1.0 - share) / t),
                    (surface[4 + k], share / t),
                    (near, -(1.0 - across) / t),
                    (far, -across / t),
                ],
            )

    # Magnet thirds; air beside the magnet at the inner pocket end shares the first.
    third = rotor.magnet_width / MAGNET_PARTS
    inner_air = _inner_air_width(rotor)
    for k in range(MAGNET_PARTS):
        row = [(leg[k], -side), (leg[k + 1], side)]
        if k == MAGNET_PARTS - 1:
            row = [(leg[k], -side), (leg[k + 1], 0.5 * side), (end_shaft, 0.5 * side)]
        builder.magnet(
            row,
            thickness=rotor.magnet_thickness,
            width=third,
            air_width=inner_air if k == 0 else 0.0,
            reluctivity=1.0 / MU0,
            recoil=machine.magnet.recoil_permeability,
        )
    # Flux between these corners leaves through the magnet's end face: along the magnet it grows
    # linearly from nothing over the last third, across it it shifts flux from one face to the
    # other. Both parts of the energy, integrated over the third:
    h = rotor.magnet_thickness
    builder.branch(
        (third / (3.0 * h) + h / (12.0 * third)) / (MU0 * machine.magnet.recoil_permeability),
        [(end_shaft, 1.0), (leg[-1], -1.0)],
    )
    # Outer barrier between the magnet's end face and the bridge.
    builder.air_quad([gap[-1], at(near, near_xy), at(far, far_xy), shaft[-1]], 1.0 / MU0)

    # Interpolar zone and core under the magnets.
    # The upper q-line node stands a quarter of the way down from the bridge to the magnet end:
    # between neighbouring far corners the iron is narrowest near the bridge.
    r_high = 0.75 * r_bridge + 0.25 * _radius(shaft_face[-1])
    q_high = polar(q_upper, r_high, half_pole, q_sign)
    r_low = 0.5 * (_radius(shaft_face[1]) + _radius(shaft_face[2]))
    q_low = polar(q_lower, r_low, half_pole, q_sign)
    r_shaft = rotor.shaft_radius
    z_d = polar(GROUND, r_shaft, 0.0)
    z_mid = polar(GROUND, r_shaft, 0.5 * half_pole)
    z_q = polar(GROUND, r_shaft, half_pole)
    mid_inner = at(far, far_xy)
    builder.iron_quad("interpolar", [top[6], top[7], q_high, mid_inner])
    builder.iron_quad("interpolar", [top[7], top[8], q_high])
    builder.iron_quad("interpolar", [mid_inner, q_high, shaft[3]])
    builder.iron_quad("core", [shaft[3], q_high, q_low, shaft[2]])
    builder.iron_quad("core", [shaft[2], q_low, z_q, z_mid])
    builder.iron_quad("core", [shaft[1], shaft[2], z_mid])
    builder.iron_quad("core", [shaft[0], shaft[1], z_mid, z_d])
    return surface, leg[0]


def _radius(point: tuple[float, float]) -> float:
    return hypot(*point)


def _inner_air_width(rotor: InteriorRotor) -> float:
    """Return the mean width of the air between rib wall and magnet [m]."""
    a, b = rotor.pocket_inner
    c, _, _, d = rotor.magnet_corners
    points = (a, c, d, b)
    area = 0.5 * abs(
        sum(
            points[k][0] * points[(k + 1) % 4][1] - points[(k + 1) % 4][0] * points[k][1]
            for k in range(4)
        )
    )
    return area / rotor.magnet_thickness
