"""Strength of bridges and ribs of a rotor with layers of barriers, by closed form.

All that lies outside a barrier hangs on its rib and its two bridges. Each barrier is one balance
of `hung_cap`; the deepest is rooted in the yoke ring, the others in the iron under them.
"""

from dataclasses import replace
from math import cos, hypot, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from models.geometry.barriers import barrier_pocket
from models.geometry.section import arc_bulge, arc_points
from models.machine import Barrier, LayeredRotor, Machine, rotor_as
from models.mechanical.disc import rim_growth
from models.mechanical.hung_cap import HungCap, RotorStress, cap_stress
from models.mechanical.inertia import polygon_moments
from models.mechanical.notches import fillet_factor
from models.mechanical.rotor_stress import FILLET_RADIUS, yield_strength

_STEP = pi / 180.0
Array = NDArray[np.float64]
Moments = tuple[float, float]
"""First moments of mass along and across the pole axis, per metre of iron [kg]."""


def layer_stresses(
    machine: Machine, speed: float, *, fillet_radius: float = FILLET_RADIUS
) -> tuple[RotorStress, ...]:
    """Return the stresses of every barrier's bridges and rib, from the gap inwards.

    Parameters
    ----------
    machine : Machine
        A machine with a layered rotor.
    speed : float
        [rad/s].
    fillet_radius : float
        Fillet at the ends of bridges and ribs [m].

    Notes
    -----
    Statics gives the force through every layer: all iron and magnets outside it. How rib and
    bridges share it follows as in `rotor_stress`, the iron between two barriers being the beam
    that bows, rooted for all but the deepest barrier in iron that moves along with it.
    """
    rotor = rotor_as(machine, LayeredRotor)
    caps = [_hung_cap(machine, rotor, k, speed) for k in range(len(rotor.barriers))]
    found = [
        cap_stress(cap, machine.lamination, speed, fillet_radius=fillet_radius) for cap in caps
    ]
    tension = found[-1].bridge_mean * caps[-1].bridge_thickness
    return tuple(_on_the_rim(s, cap, tension, fillet_radius) for s, cap in zip(found, caps))


def _on_the_rim(
    stress: RotorStress, cap: HungCap, tension: float, fillet_radius: float
) -> RotorStress:
    """Return the stresses with at least the rim's tension [N/m] in the bridge.

    The iron between two barriers is loose at its ends: along the rim the bridges hang on each
    other like a chain, so all carry about the pull of the deepest barrier's bridge.
    """
    b = cap.bridge_thickness
    missing = max(0.0, tension / b - stress.bridge_mean)
    fillet = min(fillet_radius, 0.5 * (cap.far_angle - cap.near_angle) * cap.outer_radius)
    return replace(
        stress,
        bridge_mean=stress.bridge_mean + missing,
        bridge_peak=stress.bridge_peak + missing * fillet_factor(2.0 * b, cap.step, fillet),
    )


def _hung_cap(machine: Machine, rotor: LayeredRotor, number: int, speed: float) -> HungCap:
    barriers = rotor.barriers
    b, is_deepest = barriers[number], number == len(barriers) - 1
    half_pole = 0.5 * pi / machine.pole_pairs
    above = barriers[number - 1] if number else None
    # Layers bow together, tied to each other at the rib and at both bridges but not between:
    # half way between beams that slide on each other and one solid beam.
    tops = [rotor.outer_radius, *(outer.shaft_face[0][0] for outer in barriers[:number])]
    layers = [top - below.gap_face[0][0] for top, below in zip(tops, barriers)]
    depth = (0.5 * (sum(d**3 for d in layers) + sum(layers) ** 3)) ** (1.0 / 3.0)
    if is_deepest:
        web = rotor.outer_radius * sin(half_pole - b.far_angle)
        foot = b.shaft_face[0][0] - rotor.shaft_radius
    else:
        web = rotor.outer_radius * (barriers[number + 1].near_angle - b.far_angle)
        foot = b.shaft_face[0][0] - barriers[number + 1].gap_face[0][0]
    along, across = _outside(machine, rotor, number)
    own = _half_cap_area(rotor, number) - (_half_cap_area(rotor, number - 1) if above else 0.0)
    if above:
        own -= abs(polygon_moments(barrier_pocket(above).polygon(_STEP))[0])
    return HungCap(
        outer_radius=rotor.outer_radius,
        half_pole=half_pole,
        bridge_thickness=b.bridge_thickness,
        near_angle=b.near_angle,
        far_angle=b.far_angle,
        rib_width=b.rib_width,
        rib_length=b.thickness,
        step=b.thickness,
        depth=depth,
        foot_depth=foot,
        foot_radius=hypot(*b.shaft_face[0]),
        bridge_depth=own / b.gap_face[2][1],
        bridge_web=web,
        force=2.0 * speed**2 * along,
        sideways=speed**2 * across,
        grown=_yoke_growth(machine, rotor, speed) if is_deepest else 0.0,
    )


def _cap_polygon(rotor: LayeredRotor, barrier: Barrier) -> Array:
    """Return the upper half of all that lies outside a barrier, its pockets included."""
    near = barrier.near_angle
    surface = (rotor.outer_radius * cos(near), rotor.outer_radius * sin(near))
    crest = (rotor.outer_radius, 0.0)
    arc = arc_points(surface, crest, -arc_bulge(near), _STEP)
    inner, bend, end = barrier.gap_face
    return np.asarray([(inner[0], 0.0), inner, bend, end, surface, *arc, crest])


def _half_cap_area(rotor: LayeredRotor, number: int) -> float:
    return abs(polygon_moments(_cap_polygon(rotor, rotor.barriers[number]))[0])


def _outside(machine: Machine, rotor: LayeredRotor, number: int) -> Moments:
    """Return the moments of half of all that hangs on a barrier's rib and bridges."""
    density = machine.lamination.density
    pieces = [(_cap_polygon(rotor, rotor.barriers[number]), density)]
    pieces += [(barrier_pocket(b).polygon(_STEP), -density) for b in rotor.barriers[:number]]
    pieces += _magnets(machine, rotor.barriers[: number + 1])
    return _sum(pieces)


def _magnets(machine: Machine, barriers: tuple[Barrier, ...]) -> list[tuple[Array, float]]:
    density = machine.magnet.density / machine.stacking_factor
    return [(np.asarray(b.magnet_corners), density) for b in barriers if b.has_magnet]


def _sum(pieces: list[tuple[Array, float]]) -> Moments:
    along = across = 0.0
    for polygon, density in pieces:
        area, (x, y), _ = polygon_moments(polygon)
        weight = density * abs(area)
        along, across = along + weight * x, across + weight * y
    return along, across


def _yoke_growth(machine: Machine, rotor: LayeredRotor, speed: float) -> float:
    """Return the growth of the yoke ring inside the barriers, with all outside it as pull [m]."""
    sheet = machine.lamination
    root = hypot(*rotor.barriers[-1].shaft_face[0])
    legs = 4 * machine.pole_pairs
    outside = sheet.density * 2.0 * pi / 3.0 * (rotor.outer_radius**3 - root**3)
    pockets = [(barrier_pocket(b).polygon(_STEP), -sheet.density) for b in rotor.barriers]
    for piece in (*pockets, *_magnets(machine, rotor.barriers)):
        outside += legs * (1.0 if piece[1] > 0.0 else -1.0) * hypot(*_sum([piece]))
    return rim_growth(
        inner=rotor.shaft_radius, outer=root, density=sheet.density, speed=speed,
        poisson=sheet.poisson_ratio, youngs_modulus=sheet.youngs_modulus,
        pull=outside * speed**2 / (2.0 * pi * root),
    )  # fmt: skip


def layer_safety_factor(machine: Machine, speed: float, *, temperature: float = 20.0) -> float:
    """Return yield strength over the greatest equivalent stress of all bridges and ribs.

    Parameters
    ----------
    machine : Machine
        A machine with a layered rotor.
    speed : float
        [rad/s], > 0; overspeed as a rule.
    temperature : float
        Rotor sheet temperature [degC].
    """
    peak = max(s.peak for s in layer_stresses(machine, speed))
    return yield_strength(machine, temperature) / peak


def layer_burst_speed(machine: Machine) -> float:
    """Return the speed at which a mean bridge or rib stress reaches tensile strength [rad/s]."""
    mean = max(s.mean for s in layer_stresses(machine, 1.0))
    return sqrt(machine.lamination.tensile_strength / mean)
