"""Strength of bridges and rib of a rotor with buried magnets, by closed form.

Each pole's cap (iron between magnets and air gap) and its magnets hang on two bridges and on the
rib between the magnets. Rib and bridges are a tie and two beams, the cap a beam over the rib.
"""

from dataclasses import dataclass
from math import cos, hypot, log, pi, sin, sqrt

import numpy as np

from models.geometry.interior import pocket_outline
from models.geometry.section import arc_bulge, arc_points
from models.machine import InteriorRotor, Machine, rotor_as
from models.mechanical.disc import rim_growth
from models.mechanical.inertia import polygon_moments

FILLET_RADIUS = 0.5e-3
"""Fillet at the ends of bridges and rib [m]: 0.3 to 1 mm is common practice, no source. The drawn
section has sharp corners."""
YIELD_SLOPE = -6e-4
"""Relative fall of the yield strength of electrical steel per kelvin above 20 degC (common
practice, no source: about 7 % at 140 degC)."""
_STEP = pi / 180.0


@dataclass(frozen=True)
class RotorStress:
    """Stresses at one speed; all grow with its square.

    Attributes
    ----------
    force : float
        Centrifugal force of one cap and its magnets along the pole axis, per metre of iron
        [N/m].
    rib_share : float
        Share of that force carried by the rib.
    bridge_mean, rib_mean : float
        Tension over the bare section [Pa].
    bridge_bending : float
        Bending stress at the ends of the bridge [Pa].
    bridge_peak, rib_peak : float
        Equivalent stress in the fillets [Pa].
    """

    force: float
    rib_share: float
    bridge_mean: float
    rib_mean: float
    bridge_bending: float
    bridge_peak: float
    rib_peak: float

    @property
    def peak(self) -> float:
        """Greater of the two peak stresses [Pa]."""
        return max(self.bridge_peak, self.rib_peak)

    @property
    def mean(self) -> float:
        """Greater of the two mean stresses [Pa]."""
        return max(self.bridge_mean, self.rib_mean)


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
    r, sheet = rotor_as(machine, InteriorRotor), machine.lamination
    b, e, nu = r.bridge_thickness, sheet.youngs_modulus, sheet.poisson_ratio
    t = 0.5 * (r.barrier_near_angle + r.barrier_far_angle)
    h = 0.5 * pi / machine.pole_pairs
    radius = r.outer_radius - 0.5 * b
    length = (r.barrier_far_angle - r.barrier_near_angle) * radius
    rib_length = r.pocket_inner[0][0] - r.pocket_inner[1][0]
    force = _cap_force(machine, speed)[0] + sheet.density * speed**2 * b * length * radius * cos(t)
    grown = _yoke_growth(machine, speed)

    beam = length + b
    shear = 2.0 * (1.0 + nu) * b**2 / (5.0 / 6.0 * beam**2)
    k_rib = e / (rib_length / r.rib_width + _rib_root(r))
    k_stretch = e / (length / b + _bridge_root(r, h))
    k_shift = e * b**3 / (beam**3 * (1.0 + shear))
    from_cap = k_stretch * sin(t) ** 2 + k_shift * cos(t) ** 2
    depth = r.outer_radius - r.pocket_inner[0][0]
    sideways = _cap_force(machine, speed)[1]

    arm = radius * sin(t) - 0.5 * r.rib_width
    middle = r.outer_radius - 0.5 * depth

    def balance(bow: float) -> tuple[float, float, float, float, float, float]:
        """Rib's and bridge's stretch, bridge's shift, cap's tension, moment and bow at the tip."""
        out = grown + bow
        held = (force - 2.0 * k_stretch * (out * sin(t) + grown * sin(h - t)) * sin(t)
                - 2.0 * k_shift * (out * cos(t) - grown * cos(h - t)) * cos(t))  # fmt: skip
        u = held / (k_rib + 2.0 * from_cap)
        stretch = (out + u) * sin(t) + grown * sin(h - t)
        shift = (out + u) * cos(t) - grown * cos(h - t)
        tie, shove = k_stretch * stretch, k_shift * shift
        pull = sideways + tie * cos(t) - shove * sin(t)
        # About the shaft axis, where centrifugal forces have no moment.
        moment = pull * middle - tie * radius - 0.25 * r.rib_width * k_rib * u
        at_tip = (
            tie * (middle * cos(t) - radius)
            - shove * middle * sin(t)
            + (0.5 * r.rib_width * (tie * sin(t) + shove * cos(t)))
        )
        bowed = 12.0 * arm**2 / (e * depth**3) * ((moment - at_tip) / 4.0 + at_tip / 3.0)
        return u, stretch, shift, pull, moment, bowed

    # Everything is linear in the bow.
    none, some = balance(0.0)[5], balance(1e-6)[5]
    u, stretch, shift, pull, moment, _ = balance(none / (1.0 - (some - none) / 1e-6))

    rib = k_rib * u / r.rib_width
    bridge = k_stretch * stretch / b
    weight = sheet.density * speed**2 * radius * length**2 / (2.0 * b)
    bending = 3.0 * e * b * abs(shift) / (beam**2 * (1.0 + shear)) + weight
    rib_fillet = min(fillet_radius, 0.5 * rib_length)
    fillet = min(fillet_radius, 0.5 * length)
    yoke_hoop = e * grown / hypot(*r.pocket_inner[1])
    cap_edge = pull / depth + 6.0 * moment / depth**2
    across = max(
        yoke_hoop * foot_factor(r.rib_width, r.pocket_inner[1][0] - r.shaft_radius, rib_fillet),
        cap_edge * foot_factor(r.rib_width, depth, rib_fillet),
    )
    return RotorStress(
        force=force,
        rib_share=rib * r.rib_width / force if force > 0.0 else 0.0,
        bridge_mean=abs(bridge),
        rib_mean=abs(rib),
        bridge_bending=bending,
        # The bridge has a fillet on one side only: half of a bar twice as thick in tension.
        bridge_peak=abs(bridge) * fillet_factor(2.0 * b, r.magnet_thickness, fillet)
        + bending * bending_factor(b, r.magnet_thickness, fillet),
        rib_peak=abs(rib) * fillet_factor(r.rib_width, r.magnet_thickness, rib_fillet) + across,
    )


def foot_factor(width: float, depth: float, radius: float) -> float:
    """Return the factor in the fillet at the foot of a rib on a bar that is pulled lengthwise.

    Parameters
    ----------
    width : float
        Width of the rib along the bar [m].
    depth : float
        Depth of the bar under the rib [m].
    radius : float
        Fillet [m].

    Returns
    -------
    float
        Heywood's form for a shoulder in tension, the bar being half of one with a rib on either
        side. A narrow shoulder counts as a bar of depth D_x = d + 0.3 width, however far it
        stands out (Heywood, in Peterson; from memory).
    """
    return fillet_factor(2.0 * depth, 0.15 * width, radius)


def fillet_factor(width: float, step: float, radius: float) -> float:
    """Return Heywood's stress-concentration factor of a stepped flat bar in tension.

    Parameters
    ----------
    width : float
        Width d of the narrow part [m].
    step : float
        Height of the shoulder on each side, (D - d) / 2 [m].
    radius : float
        Fillet radius [m].

    Returns
    -------
    float
        1 + (h / (r (2.8 D/d - 2)))^0.65.
    """
    ratio = 1.0 + 2.0 * step / width
    return float(1.0 + (step / (radius * (2.8 * ratio - 2.0))) ** 0.65)


def bending_factor(width: float, step: float, radius: float) -> float:
    """Return Heywood's factor in bending, 1 + (h / (r (5.37 D/d - 4.8)))^0.85."""
    ratio = 1.0 + 2.0 * step / width
    return float(1.0 + (step / (radius * (5.37 * ratio - 4.8))) ** 0.85)


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


def _bridge_root(r: InteriorRotor, half_pole: float) -> float:
    """Return E times the give of both ends of a bridge under one newton per metre.

    Michell's wedge of 90 degrees pulled along one face: radial stress 2.14 / r on that face.
    """
    area, _ = _half_cap(r)
    depth = area / r.barrier_corners[0][1]
    web = r.outer_radius * sin(half_pole - r.barrier_far_angle)
    along = 0.5 / (0.25 * pi + 0.5) + 0.5 / (0.25 * pi - 0.5)
    b = r.bridge_thickness
    return along * (log(max(depth / b, 1.0)) + log(max(web / b, 1.0)))


def _rib_root(r: InteriorRotor) -> float:
    """Return E times the give of both ends of the rib: Flamant's half plane, to half depth."""
    depth = r.outer_radius - r.pocket_inner[0][0]
    return 2.0 * (2.0 / pi) * log(max(depth / r.rib_width, 1.0))


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
