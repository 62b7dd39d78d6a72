"""Natural frequencies of the stator as a ring that carries its teeth and winding."""

from math import pi, sqrt

from models.machine import Machine
from models.mechanical.mass import Masses


def ring_frequency(
    order: int, *, radius: float, thickness: float, modulus: float, density: float,
    mass_factor: float = 1.0,
) -> float:  # fmt: skip
    """Return the natural frequency of a ring in its plane [Hz].

    Parameters
    ----------
    order : int
        Waves round the ring: 0 breathes, 2 is oval; 1 moves it as a whole and is refused.
    radius, thickness : float
        Mean radius and radial thickness [m].
    modulus, density : float
        Young's modulus [Pa], density [kg/m^3].
    mass_factor : float
        Mass of all that moves over the mass of the ring, >= 1.

    Returns
    -------
    float
        f_0 = sqrt(E / (rho Delta)) / (2 pi R); f_r = f_0 h / (sqrt(12) R) r (r^2 - 1) /
        sqrt(r^2 + 1). Thin ring (Euler beam): see `thick_factor` for short waves.

    References
    ----------
    R. D. Blevins, *Formulas for Natural Frequency and Mode Shape*, 1979; H. Jordan,
    *Geräuscharme Elektromotoren*, 1950, for electrical machines (from memory).
    """
    if order < 0 or order == 1:
        raise ValueError(f"ring mode of order {order} given; 0 or 2 and above are modes of a ring")
    breathing = sqrt(modulus / (density * mass_factor)) / (2.0 * pi * radius)
    if order == 0:
        return breathing
    r = float(order)
    return breathing * thickness / (sqrt(12.0) * radius) * r * (r * r - 1.0) / sqrt(r * r + 1.0)


def thick_factor(order: int, *, radius: float, thickness: float, poisson: float) -> float:
    """Return what shear and rotary inertia leave of a bending frequency.

    Parameters
    ----------
    order : int
        Waves round the ring; 0 bends nothing.
    radius, thickness : float
        Mean radius and radial thickness [m].
    poisson : float
        Poisson's ratio.

    Returns
    -------
    float
        1 / sqrt(1 + (k h)^2 / 12 (1 + 2 (1 + nu) / kappa)), k = order / R and kappa = 5/6: a
        straight Timoshenko beam of that wavelength. Against the lower root of the exact
        frequency equation 1 % low at k h = 1 and 3 % at 1.4.

    References
    ----------
    S. P. Timoshenko, Phil. Mag. 41, 744, 1921 (from memory).
    """
    slender = (order * thickness / radius) ** 2 / 12.0
    return 1.0 / sqrt(1.0 + slender * (1.0 + 2.0 * (1.0 + poisson) * 6.0 / 5.0))


def stator_frequency(machine: Machine, masses: Masses, order: int) -> float:
    """Return the natural frequency of a machine's stator core in a ring mode [Hz].

    The yoke is the ring, as wide as the stack; teeth and the winding in the slots add mass and no
    stiffness. The frame is left out: shrunk on, it raises the frequency by 10 to 30 % (from
    memory). A sheet stack is as stiff in its plane as its iron.
    """
    s, w, sheet = machine.stator, machine.winding, machine.lamination
    radius = 0.5 * (s.outer_radius + s.slot_bottom_radius)
    share = machine.stack_length / (machine.stack_length + w.end_turn_length)
    carried = masses.stator_teeth + masses.conductor * share
    thin = ring_frequency(
        order,
        radius=radius,
        thickness=s.yoke_height,
        modulus=sheet.youngs_modulus,
        density=sheet.density,
        mass_factor=(masses.stator_yoke + carried) / masses.stator_yoke,
    )
    return thin * thick_factor(
        order, radius=radius, thickness=s.yoke_height, poisson=sheet.poisson_ratio
    )
