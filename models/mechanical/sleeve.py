"""What holds surface magnets on the rotor: a prestressed sleeve as a thick ring, or glue."""

from dataclasses import dataclass
from math import inf, pi, sqrt

from models.machine import Machine, rotor_as
from models.materials.sleeve import sleeve
from models.mechanical.disc import largest_stresses, rim_growth
from models.mechanical.rotor_stress import yield_strength
from models.surface_rotor import SurfaceRotor

SHEET_EXPANSION = 12e-6
"""Thermal expansion of electrical sheet [1/K] (from memory, data sheets)."""
MAGNET_EXPANSION = -1e-6
"""Thermal expansion of sintered neodymium magnets across the magnetisation, near enough through
the thickness of a thin arc [1/K] (from memory: 4 to 7 along, -1 to -2 across)."""
GLUE_TENSION = 8e6
"""Strength of a glued joint in tension, hot [Pa] (common practice, no source)."""
STANDSTILL = 20.0
"""Temperature at which the prestress is stated [degC]."""


@dataclass(frozen=True)
class SleeveState:
    """A sleeve at one speed and temperature.

    Attributes
    ----------
    fitted_stress : float
        Hoop stress at the inner face while the magnets stay seated: prestress, thermal strain and
        the core's growth [Pa].
    free_stress : float
        Hoop stress at the inner face if the sleeve alone carries itself and the magnets [Pa].
    contact_pressure, lifting_pressure : float
        Pressure of the sleeve on the magnets from the fit alone, and what the magnets and the
        sleeve's own growth take from it [Pa].
    """

    fitted_stress: float
    free_stress: float
    contact_pressure: float
    lifting_pressure: float

    @property
    def stress(self) -> float:
        """Hoop stress that decides: fitted while seated, else free [Pa]."""
        return max(self.fitted_stress, self.free_stress)

    @property
    def contact_factor(self) -> float:
        """Contact pressure over what lifts the magnets; below 1 they lose their seat."""
        if self.lifting_pressure <= 0.0:
            return inf
        return max(0.0, self.contact_pressure) / self.lifting_pressure


def sleeve_state(machine: Machine, speed: float, *, temperature: float) -> SleeveState:
    """Return the state of a sleeve.

    Parameters
    ----------
    machine : Machine
        A machine with a surface rotor and a sleeve.
    speed : float
        [rad/s], >= 0.
    temperature : float
        Of rotor and sleeve [degC].

    Returns
    -------
    SleeveState

    Notes
    -----
    Sleeve of radii a < b, thick ring: an inner pressure q makes the hoop stress
    q (b^2 + a^2)/(b^2 - a^2) at the inner face (Lamé), rotation
    (3 + nu)/4 rho omega^2 [b^2 + (1 - nu)/(3 + nu) a^2]. Magnets seated on the stiff core hold the
    sleeve at the fit's strain, so its stress there is that of the fit however fast it turns,
    changed only by the core's growth and by different expansion; the magnets' pull
    rho_m omega^2 (a^3 - r^3)/(3 a) times the arc's share, and the pressure the sleeve would need to
    keep its own growth, come off the contact pressure. Once they exceed it, the sleeve carries all.
    Magnets carry no hoop stress; fillers between them weigh nothing; filament windings count as
    isotropic. Elastic; no creep.

    References
    ----------
    Timoshenko and Goodier, *Theory of Elasticity*, arts. 28 (thick ring) and 32 (rotating ring),
    from memory.
    """
    r, sheet = rotor_as(machine, SurfaceRotor), machine.lamination
    grade = sleeve(r.sleeve_material)
    a, b = r.magnet_radius, r.outer_radius
    per_pressure = (b**2 + a**2) / (b**2 - a**2)
    spin = largest_stresses(
        inner=a, outer=b, density=grade.density, speed=speed, poisson=grade.poisson_ratio
    )[0]
    growth = rim_growth(
        inner=r.shaft_radius, outer=r.base_radius, density=sheet.density, speed=speed,
        poisson=sheet.poisson_ratio, youngs_modulus=sheet.youngs_modulus,
    )  # fmt: skip
    warm = temperature - STANDSTILL
    inside = (SHEET_EXPANSION * r.base_radius + MAGNET_EXPANSION * r.magnet_thickness) / a
    strain = (inside - grade.expansion) * warm + growth / a
    # Hoop stress at the inner face over strain there: u/a = (q/E)(per_pressure + nu).
    stiffness = grade.youngs_modulus / (per_pressure + grade.poisson_ratio)
    fit = r.sleeve_prestress / per_pressure + stiffness * strain
    pull = magnet_pressure(machine, speed)
    # Rotation alone would stretch the inner face by spin / E.
    own = stiffness * spin / grade.youngs_modulus
    return SleeveState(
        fitted_stress=max(0.0, fit - own) * per_pressure + spin,
        free_stress=spin + pull * per_pressure,
        contact_pressure=fit,
        lifting_pressure=pull + own,
    )


def magnet_pressure(machine: Machine, speed: float) -> float:
    """Return the magnets' pull as even pressure on the sleeve [Pa] at a speed [rad/s]."""
    r = rotor_as(machine, SurfaceRotor)
    share = 2.0 * machine.pole_pairs * r.arc_half_angle / pi
    a = r.magnet_radius
    return machine.magnet.density * speed**2 * (a**3 - r.base_radius**3) / (3.0 * a) * share


def glue_factor(machine: Machine, speed: float) -> float:
    """Return the strength of the glue over its tension under bare magnets at a speed [rad/s].

    The whole pull of an arc acts on its base: rho_m omega^2 (a^3 - r^3) / (3 r).
    """
    r = rotor_as(machine, SurfaceRotor)
    tension = (
        machine.magnet.density * speed**2
        * (r.magnet_radius**3 - r.base_radius**3) / (3.0 * r.base_radius)
    )  # fmt: skip
    return GLUE_TENSION / tension if tension > 0.0 else inf


def sleeve_safety_factor(machine: Machine, speed: float, *, temperature: float) -> float:
    """Return the sleeve's strength over its largest hoop stress, or the glue's factor.

    The worst of standstill cold, standstill hot and overspeed hot [rad/s], [degC].
    """
    r = rotor_as(machine, SurfaceRotor)
    if r.sleeve_thickness <= 0.0:
        return glue_factor(machine, speed)
    grade = sleeve(r.sleeve_material)
    states = ((0.0, STANDSTILL), (0.0, temperature), (speed, temperature))
    return min(
        grade.strength(t) / max(sleeve_state(machine, w, temperature=t).stress, 1.0)
        for w, t in states
    )


def magnet_contact_factor(machine: Machine, speed: float, *, temperature: float) -> float:
    """Return contact pressure over lifting pressure at a speed, or the glue's factor."""
    if rotor_as(machine, SurfaceRotor).sleeve_thickness <= 0.0:
        return glue_factor(machine, speed)
    return sleeve_state(machine, speed, temperature=temperature).contact_factor


def core_safety_factor(machine: Machine, speed: float, *, temperature: float) -> float:
    """Return the sheet's yield strength over the hoop stress at the core's bore.

    The core carries itself; seated magnets press on it or hang on it by glue, which is left out
    with a sleeve and added as a pull on its rim without.
    """
    r, sheet = rotor_as(machine, SurfaceRotor), machine.lamination
    stress = largest_stresses(
        inner=r.shaft_radius, outer=r.base_radius, density=sheet.density, speed=speed,
        poisson=sheet.poisson_ratio,
    )[0]  # fmt: skip
    if r.sleeve_thickness <= 0.0:
        ratio = 2.0 * r.base_radius**2 / (r.base_radius**2 - r.shaft_radius**2)
        stress += magnet_pressure(machine, speed) * ratio
    return yield_strength(machine, temperature) / stress


def surface_safety_factor(machine: Machine, speed: float, *, temperature: float) -> float:
    """Return the lower of the factors of sleeve (or glue) and core."""
    return min(
        sleeve_safety_factor(machine, speed, temperature=temperature),
        core_safety_factor(machine, speed, temperature=temperature),
    )


def surface_burst_speed(machine: Machine) -> float:
    """Return the speed at which the sleeve's mean hoop stress reaches its strength [rad/s].

    At 20 degC, the sleeve carrying itself and the magnets; without one, the speed at which the
    glue fails.
    """
    r = rotor_as(machine, SurfaceRotor)
    if r.sleeve_thickness <= 0.0:
        return sqrt(glue_factor(machine, 1.0))
    grade, a, b = sleeve(r.sleeve_material), r.magnet_radius, r.outer_radius
    mean = (
        grade.density * (b**3 - a**3) / 3.0 + magnet_pressure(machine, 1.0) * a
    ) / (b - a)  # fmt: skip
    return sqrt(grade.strength(STANDSTILL) / mean)
