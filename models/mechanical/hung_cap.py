"""A pole's cap that hangs on a rib and two bridges: balance and stresses in closed form.

The balance of `rotor_stress` (one V) and of every layer in `layer_stress`.
"""

from dataclasses import dataclass
from math import cos, log, pi, sin

from models.materials.catalogue import Lamination
from models.mechanical.notches import bending_factor, fillet_factor, foot_factor


@dataclass(frozen=True)
class HungCap:
    """What hangs over one barrier, per metre of iron. Lengths in m, angles in rad.

    Attributes
    ----------
    outer_radius, half_pole : float
        Rotor surface radius, half a pole's angle.
    bridge_thickness, near_angle, far_angle : float
        Bridge and the barrier's corners under it.
    rib_width, rib_length : float
        Rib on the pole axis.
    step : float
        Width of the barrier: height of the shoulders at the fillets.
    depth : float
        Cap on the pole axis, from the rib to the surface.
    foot_depth, foot_radius : float
        Iron under the rib and the radius it starts at.
    bridge_depth, bridge_web : float
        Mean depth of the iron that the bridge's ends are joined to: cap, and iron beyond the
        barrier.
    force, sideways : float
        Pull of the cap along the pole axis, and of half of it across the axis [N/m].
    grown : float
        Growth of the ring that rib and bridges are rooted in [m].
    """

    outer_radius: float
    half_pole: float
    bridge_thickness: float
    near_angle: float
    far_angle: float
    rib_width: float
    rib_length: float
    step: float
    depth: float
    foot_depth: float
    foot_radius: float
    bridge_depth: float
    bridge_web: float
    force: float
    sideways: float
    grown: float


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


def cap_stress(
    cap: HungCap, sheet: Lamination, speed: float, *, fillet_radius: float
) -> RotorStress:
    """Return the stresses in bridge and rib; the equations are told in `rotor_stress`.

    Parameters
    ----------
    cap : HungCap
        Geometry, pull and growth at that speed.
    sheet : Lamination
        Rotor sheet.
    speed : float
        [rad/s].
    fillet_radius : float
        Fillet at the ends of bridges and rib [m].
    """
    b, e, nu = cap.bridge_thickness, sheet.youngs_modulus, sheet.poisson_ratio
    t, h, grown = 0.5 * (cap.near_angle + cap.far_angle), cap.half_pole, cap.grown
    radius = cap.outer_radius - 0.5 * b
    length = (cap.far_angle - cap.near_angle) * radius
    force = cap.force + sheet.density * speed**2 * b * length * radius * cos(t)

    beam = length + b
    shear = 2.0 * (1.0 + nu) * b**2 / (5.0 / 6.0 * beam**2)
    k_rib = e / (cap.rib_length / cap.rib_width + _rib_root(cap))
    k_stretch = e / (length / b + _bridge_root(cap))
    k_shift = e * b**3 / (beam**3 * (1.0 + shear))
    from_cap = k_stretch * sin(t) ** 2 + k_shift * cos(t) ** 2

    arm = radius * sin(t) - 0.5 * cap.rib_width
    middle = cap.outer_radius - 0.5 * cap.depth

    def balance(bow: float) -> tuple[float, float, float, float, float, float]:
        """Rib's and bridge's stretch, bridge's shift, cap's tension, moment and bow at the tip."""
        out = grown + bow
        held = (force - 2.0 * k_stretch * (out * sin(t) + grown * sin(h - t)) * sin(t)
                - 2.0 * k_shift * (out * cos(t) - grown * cos(h - t)) * cos(t))  # fmt: skip
        u = held / (k_rib + 2.0 * from_cap)
        stretch = (out + u) * sin(t) + grown * sin(h - t)
        shift = (out + u) * cos(t) - grown * cos(h - t)
        tie, shove = k_stretch * stretch, k_shift * shift
        pull = cap.sideways + tie * cos(t) - shove * sin(t)
        # About the shaft axis, where centrifugal forces have no moment.
        moment = pull * middle - tie * radius - 0.25 * cap.rib_width * k_rib * u
        at_tip = (
            tie * (middle * cos(t) - radius)
            - shove * middle * sin(t)
            + (0.5 * cap.rib_width * (tie * sin(t) + shove * cos(t)))
        )
        bowed = 12.0 * arm**2 / (e * cap.depth**3) * ((moment - at_tip) / 4.0 + at_tip / 3.0)
        return u, stretch, shift, pull, moment, bowed

    # Everything is linear in the bow.
    none, some = balance(0.0)[5], balance(1e-6)[5]
    u, stretch, shift, pull, moment, _ = balance(none / (1.0 - (some - none) / 1e-6))

    rib = k_rib * u / cap.rib_width
    bridge = k_stretch * stretch / b
    weight = sheet.density * speed**2 * radius * length**2 / (2.0 * b)
    bending = 3.0 * e * b * abs(shift) / (beam**2 * (1.0 + shear)) + weight
    rib_fillet = min(fillet_radius, 0.5 * cap.rib_length)
    fillet = min(fillet_radius, 0.5 * length)
    yoke_hoop = e * grown / cap.foot_radius
    cap_edge = pull / cap.depth + 6.0 * moment / cap.depth**2
    across = max(
        yoke_hoop * foot_factor(cap.rib_width, cap.foot_depth, rib_fillet),
        cap_edge * foot_factor(cap.rib_width, cap.depth, rib_fillet),
    )
    return RotorStress(
        force=force,
        rib_share=rib * cap.rib_width / force if force > 0.0 else 0.0,
        bridge_mean=abs(bridge),
        rib_mean=abs(rib),
        bridge_bending=bending,
        # The bridge has a fillet on one side only: half of a bar twice as thick in tension.
        bridge_peak=abs(bridge) * fillet_factor(2.0 * b, cap.step, fillet)
        + bending * bending_factor(b, cap.step, fillet),
        rib_peak=abs(rib) * fillet_factor(cap.rib_width, cap.step, rib_fillet) + across,
    )


def _bridge_root(cap: HungCap) -> float:
    """Return E times the give of both ends of a bridge under one newton per metre.

    Michell's wedge of 90 degrees pulled along one face: radial stress 2.14 / r on that face.
    """
    along = 0.5 / (0.25 * pi + 0.5) + 0.5 / (0.25 * pi - 0.5)
    b = cap.bridge_thickness
    return along * (log(max(cap.bridge_depth / b, 1.0)) + log(max(cap.bridge_web / b, 1.0)))


def _rib_root(cap: HungCap) -> float:
    """Return E times the give of both ends of the rib: Flamant's half plane, to half depth."""
    return 2.0 * (2.0 / pi) * log(max(cap.depth / cap.rib_width, 1.0))
