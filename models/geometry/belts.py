"""Phase belts: what both magnetic models ask of slots and poles."""

from models.errors import InfeasibleDesignError
from models.machine import Machine


def slots_per_belt(machine: Machine) -> int:
    """Return slots per pole and phase.

    Raises
    ------
    InfeasibleDesignError
        `fractional_slots` when it is not a whole number: both models solve one pole, whose
        neighbours must carry the opposite currents. Tooth-coil and other fractional windings have
        geometry, winding factors, masses and resistance, but no maps.
    """
    per_belt, rest = divmod(machine.stator.slots, 6 * machine.pole_pairs)
    if rest:
        raise InfeasibleDesignError(
            "fractional_slots",
            f"{machine.stator.slots} slots and {2 * machine.pole_pairs} poles give a fractional "
            "number of slots per pole and phase; the magnetic models need a whole number: take a "
            f"multiple of {6 * machine.pole_pairs} slots",
        )
    return per_belt
