"""Masses and inertia from the exact areas of the section."""

from dataclasses import dataclass
from math import hypot, pi

from models.cage_rotor import CageRotor
from models.geometry.areas import Areas
from models.machine import Machine
from models.materials.sleeve import sleeve
from models.mechanical.families import rotor_inertia
from models.mechanical.inertia import STEEL_DENSITY, solid_share

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
        Sheets, magnets, sleeve and shaft inside the stack, and a cage with its rings [kg m^2].
    cage : float
        Bars and rings [kg].
    sleeve : float
        Retaining sleeve [kg].
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
    cage: float = 0.0
    sleeve: float = 0.0

    @property
    def active(self) -> float:
        """Sheets, conductors, magnets, sleeve and cage [kg]."""
        sheet = self.stator_sheet + self.rotor_sheet
        return sheet + self.conductor + self.magnet + self.sleeve + self.cage

    @property
    def rotor(self) -> float:
        """Sheets, magnets, sleeve and shaft inside the stack, and a cage [kg]."""
        return self.rotor_sheet + self.magnet + self.sleeve + self.shaft + self.cage


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
        shaft=STEEL_DENSITY * areas.shaft * solid_share(machine, 2) * length,
        insulation_area=areas.liner_perimeter * s.slots * (length + 2.0 * LINER_OVERHANG),
        magnet_volume=areas.magnet * length,
        rotor_inertia=rotor_inertia(machine),
        cage=_cage(machine, areas),
        sleeve=_sleeve_mass(machine, areas),
    )


def _cage(machine: Machine, areas: Areas) -> float:
    """Return the mass of bars and both rings [kg]; bars are skewed, so a little longer."""
    rotor = machine.rotor
    if not isinstance(rotor, CageRotor):
        return 0.0
    bars = areas.bar * hypot(machine.stack_length, rotor.skew * rotor.ring_radius)
    rings = 2.0 * 2.0 * pi * rotor.ring_radius * rotor.ring_area
    return rotor.material.density * (bars + rings)


def _sleeve_mass(machine: Machine, areas: Areas) -> float:
    if areas.sleeve <= 0.0:
        return 0.0
    grade = sleeve(str(machine.parameters["sleeve_material"]))
    return grade.density * areas.sleeve * machine.stack_length
