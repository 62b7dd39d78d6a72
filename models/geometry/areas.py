"""Exact areas of a whole machine's section, from the outlines."""

from dataclasses import dataclass
from math import hypot, pi

from models.cage_rotor import CageRotor
from models.geometry.section import Section
from models.geometry.stator import slot_corners
from models.machine import Machine


@dataclass(frozen=True)
class Areas:
    """Areas of the whole section.

    Attributes
    ----------
    stator_sheet, rotor_sheet, magnet, barrier_air, sleeve, shaft : float
        Net areas over all poles [m^2].
    bar : float
        All bars of a cage [m^2].
    slot_conductor : float
        Bare conductor area in all slots [m^2].
    slot_gross : float
        Slot bodies, all slots [m^2].
    liner_perimeter : float
        Length of liner in one slot [m].
    """

    stator_sheet: float
    rotor_sheet: float
    magnet: float
    barrier_air: float
    sleeve: float
    shaft: float
    slot_conductor: float
    slot_gross: float
    liner_perimeter: float
    bar: float = 0.0


def areas(machine: Machine, section: Section) -> Areas:
    """Return the areas of a machine from its section of one pole."""
    poles = 2.0 * machine.pole_pairs

    def total(part: str) -> float:
        return sum(r.area() for r in (*section.rotor, *section.stator) if r.part == part)

    stator, winding, rotor = machine.stator, machine.winding, machine.rotor
    # Bars per pole need not be whole: the section then covers the pole rounded up.
    if isinstance(rotor, CageRotor):
        poles = rotor.bars / sum(r.part == "bar" for r in section.rotor)
    # One slot pitch is enough: slots per pole need not be whole.
    pitches = sum(r.part == "stator_core" for r in section.stator)
    (_, _, (x_in, y_in), (x_out, y_out)) = slot_corners(stator)
    return Areas(
        bar=total("bar") * poles,
        stator_sheet=total("stator_core") / pitches * stator.slots,
        rotor_sheet=total("rotor_core") * poles,
        magnet=total("magnet") * poles,
        barrier_air=total("barrier") * poles,
        sleeve=total("sleeve") * poles,
        shaft=pi * machine.rotor.shaft_radius**2,
        slot_conductor=winding.conductor_area * winding.conductors_per_slot * stator.slots,
        slot_gross=stator.slot_body_area * stator.slots,
        liner_perimeter=2.0 * (y_in + y_out + hypot(x_out - x_in, y_out - y_in)),
    )
