"""First bending critical speed of the rotor on its two bearings, by Rayleigh's quotient."""

from dataclasses import dataclass
from math import cos, inf, pi, radians, sin, sqrt

from models.constants import GRAVITY
from models.losses.bearings import MEAN_RATIO, PRELOAD_PER_BORE, SEAT_RATIO
from models.machine import Machine
from models.mechanical.inertia import STEEL_DENSITY
from models.mechanical.mass import Masses

SHAFT_MODULUS = 206e9
"""Young's modulus of shaft steel [Pa] (common practice, no source)."""
BEARING_CLEARANCE = 10e-3
"""From the end winding to the bearing [m] (common practice, no source)."""
BEARING_WIDTH = 0.3
"""Width of light-series bearings over their bore (from memory)."""
BALL_RATIO = 0.3
"""Ball diameter over the radial room D - d of a deep-groove bearing (from memory)."""
BALLS = 9
"""Balls of a deep-groove bearing, 8 to 10 (from memory)."""
CONTACT_ANGLE = radians(12.0)
"""Under preload, 10 to 15 degrees (from memory)."""
_GAUSS = (
    (0.046910077030668, 0.118463442528095), (0.230765344947158, 0.239314335249683),
    (0.5, 0.284444444444444), (0.769234655052842, 0.239314335249683),
    (0.953089922969332, 0.118463442528095),
)  # fmt: skip
"""Five Gauss points on 0..1 and weights: exact to the ninth power, squared deflection has eight."""


@dataclass(frozen=True)
class SteppedShaft:
    """A symmetric shaft on two supports, thick in the middle.

    Attributes
    ----------
    end_length, half_middle : float
        From support to step, and from step to midspan [m].
    end_stiffness, middle_stiffness : float
        E I of both parts [N m^2].
    end_mass, middle_mass : float
        Mass per length, with all that is carried [kg/m].
    centre_mass : float
        Mass at midspan [kg].
    """

    end_length: float
    half_middle: float
    end_stiffness: float
    middle_stiffness: float
    end_mass: float
    middle_mass: float
    centre_mass: float = 0.0

    @property
    def mass(self) -> float:
        """Whole mass [kg]."""
        ends = self.end_mass * self.end_length
        return 2.0 * (ends + self.middle_mass * self.half_middle) + self.centre_mass


def bending_speed(shaft: SteppedShaft) -> float:
    """Return the first bending critical speed on stiff supports [rad/s].

    Parameters
    ----------
    shaft : SteppedShaft

    Returns
    -------
    float
        sqrt(g sum(m y) / sum(m y^2)) with the deflection y under the shaft's own weight, exact
        for the polynomials of both parts. Rayleigh's quotient is never too low: by 0.07 % for a
        uniform shaft. Shear, gyroscopic effect and the stiffness of the sheets are left out.

    References
    ----------
    Timoshenko, *Vibration Problems in Engineering*, art. on Rayleigh's method (from memory).
    """
    a, b, g = shaft.end_length, shaft.half_middle, GRAVITY
    w1, w2, p = shaft.end_mass * g, shaft.middle_mass * g, 0.5 * shaft.centre_mass * g
    shear = w2 * b + p  # at the step
    support = w1 * a + shear
    moment = support * a - 0.5 * w1 * a**2  # at the step
    at_step = (moment * b + shear * b**2 / 2.0 - w2 * b**3 / 6.0) / shaft.middle_stiffness

    def end(x: float) -> float:
        slope = at_step + (support * a**2 / 2.0 - w1 * a**3 / 6.0) / shaft.end_stiffness
        return slope * x - (support * x**3 / 6.0 - w1 * x**4 / 24.0) / shaft.end_stiffness

    step = end(a)

    def middle(s: float) -> float:
        bent = moment * s**2 / 2.0 + shear * s**3 / 6.0 - w2 * s**4 / 24.0
        return step + at_step * s - bent / shaft.middle_stiffness

    first = second = 0.0
    for y, mass, length in ((end, shaft.end_mass, a), (middle, shaft.middle_mass, b)):
        for place, weight in _GAUSS:
            deflection = y(place * length)
            first += 2.0 * weight * length * mass * deflection
            second += 2.0 * weight * length * mass * deflection**2
    centre = middle(b)
    first += shaft.centre_mass * centre
    second += shaft.centre_mass * centre**2
    return sqrt(g * first / second)


def bearing_stiffness(bore: float, preload: float) -> float:
    """Return the radial stiffness of a preloaded deep-groove ball bearing [N/m].

    Parameters
    ----------
    bore : float
        [m].
    preload : float
        Axial [N], > 0.

    Returns
    -------
    float
        Z/2 cos^2(alpha) dQ/d(delta) with the deflection of a ball between its rings,
        delta = 4.36e-4 Q^(2/3) / D^(1/3) (mm, N, mm), and Q = F_a / (Z sin(alpha)). Within a
        factor of two: balls, angle and the softness of the end shields are not known.

    References
    ----------
    A. Palmgren; T. A. Harris, *Rolling Bearing Analysis* (from memory).
    """
    ball = 1e3 * BALL_RATIO * 2.0 * (MEAN_RATIO - 1.0) * bore
    load = preload / (BALLS * sin(CONTACT_ANGLE))
    deflection = 1e-3 * 4.36e-4 * load ** (2.0 / 3.0) / ball ** (1.0 / 3.0)
    return float(0.5 * BALLS * cos(CONTACT_ANGLE) ** 2 * 1.5 * load / deflection)


def rotor_shaft(machine: Machine, masses: Masses) -> SteppedShaft:
    """Return a machine's shaft: stack in the middle, bearing seats of smaller diameter."""
    radius, length = machine.rotor.shaft_radius, machine.stack_length
    hollow = float(machine.parameters["shaft_bore_ratio"]) * radius
    seat = SEAT_RATIO * radius
    reach = machine.winding.overhang + BEARING_CLEARANCE + 0.5 * BEARING_WIDTH * 2.0 * seat
    return SteppedShaft(
        end_length=reach,
        half_middle=0.5 * length,
        end_stiffness=SHAFT_MODULUS * 0.25 * pi * (seat**4 - hollow**4),
        middle_stiffness=SHAFT_MODULUS * 0.25 * pi * (radius**4 - hollow**4),
        end_mass=STEEL_DENSITY * pi * (seat**2 - hollow**2),
        middle_mass=masses.rotor / length,
    )


def critical_speed(machine: Machine, masses: Masses, *, bearing: float | None = None) -> float:
    """Return the first bending critical speed of the rotor on its bearings [rad/s].

    Parameters
    ----------
    machine : Machine
    masses : Masses
        Its masses.
    bearing : float, optional
        Radial stiffness of one bearing [N/m]; that of a preloaded deep-groove bearing if not
        given, `math.inf` for stiff supports.

    Returns
    -------
    float
        Dunkerley's sum 1/w^2 = 1/w_bending^2 + m/(2 k), on the safe side.
    """
    shaft = rotor_shaft(machine, masses)
    bore = SEAT_RATIO * 2.0 * machine.rotor.shaft_radius
    k = bearing_stiffness(bore, PRELOAD_PER_BORE * bore) if bearing is None else bearing
    soft = 0.0 if k == inf else shaft.mass / (2.0 * k)
    return 1.0 / sqrt(1.0 / bending_speed(shaft) ** 2 + soft)
