"""What is bought beside the sheets: magnet blocks before grinding, resin, the frame."""

from math import sqrt

from models.geometry.areas import Areas
from models.machine import Machine
from models.mechanical.mass import Masses

KERF = 0.4e-3
"""Width lost at a cut between two magnet pieces [m] (common practice, no source: wire saws 0.3 to
0.5 mm)."""
GRINDING = 0.15e-3
"""Ground off each face across the magnetisation [m] (common practice, no source)."""
RESIN_DENSITY = 1200.0
"""Cured impregnation resin [kg/m^3] (common practice, no source)."""
RESIN_FILL = 0.6
"""Share of the room beside conductor and liner that resin fills (common practice, no source:
trickled windings 0.5 to 0.8)."""


def magnet_block_mass(machine: Machine, masses: Masses, pieces: float) -> float:
    """Return the mass of magnet bought as blocks, before cutting and grinding [kg].

    Parameters
    ----------
    machine : Machine
    masses : Masses
        Its masses.
    pieces : float
        Number of magnet pieces.

    Returns
    -------
    float
        Each piece, taken as square across its thickness, is cut out with one kerf on both sides
        and ground on both faces. Thin and small pieces lose most: 10 to 30 % in practice (no
        source). 0 without magnets.
    """
    if pieces <= 0.0 or masses.magnet_volume <= 0.0:
        return 0.0
    volume = masses.magnet_volume / pieces
    thickness = float(machine.parameters.get("magnet_thickness", volume ** (1.0 / 3.0)))
    side = sqrt(volume / thickness)
    block = (thickness + 2.0 * GRINDING) * (side + KERF) ** 2
    return masses.magnet * block / volume


def resin_mass(machine: Machine, areas: Areas) -> float:
    """Return the mass of impregnation resin in the slots and end turns [kg]."""
    liner = areas.liner_perimeter * float(machine.parameters["liner_thickness"])
    room = areas.slot_gross - areas.slot_conductor - liner * machine.stator.slots
    length = machine.stack_length + machine.winding.end_turn_length
    return RESIN_DENSITY * RESIN_FILL * max(0.0, room) * length
