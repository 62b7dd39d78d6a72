"""Strength of bridges and rib of a rotor with buried magnets, by closed form.

Each pole's cap (iron between magnets and air gap) and its magnets hang on two bridges and on the
rib between the magnets. Rib and bridges are a tie and two beams, the cap a beam over the rib.
"""

from math import cos, hypot, pi, sin, sqrt

import numpy as np

from models.geometry.interior import pocket_outline
from models.geometry.section import arc_bulge, arc_points
from models.machine import InteriorRotor, Machine, rotor_as
from models.mechanical.disc import rim_growth
from models.mechanical.hung_cap import HungCap, RotorStress, cap_stress
from models.mechanical.inertia import polygon_moments

FILLET_RADIUS = 0.5e-3
"""Fillet at the ends of bridges and rib [m]: 0.3 to 1 mm is common practice, no source. The drawn
section has sharp corners."""
YIELD_SLOPE = -6e-4
"""Relative fall of the yield strength of electrical steel per kelvin above 20 degC (common
practice, no source: about 7 % at 140 degC)."""
_STEP = pi / 180.0


def rotor_stress(
    machine: Machine, speed: float, *, fillet_radius: float = FILLET_RADIUS
) -> RotorStress:
    """Return the stresses in bridges and rib.

    Parameters
    ----------
    machine : Machine
        A machine with an interior rotor.
    speed : float
        [rad/s].
    fillet_radius : float
        Fillet at the ends of bridges and rib [m].

    Returns
    -------
    RotorStress

    Notes
    -----
    Per unit length of iron. The yoke ring grows by u_y under its own and the poles' load; it
    carries the roots of ribs and of the interpolar iron with it. The cap moves u further along
    the pole axis. Of a bridge at angle t from that axis, with half pole angle h,

    * stretch s = (u_y + u_b) sin t + u_y sin(h - t), stiffness E / (l/b + c_cap + c_web);
    * shift d = (u_y + u_b) cos t - u_y cos(h - t), clamped beam with shear, stiffness
      E b^3 / (l_e^3 (1 + Phi)), Phi = 2 (1 + nu) b^2 / (5/6 l_e^2), l_e = l + b;

    where u is what the rib gives way and u_b = u + v at the bridge takes its place: the cap bows
    by v over the rib. It is a cantilever of its depth D at the rib, with half the cap's load
    spread (v = M l^2 / (4 E I)) and the bridge's pull at its tip (M l^2 / (3 E I)); M follows from
    the balance about the shaft axis, where centrifugal forces have no moment. Rib and bridges
    carry the cap: F = E u / (l_r/w + c_rib) + 2 (k_s s sin t + k_d d cos t); all of it is linear
    and solved in closed form. The iron that bridges and rib are joined to gives way as well: a
    bridge pulls at the edge of a right-angled wedge (Michell: 2.14 ln(H/b) / E, H the mean depth
    of the cap or half the interpolar web), a rib at a half plane (Flamant: 2/pi ln(D/w) / E at
    each end). Bending stress at the ends is 3 E b d / (l_e^2 (1 + Phi)) and, from the bridge's own
    weight, rho omega^2 R l^2 / (2 b). Fillets by Heywood's stress-concentration forms (tension
    and bending apart).

    The rib's fillets carry a second stress beside its tension: the rib stands like a foot on the
    yoke ring, which is in hoop tension E u_y / r, and on the cap's edge, with N/D + 6 M/D^2. The
    greater of the two times `foot_factor` is added; for a wide rib it is the larger part.

    Magnets push on the cap with their whole force. Elastic, small deformation; local yielding in
    fillets, press fit and glue are left out. Against `models.mechanical.plane_stress` on 120
    random designs of the island-post-van study: governing peak stress median +0 %, from -11 %
    (5th percentile) to +19 % (95th), at worst -24 and +44 %; mean stress of the rib median -7 %
    (-14 to -1 %), of the bridge median +23 % (+7 to +52 %). Bridges shorter than twice their
    thickness in nearly flat rotors come out too low, others of that length too high.

    References
    ----------
    E. C. Lovelace, T. M. Jahns, T. A. Keim, J. H. Lang, IEEE Trans. Ind. Appl. 40(3) 806, 2004
    (the idea of beams carrying a cap; from memory); Timoshenko and Goodier, *Theory of
    Elasticity*, arts. 36 and 38 (half plane, wedge; from memory); R. B. Heywood, *Designing by
    Photoelasticity*, 1952, in Peterson, shoulder fillets and narrow shoulders (from memory).
    """
    return cap_stress(
        _hung_cap(machine, speed), machine.lamination, speed, fillet_radius=fillet_radius
    )


def _hung_cap(machine: Machine, speed: float) -> HungCap:
    r = rotor_as(machine, InteriorRotor)
    half_pole = 0.5 * pi / machine.pole_pairs
    area, _ = _half_cap(r)
    force, sideways = _cap_force(machine, speed)
    return HungCap(
        outer_radius=r.outer_radius,
        half_pole=half_pole,
        bridge_thickness=r.bridge_thickness,
        near_angle=r.barrier_near_angle,
        far_angle=r.barrier_far_angle,
        rib_width=r.rib_width,
        rib_length=r.pocket_inner[0][0] - r.pocket_inner[1][0],
        step=r.magnet_thickness,
        depth=r.outer_radius - r.pocket_inner[0][0],
        foot_depth=r.pocket_inner[1][0] - r.shaft_radius,
        foot_radius=hypot(*r.pocket_inner[1]),
        bridge_depth=area / r.barrier_corners[0][1],
        bridge_web=r.outer_radius * sin(half_pole - r.barrier_far_angle),
        force=force,
        sideways=sideways,
        grown=_yoke_growth(machine, speed),
    )


def _half_cap(r: InteriorRotor) -> tuple[float, tuple[float, float]]:
    """Return area and centroid (along, across the pole axis) of the upper half of a cap."""
    near = r.barrier_near_angle
    surface = (r.outer_radius * cos(near), r.outer_radius * sin(near))
    crest = (r.outer_radius, 0.0)
    # Going back along the surface the loop runs clockwise, so the arc bulges to the right.
    arc = arc_points(surface, crest, -arc_bulge(near), _STEP)
    points = [
        (r.pocket_inner[0][0], 0.0), r.pocket_inner[0], r.magnet_corners[0], r.magnet_corners[1],
        r.barrier_corners[0], surface, *arc, crest,
    ]  # fmt: skip
    area, centroid, _ = polygon_moments(np.asarray(points))
    return abs(area), centroid


def _cap_force(machine: Machine, speed: float) -> tuple[float, float]:
    """Return the pull of one cap and its two magnets along the pole axis, and of half of them
    across it, per iron length [N/m]."""
    r = rotor_as(machine, InteriorRotor)
    area, (x, y) = _half_cap(r)
    magnet_area, (magnet_x, magnet_y), _ = polygon_moments(np.asarray(r.magnet_corners))
    iron = machine.lamination.density * area
    magnet = machine.magnet.density * abs(magnet_area) / machine.stacking_factor
    return (
        2.0 * speed**2 * (iron * x + magnet * magnet_x),
        speed**2 * (iron * y + magnet * magnet_y),
    )


def _yoke_growth(machine: Machine, speed: float) -> float:
    """Return the growth of the yoke ring inside the pockets, with all outside it as pull [m]."""
    r, sheet = rotor_as(machine, InteriorRotor), machine.lamination
    root = hypot(*r.pocket_inner[1])
    pocket, (px, py), _ = polygon_moments(pocket_outline(r).polygon(_STEP))
    magnet, (mx, my), _ = polygon_moments(np.asarray(r.magnet_corners))
    legs = 4 * machine.pole_pairs
    # Integral of density times radius over all that lies outside the ring.
    outside = sheet.density * (
        2.0 * pi / 3.0 * (r.outer_radius**3 - root**3) - legs * pocket * hypot(px, py)
    ) + machine.magnet.density / machine.stacking_factor * legs * abs(magnet) * hypot(mx, my)
    return rim_growth(
        inner=r.shaft_radius, outer=root, density=sheet.density, speed=speed,
        poisson=sheet.poisson_ratio, youngs_modulus=sheet.youngs_modulus,
        pull=outside * speed**2 / (2.0 * pi * root),
    )  # fmt: skip


def bridge_stress(machine: Machine, speed: float) -> float:
    """Return the greater equivalent stress of bridge and rib at a speed [rad/s], in [Pa]."""
    return rotor_stress(machine, speed).peak


def bridge_safety_factor(machine: Machine, speed: float, *, temperature: float = 20.0) -> float:
    """Return yield strength over equivalent stress in bridge or rib, whichever is lower.

    Parameters
    ----------
    machine : Machine
        The machine.
    speed : float
        [rad/s], > 0; overspeed as a rule.
    temperature : float
        Rotor sheet temperature [degC].

    Returns
    -------
    float
        Safety factor; 1.1 to 1.5 at overspeed is common practice, no source.
    """
    return yield_strength(machine, temperature) / bridge_stress(machine, speed)


def yield_strength(machine: Machine, temperature: float) -> float:
    """Return the yield strength of the rotor sheet at a temperature [degC], in [Pa]."""
    return machine.lamination.yield_strength * (1.0 + YIELD_SLOPE * (temperature - 20.0))


def burst_speed(machine: Machine) -> float:
    """Return the speed at which the mean bridge or rib stress reaches tensile strength [rad/s].

    Ductile sheet yields in fillets before it tears, so the mean stress decides.
    """
    return sqrt(machine.lamination.tensile_strength / rotor_stress(machine, 1.0).mean)
