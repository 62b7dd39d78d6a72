"""What fills the rotor of each family: the one table `field_model` reads."""

from collections.abc import Callable, Mapping

from models.constants import MU0
from models.field.media import Medium
from models.machine import Machine

RotorMedia = Callable[[Machine, Medium, float], Mapping[str, Medium]]
"""From a machine, its stacked sheet and the remanence [T] to the medium of each rotor part; parts
not named are air."""


def sheet_and_magnets(machine: Machine, sheet: Medium, remanence: float) -> Mapping[str, Medium]:
    """Return sheet in `rotor_core` and magnets in `magnet`, air elsewhere."""
    recoil = machine.magnet.recoil_permeability
    return {"rotor_core": sheet, "magnet": Medium(1.0 / (MU0 * recoil), remanence)}


def sheet_and_bars(machine: Machine, sheet: Medium, remanence: float) -> Mapping[str, Medium]:
    """Return sheet in `rotor_core`; bars and openings count as air."""
    del machine, remanence
    return {"rotor_core": sheet}


ROTOR_MEDIA: Mapping[str, RotorMedia] = {
    "cage": sheet_and_bars,
    "interior": sheet_and_magnets,
    "reluctance": sheet_and_magnets,
    "surface": sheet_and_magnets,
}
