"""Masses and inertia from the exact areas of the section."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.geometry.areas import Areas
from models.geometry.interior import pocket_outline
from models.machine import Machine

Array = NDArray[np.float64]

STEEL_DENSITY = 7850.0
"""Shaft steel [kg/m^3] (common practice, no source)."""
STRIP_WEB = 3e-3
"""Strip left between neighbouring blanks and at the edges [m] (common practice, no source)."""
LINER_OVERHANG = 5e-3
"""Slot liner beyond the stack, each side [m] (common practice, no source)."""


@dataclass(frozen=True)
class Masses:
    """Masses of the active parts and what purchasing needs.

    Attributes
    ----------
    stator_sheet, rotor_sheet : float
        Sheets in the machine [kg].
    stator_teeth, stator_yoke : float
        Shares of `stator_sheet` inside and outside the slot-bottom radius [kg].
    purchased_sheet : float
        Strip bought: one square blank of outer diameter and web per sheet pair (the rotor is
        stamped from the stator's bore) [kg].
    magnet, heavy_rare_earth, conductor, shaft : float
        [kg]; conductor is bare, with end turns; shaft inside the stack, less its bore.
    insulation_area : float
        Slot liner [m^2].
    magnet_volume : float
        [m^3].
    rotor_inertia : float
        Sheets, magnets and shaft inside the stack [kg m^2].
    """

    stator_sheet: float
    rotor_sheet: float
    stator_teeth: float
    stator_yoke: float
    purchased_sheet: float
    magnet: float
    heavy_rare_earth: float
    conductor: float
    shaft: float
    insulation_area: float
    magnet_volume: float
    rotor_inertia: float

    @property
    def active(self) -> float:
        """Sheets, conductors and magnets [kg]."""
        return self.stator_sheet + self.rotor_sheet + self.conductor + self.magnet

    @property
    def rotor(self) -> float:
        """Sheets, magnets and shaft inside the stack [kg]."""
        return self.rotor_sheet + self.magnet + self.shaft


def masses(machine: Machine, areas: Areas) -> Masses:
    """Return the masses of a machine.

    Parameters
    ----------
    machine : Machine
        The machine.
    areas : Areas
        Exact areas of its section.

    Returns
    -------
    Masses
        Exact for the drawn section; insulation, end plates and varnish are not weighed.
    """
    s, w, length = machine.stator, machine.winding, machine.stack_length
    sheet = machine.lamination.density * length * machine.stacking_factor
    yoke_area = pi * (s.outer_radius**2 - s.slot_bottom_radius**2)
    magnet = machine.magnet.density * areas.magnet * length
    blank = (2.0 * s.outer_radius + STRIP_WEB) ** 2
    return Masses(
        stator_sheet=sheet * areas.stator_sheet,
        rotor_sheet=sheet * areas.rotor_sheet,
        stator_teeth=sheet * (areas.stator_sheet - yoke_area),
        stator_yoke=sheet * yoke_area,
        purchased_sheet=sheet * blank,
        magnet=magnet,
        heavy_rare_earth=magnet * machine.magnet.heavy_rare_earth_share,
        conductor=machine.conductor.density * areas.slot_conductor * (length + w.end_turn_length),
        shaft=STEEL_DENSITY * areas.shaft * _solid_share(machine, 2) * length,
        insulation_area=areas.liner_perimeter * s.slots * (length + 2.0 * LINER_OVERHANG),
        magnet_volume=areas.magnet * length,
        rotor_inertia=rotor_inertia(machine),
    )


def rotor_inertia(machine: Machine) -> float:
    """Return the inertia of rotor sheets, magnets and shaft inside the stack [kg m^2].

    Ring and shaft in closed form, pockets and magnets as polygons (exact but for the arc of the
    outer barrier, cut at one degree).
    """
    r, length = machine.rotor, machine.stack_length
    iron = machine.lamination.density * machine.stacking_factor
    legs = 4 * machine.pole_pairs
    pocket = polygon_moments(pocket_outline(r).polygon())[2]
    magnet = abs(polygon_moments(np.asarray(r.magnet_corners))[2])
    ring = 0.5 * pi * (r.outer_radius**4 - r.shaft_radius**4)
    shaft = 0.5 * pi * r.shaft_radius**4 * _solid_share(machine, 4)
    return length * (
        iron * (ring - legs * pocket)
        + machine.magnet.density * legs * magnet
        + STEEL_DENSITY * shaft
    )


def _solid_share(machine: Machine, power: int) -> float:
    """Return what a shaft's bore leaves of its area (power 2) or second moment (power 4)."""
    return 1.0 - float(machine.parameters["shaft_bore_ratio"]) ** power


def polygon_moments(points: Array) -> tuple[float, tuple[float, float], float]:
    """Return area, centroid and polar second moment about the origin of a polygon.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Corners in order [m]; clockwise loops give negative area and moment.

    Returns
    -------
    tuple
        Area [m^2], centroid (x, y) [m], integral of r^2 dA [m^4]. Green's theorem, exact.
    """
    # A plain loop: polygons here have 4 to 40 corners, where array calls cost ten times as much.
    area = first_x = first_y = polar = 0.0
    corners = points.tolist()
    x0, y0 = corners[-1]
    for x1, y1 in corners:
        cross = x0 * y1 - x1 * y0
        area += cross
        first_x += (x0 + x1) * cross
        first_y += (y0 + y1) * cross
        polar += (x0 * x0 + x0 * x1 + x1 * x1 + y0 * y0 + y0 * y1 + y1 * y1) * cross
        x0, y0 = x1, y1
    return 0.5 * area, (first_x / (3.0 * area), first_y / (3.0 * area)), polar / 12.0
