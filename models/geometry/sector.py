"""The smallest part of a machine that both magnetic models have to solve.

A winding of whole slots per pole and phase repeats, with opposite currents, from pole to pole.
Others repeat over several poles: 12 slots and 10 poles over 6 slots and 5 poles, with opposite
sign; 9 slots and 8 poles only over the whole machine. Within such a *sector* three balanced phases
leave a further symmetry in time, by which few rotor positions tell a whole period.
"""

from dataclasses import dataclass
from functools import cache, cached_property
from math import gcd

import numpy as np
from numpy.typing import NDArray

from models.errors import InfeasibleDesignError
from models.geometry.star_of_slots import SlotPhases
from models.machine import Machine

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Sector:
    """The part of a machine whose field repeats round the gap.

    Attributes
    ----------
    poles, slots : int
        Poles and slots it covers.
    pole_pairs : int
        Of the machine.
    slot_shift : int
        Slots by which phase 2 follows phase 1, 0 .. all slots - 1.
    all_slots : int
        Slots of the machine.
    """

    poles: int
    slots: int
    pole_pairs: int
    slot_shift: int
    all_slots: int

    @property
    def repeats(self) -> int:
        """Sectors in the machine."""
        return 2 * self.pole_pairs // self.poles

    @property
    def sign(self) -> float:
        """-1 where the field changes sign from sector to sector (odd poles), else 1."""
        return -1.0 if self.poles % 2 else 1.0

    @property
    def angle(self) -> float:
        """Angle covered [rad]."""
        return self.poles * np.pi / self.pole_pairs

    @property
    def pole_shift(self) -> int:
        """Poles between two that see the same field one sixth of an electrical period apart.

        Pole j sees, a sixth of a period later, what pole j + pole_shift sees now, when north and
        south poles are each counted with their own sign. The pattern of the stator advances by
        `slot_shift` slots in a third of a period and turns its sign in half a period; the rotor
        advances by a third of a pole in a sixth.
        """
        return (self.all_slots + 6 * self.pole_pairs * self.slot_shift) // (3 * self.all_slots)

    @property
    def passings(self) -> int:
        """Times per phase belt that rotor and stator stand alike: slots per belt if whole.

        lcm(slots, poles) over 6 p: the period of the cogging torque (common practice, no source).
        """
        together = self.all_slots * 2 * self.pole_pairs // gcd(self.all_slots, 2 * self.pole_pairs)
        return together // (6 * self.pole_pairs)

    @property
    def rotor_order(self) -> float:
        """Lowest order of the field in the rotor's frame, over electrical frequency."""
        return 6.0 / self.poles

    @property
    def slot_harmonic(self) -> int:
        """The slots passing by, as a multiple of `rotor_order`."""
        return self.slots // 3

    @property
    def lowest_force_order(self) -> int:
        """Lowest order round the bore of a radial-force wave, above 0.

        gcd(slots, poles) for two layers, half of it for some windings in one (common practice, no
        source); 2 p for whole slots per pole and phase.
        """
        return self.repeats

    @property
    def bending_order(self) -> int:
        """Lowest order of such a wave that bends the stator: order 1 only pulls the rotor aside."""
        return max(self.lowest_force_order, 2)

    @cached_property
    def unlike_slots(self) -> IntArray:
        """One of each kind of slots that see the same field at different times, ascending."""
        left, found = set(range(self.slots)), []
        while left:
            first = min(left)
            found.append(first)
            left -= {(first + k * self.slot_shift) % self.slots for k in range(3)}
        return np.array(found, dtype=np.int64)

    @cached_property
    def sixths(self) -> tuple[IntArray, Array]:
        """Slots and signs that show what `unlike_slots` see 0, 1, 2 sixths of a period later.

        Shapes (3, unlike slots). In slot s, one sixth later, the field is the negative of that in
        slot s + slot_shift now.
        """
        later = np.arange(3)[:, None]
        turns, slots = np.divmod(self.unlike_slots + later * self.slot_shift, self.slots)
        sign = np.where(later == 1, -1.0, 1.0) * np.where(turns % 2 == 0, 1.0, self.sign)
        return slots, sign

    @property
    def pole_sequence(self) -> IntArray:
        """Poles that show what pole 0 sees 0, 1, 2 ... sixths of a period later, (poles,)."""
        return np.asarray(np.arange(self.poles) * self.pole_shift % self.poles)


def sector_of(machine: Machine) -> Sector:
    """Return the sector of a machine, see `sector_of_winding`."""
    return sector_of_winding(machine.winding.slot_phases, machine.pole_pairs)


@cache
def sector_of_winding(slot_phases: SlotPhases, pole_pairs: int) -> Sector:
    """Return the smallest sector over which a winding repeats with or without opposite sign.

    Parameters
    ----------
    slot_phases : tuple of 3 tuples of float
        Signed share of each slot's conductors by phase, see `models.geometry.star_of_slots`.
    pole_pairs : int
        p.

    Returns
    -------
    Sector
        gcd(slots, p) parts at least, twice as many where half of such a part is the opposite of
        the other half (common practice, no source; found here by trying).

    Raises
    ------
    InfeasibleDesignError
        `phases_not_shifted` when phase 2 is not phase 1 moved by whole slots.
    """
    shares = np.array(slot_phases)
    count, poles = shares.shape[1], 2 * pole_pairs

    def repeats_over(n: int) -> bool:
        if poles % n or n * count % poles:
            return False
        sign = -1.0 if n % 2 else 1.0
        return bool(
            np.abs(np.roll(shares, n * count // poles, axis=1) - sign * shares).max() < 1e-9
        )

    own = next(n for n in range(1, poles + 1) if repeats_over(n))
    for shift in range(count):
        if np.abs(np.roll(shares, shift, axis=1) - np.roll(shares, -1, axis=0)).max() < 1e-9:
            return Sector(own, own * count // poles, pole_pairs, shift, count)
    raise InfeasibleDesignError(
        "phases_not_shifted",
        f"{count} slots and {poles} poles: phase 2 is not phase 1 moved by whole slots, which both "
        "magnetic models need",
    )
