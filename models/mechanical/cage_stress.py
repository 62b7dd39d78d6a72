"""Strength and inertia of a cage rotor: teeth, tips or bridges over the bars, end rings."""

from math import pi, sqrt

import numpy as np

from models.cage_rotor import CageRotor
from models.errors import InvalidInputError
from models.geometry.cage import bar_area, bar_outline, narrowest_tooth
from models.machine import Machine, rotor_as
from models.mechanical.disc import hoop_stress
from models.mechanical.inertia import STEEL_DENSITY, polygon_moments, solid_share
from models.mechanical.rotor_stress import yield_strength

CAGE_STRENGTH = {"copper": (200e6, 270e6), "aluminium": (90e6, 150e6)}
"""Yield and tensile strength of bars and rings [Pa]: hard copper alloy, die-cast aluminium alloy
(common practice, no source)."""
CAGE_POISSON = 0.34
"""Poisson's ratio of copper and aluminium (from memory)."""


def cage_stresses(machine: Machine, speed: float) -> dict[str, float]:
    """Return the stress in the parts of a cage rotor.

    Parameters
    ----------
    machine : Machine
        With a `CageRotor`.
    speed : float
        [rad/s].

    Returns
    -------
    dict
        `tooth` (tension at the narrowest section, tooth and bar hanging on it), `cover` (bending
        of the bridge over a closed slot, or of the tips beside an opening, under the bar) and
        `ring` (greatest hoop stress) [Pa].

    Notes
    -----
    A bridge is a beam built in at both sides of the bar, M = F l / 12 with the bar's force F spread
    over its width l. A tip is a cantilever: half of the force at half of the ledge; over a round
    bar it is as thick at its root as opening height and a third of the radius. Bars that stick in
    their slots, or are held by the rings, load them less: on the safe side. The ring turns free
    (Timoshenko and Goodier, art. 32). Notch factors are left out; a cover yields locally without
    harm (common practice, no source).
    """
    r = rotor_as(machine, CageRotor)
    w2, iron = speed**2, machine.stacking_factor
    area, arm = bar_area(r), 0.5 * (r.bar_top + r.bar_bottom)
    pull = r.material.density * area * arm * w2  # of one bar per length
    pitch_area = 0.5 * r.slot_pitch * (r.outer_radius**2 - r.bar_bottom**2)
    opening = r.opening_width * r.opening_height
    tooth_mass = machine.lamination.density * iron * (pitch_area - area - opening)
    middle = 2.0 / 3.0 * (r.outer_radius**3 - r.bar_bottom**3)
    middle /= r.outer_radius**2 - r.bar_bottom**2
    tooth = (tooth_mass * middle * w2 + pull) / (iron * narrowest_tooth(r))
    width, height = 2.0 * r.top_radius, r.opening_height
    if r.opening_width == 0.0:
        cover = 6.0 * (pull * width / 12.0) / (iron * height**2)
    else:
        root = height if r.is_rectangle else height + r.top_radius / 3.0
        ledge = 0.5 * (width - r.opening_width)
        cover = 6.0 * (0.5 * pull * 0.5 * ledge) / (iron * root**2)
    inner = r.bar_top - r.ring_height
    ring = float(
        hoop_stress(
            inner, inner=inner, outer=r.bar_top, density=r.material.density, speed=speed,
            poisson=CAGE_POISSON,
        )
    )  # fmt: skip
    return {"tooth": tooth, "cover": cover, "ring": ring}


def _cage_strength(rotor: CageRotor) -> tuple[float, float]:
    name = rotor.material.name
    if name not in CAGE_STRENGTH:
        raise InvalidInputError(
            f"cage material {name!r} has no strength; known are {', '.join(CAGE_STRENGTH)}"
        )
    return CAGE_STRENGTH[name]


def cage_safety_factor(machine: Machine, speed: float, *, temperature: float) -> float:
    """Return the least yield strength over stress of teeth, covers and rings.

    Parameters
    ----------
    machine : Machine
        With a `CageRotor`.
    speed : float
        [rad/s], > 0.
    temperature : float
        Of the sheets [degC]; the cage's strength is taken as given.
    """
    stress = cage_stresses(machine, speed)
    sheet = yield_strength(machine, temperature)
    own = _cage_strength(rotor_as(machine, CageRotor))[0]
    return min(sheet / stress["tooth"], sheet / stress["cover"], own / stress["ring"])


def cage_burst_speed(machine: Machine) -> float:
    """Return the speed at which teeth or rings reach tensile strength in the mean [rad/s].

    A ring bursts when its mean hoop stress, rho w^2 (b^3 - a^3) / (3 (b - a)), reaches tensile
    strength (equilibrium of half a ring, exact).
    """
    r = rotor_as(machine, CageRotor)
    tooth = cage_stresses(machine, 1.0)["tooth"]
    outer, inner = r.bar_top, r.bar_top - r.ring_height
    ring = r.material.density * (outer**3 - inner**3) / (3.0 * (outer - inner))
    tensile = _cage_strength(r)[1]
    return sqrt(min(machine.lamination.tensile_strength / tooth, tensile / ring))


def cage_inertia(machine: Machine) -> float:
    """Return the inertia of sheets, bars, rings and the shaft inside the stack [kg m^2]."""
    r, length = rotor_as(machine, CageRotor), machine.stack_length
    iron = machine.lamination.density * machine.stacking_factor
    bar = polygon_moments(np.asarray(bar_outline(r).polygon()))[2]
    disc = 0.5 * pi * (r.outer_radius**4 - r.shaft_radius**4)
    opening = r.bars * r.opening_width * r.opening_height * r.outer_radius**2
    outer, inner = r.bar_top, r.bar_top - r.ring_height
    ring = 0.5 * pi * (outer**4 - inner**4)
    shaft = 0.5 * pi * r.shaft_radius**4 * solid_share(machine, 4)
    return length * (
        iron * (disc - r.bars * bar - opening) + STEEL_DENSITY * shaft
    ) + r.material.density * (r.bars * bar * length + 2.0 * r.ring_width * ring)
