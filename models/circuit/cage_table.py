"""Rotor part of the network for a cage: bars, teeth, tips or bridges, yoke.

The table mirrors the stator's, see `models.circuit.stator_table` and `shouldered_tip`.
"""

from math import pi

import numpy as np

from models.circuit.cage_pole import CagePole
from models.circuit.coupling import SurfaceNodes
from models.circuit.network import Between, NetworkBuilder, before, half_way
from models.constants import MU0
from models.machine import Machine

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)
GAUSS_PLACES, GAUSS_WEIGHTS = 0.5 * (1.0 + _POINTS), 0.5 * _WEIGHTS
"""Gauss points over a tooth's height, from 0 to 1, and weights that sum to 1: between round bars
its width changes fast."""


def add_cage_rotor(builder: NetworkBuilder, machine: Machine, pole: CagePole) -> SurfaceNodes:
    """Add one rotor pole.

    Notes
    -----
    Each bar has nodes on both sides at its bottom and where its body ends: between them flux goes
    down through the bar, which matters beside saturated teeth. The surface has one on the slot's
    axis, on each shoulder where the tips begin to reach over the bar, on each tooth's axis and half
    way between.
    A closed slot's bridge is two tips that meet on the axis. The tooth before the first bar is
    that after the last one of the pole before.
    """
    r, n, pitch = pole.rotor, pole.count, pole.pitch
    bottom, top = (
        tuple([builder.node(f"bar {k} {end} {side}") for k in range(n)] for side in ("low", "high"))
        for end in ("bottom", "top")
    )
    opening = [builder.node(f"bar {k} opening") for k in range(n)]
    face = [builder.node(f"rotor tooth {k} face") for k in range(n)]
    root = [builder.node(f"rotor tooth {k} root") for k in range(n)]
    halves = [
        [builder.node(f"rotor tooth {k} {place}") for k in range(n)]
        for place in ("low face", "high face", "low root", "high root")
    ]
    low, high = opening, opening
    if pole.has_shoulders:
        low = [builder.node(f"bar {k} low shoulder") for k in range(n)]
        high = [builder.node(f"bar {k} high shoulder") for k in range(n)]
    for k in range(2):
        here = builder.mark()
        bottoms, tops = (bottom[0][k], bottom[1][k]), (top[0][k], top[1][k])
        _add_bar(builder, pole, bottoms, tops)
        if pole.opening > 0.0:
            mean = [(node, -0.5) for node in tops]
            builder.branch(1.0 / (MU0 * pole.cap), [(opening[k], 1.0), *mean])

        def seen(nodes: list[int], k: int = k) -> tuple[int, float]:
            """Return node and sign of the slot before this one."""
            return (nodes[k - 1], 1.0) if k > 0 else (before(nodes[-1]), -1.0)

        walls = seen(top[1]), (top[0][k], 1.0)
        feet = seen(bottom[1]), (bottom[0][k], 1.0)
        _add_tooth(builder, pole, feet, walls)
        _add_tip(
            builder, pole, (seen(face), seen(root)), (seen(opening), (opening[k], 1.0)),
            (seen(high), (low[k], 1.0)), walls, (seen(top[0]), (top[1][k], 1.0)), feet,
            tuple(seen(nodes) for nodes in halves),
        )  # fmt: skip
        _add_yoke(builder, pole, seen(bottom[1]), bottoms[0])
    builder.repeat(here, n - 2)

    axes = -0.5 * pi / pole.pole_pairs + pitch * (np.arange(n) + 0.5)
    side = pole.half_chord / r.outer_radius
    places = list(zip(axes.tolist(), opening))
    places += list(zip((axes + 0.5 * pitch).tolist(), face))
    if pole.has_shoulders:
        places += [*zip((axes - side).tolist(), low), *zip((axes + side).tolist(), high)]
    head = 0.5 * (0.5 * pitch - side)
    places += zip((axes + 0.5 * pitch - head).tolist(), halves[0])
    places += zip((axes + 0.5 * pitch + head).tolist(), halves[1])
    places.sort()
    return SurfaceNodes.of_pole(
        [node for _, node in places], [angle for angle, _ in places], r.outer_radius
    )


Seen = tuple[int, float]
"""A node and its sign."""


def _add_bar(
    builder: NetworkBuilder, pole: CagePole, bottoms: tuple[int, int], tops: tuple[int, int]
) -> None:
    """Add the flux across a bar, and that which goes down through it."""
    mean = [*((node, 0.5) for node in tops), *((node, -0.5) for node in bottoms)]
    builder.branch(1.0 / (MU0 * pole.body.permeance), mean)
    places, weights = GAUSS_PLACES, GAUSS_WEIGHTS
    height = pole.body_top - pole.rotor.bar_bottom
    widths = pole.width(pole.rotor.bar_bottom + height * places)
    shares = np.interp(places, *pole.body.profile)
    for share, width, weight in np.array([shares, widths, weights]).T.tolist():
        row = [
            (node, sign * part)
            for pair, part in ((bottoms, 1.0 - share), (tops, share))
            for node, sign in zip(pair, (1.0, -1.0))
        ]
        builder.branch(weight * height / (MU0 * width), row)


def _add_tooth(
    builder: NetworkBuilder, pole: CagePole, bottoms: tuple[Seen, Seen], tops: tuple[Seen, Seen]
) -> None:
    """Add the body of a tooth: its flux is the difference of the potentials beside it."""
    places, weights = GAUSS_PLACES, GAUSS_WEIGHTS
    low, height = pole.rotor.bar_bottom, pole.body_top - pole.rotor.bar_bottom
    even = 1.0 - pole.tooth_depth / height
    places = places * even
    radii = low + height * places
    widths = pole.pitch * radii - pole.width(radii)
    heights, profile = pole.body.profile
    shares = np.interp(places, heights, profile)
    rises = np.interp(
        places, 0.5 * (heights[1:] + heights[:-1]), np.diff(profile) / np.diff(heights)
    )
    cells = np.array([widths, shares, rises / height, weights])
    for width, share, rise, weight in cells.T.tolist():
        g = 1.0 / width
        row = [
            (node, factor * sign * g * part)
            for pair, part in ((bottoms, 1.0 - share), (tops, share))
            for (node, sign), factor in zip(pair, (1.0, -1.0))
        ]
        across = [
            (node, sign * part * rise)
            for pair, part in ((bottoms, -0.5), (tops, 0.5))
            for node, sign in pair
        ]
        builder.iron("rotor tooth", weight * even * height * width, row, across)


def _add_tip(
    builder: NetworkBuilder,
    pole: CagePole,
    middle: tuple[Seen, Seen],
    openings: tuple[Seen, Seen],
    shoulders: tuple[Seen, Seen],
    tops: tuple[Seen, Seen],
    far_tops: tuple[Seen, Seen],
    bottoms: tuple[Seen, Seen],
    halves: tuple[Seen, ...],
) -> None:
    """Add the head of a tooth: two pieces on each side of its axis, and what reaches over the bar.

    `halves` are its nodes half way to either side, at the face and at the root.
    `middle` are its nodes on the axis, at the face and at the root, `tops` those of the bars on its
    own sides (`bottoms` below them) and `far_tops` on the other ones. A second row leads from the
    root to where the potential is linear between the bars, so that flux which crosses the tooth is
    not held in its head.
    """
    r, half = pole.rotor, 0.5 * pole.pitch
    depth, thin = r.outer_radius - pole.body_top, r.opening_height
    shoulder, root = (half * x - pole.half_chord for x in (r.outer_radius, pole.body_top))
    edge, under = (half * x - 0.5 * pole.opening for x in (r.outer_radius, r.outer_radius - thin))
    face, root_middle = (Between((m,), 0.0, y) for m, y in zip(middle, (0.0, depth)))
    deep = depth + pole.tooth_depth
    radius = r.outer_radius - deep
    narrow = half * radius - 0.5 * float(pole.width(np.array([radius]))[0])
    low = pole.rotor.bar_bottom
    share = float(np.interp((radius - low) / (pole.body_top - low), *pole.body.profile))
    walls = [
        ((top[0], share * top[1]), (bottom[0], (1.0 - share) * bottom[1]))
        for top, bottom in zip(tops, bottoms)
    ]
    below_all = Between(tuple((n, 0.5 * w) for wall in walls for n, w in wall), 0.0, deep)
    near = 0.5 + 0.25 * pole.opening / pole.half_chord
    for number, (side, opening, at, top, far, wall_terms) in enumerate(
        zip((-1.0, 1.0), openings, shoulders, tops, far_tops, walls)
    ):
        below = Between((top,), side * root, depth)
        shoulder_at = Between((at,), side * shoulder, 0.0)
        wall = Between(wall_terms, side * narrow, deep)
        above = Between((halves[number],), 0.5 * side * shoulder, 0.0)
        between = Between((halves[2 + number],), 0.5 * side * root, depth)
        at_depth = half_way(wall, below_all)
        builder.iron_quad("rotor tip", [shoulder_at, above, between, below])
        builder.iron_quad("rotor tip", [above, face, root_middle, between])
        builder.iron_quad("rotor tip", [below, between, at_depth, wall])
        builder.iron_quad("rotor tip", [between, root_middle, below_all, at_depth])
        if pole.has_shoulders:
            builder.iron_quad(
                "rotor overhang",
                [
                    Between((opening,), side * edge, 0.0),
                    Between((at,), side * shoulder, 0.0),
                    below,
                    Between(
                        ((top[0], near * top[1]), (far[0], (1.0 - near) * far[1])),
                        side * under,
                        thin,
                    ),
                ],
                points=2,
                beside=pole.half_gap / (0.5 * (thin + depth)),
            )


def _add_yoke(builder: NetworkBuilder, pole: CagePole, last: Seen, own: int) -> None:
    """Add the yoke behind a tooth from the bar before it to the next.

    It is high against a bar's pitch: the tooth's flux spreads over the pitch.
    """
    r = pole.rotor
    height = r.yoke_height
    wide = (r.shaft_radius + 0.5 * height) * pole.pitch
    builder.iron(
        "rotor yoke",
        wide * height,
        [(last[0], 0.5 * last[1] / height), (own, 0.5 / height)],
        [(last[0], 0.5 * last[1] / wide), (own, -0.5 / wide)],
    )
