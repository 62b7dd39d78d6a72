"""What each rotor family adds to the magnetic network: the one table `assemble` reads."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from models.circuit.barrier_table import add_layered_rotor
from models.circuit.coupling import Coupling, SurfaceNodes, couple_by_sectors
from models.circuit.interior_table import add_interior_rotor
from models.circuit.layer_field import lowest_field_in_layers
from models.circuit.network import Array, Network, NetworkBuilder
from models.circuit.pocket_corner import lowest_field_at_pocket_corner
from models.circuit.ring_coupling import couple_by_harmonics
from models.circuit.ring_field import lowest_field_in_ring
from models.circuit.stator_table import SlotNodes
from models.circuit.surface_table import add_surface_rotor
from models.geometry.sector import Sector
from models.machine import LayeredRotor, Machine

Add = Callable[[NetworkBuilder, Machine], SurfaceNodes]
Couple = Callable[[Machine, Network, SlotNodes, SurfaceNodes, Array, Sector], Coupling]
LowestField = Callable[[Machine, Array, float], float]


@dataclass(frozen=True)
class RotorNetwork:
    """A family's part of the network.

    Attributes
    ----------
    add : callable
        Adds one rotor pole to the builder and returns its surface nodes.
    lowest_field : callable
        From the machine, the flux density along the magnetisation at every magnet segment and
        position [T] and the remanence [T] to the value that 2 % of the magnets' area lies below.
    couple : callable
        Joins rotor and stator at every position.
    has_slot_flux : bool
        Whether slots carry radial flux beside saturated teeth.
    """

    add: Add
    lowest_field: LowestField
    couple: Couple = couple_by_sectors
    has_slot_flux: bool = False


def add_any_interior(builder: NetworkBuilder, machine: Machine) -> SurfaceNodes:
    """Add an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    return (add_layered_rotor if is_layered else add_interior_rotor)(builder, machine)


def lowest_field_of_any_interior(machine: Machine, field: Array, remanence: float) -> float:
    """Return the lowest magnet field [T] of an interior rotor with one layer or two."""
    is_layered = isinstance(machine.rotor, LayeredRotor)
    of_layout = lowest_field_in_layers if is_layered else lowest_field_at_pocket_corner
    return of_layout(machine, field, remanence)


NETWORKS: Mapping[str, RotorNetwork] = {
    "interior": RotorNetwork(add_any_interior, lowest_field_of_any_interior),
    "reluctance": RotorNetwork(add_layered_rotor, lowest_field_in_layers),
    "surface": RotorNetwork(add_surface_rotor, lowest_field_in_ring, couple_by_harmonics),
}
