"""The losses at operating points by part, and the stray load loss of a cage machine."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import log10

import numpy as np

from models.control.surface import Array
from models.control.table import TorqueTable
from models.losses.mechanical import MechanicalLoss


@dataclass(frozen=True, eq=False)
class Losses:
    """Losses by part, arrays of one shape [W].

    Attributes
    ----------
    winding_dc, winding_ac : ndarray
        Direct-current winding loss at the rated winding temperature, and what alternating
        current adds.
    winding_ac_opening : ndarray
        What of `winding_ac` arises in the third of the slots nearest to their opening.
    iron, rotor_iron : ndarray
        Stator and rotor sheets with build factor.
    magnet, sleeve : ndarray
        Eddy currents in magnets and in a conducting sleeve.
    mechanical : MechanicalLoss
        Bearings and air friction.
    cage, stray : ndarray
        Bars and rings of a cage (slip times gap power, taken from the gap and not from the
        shaft), and stray load loss; zero for other rotors.
    switching_iron, switching_winding : ndarray
        What the inverter's switching adds in stator sheets and winding, beside `iron` and
        `winding`: its harmonics bring that power, it does not brake the rotor.
    """

    winding_dc: Array
    winding_ac: Array
    winding_ac_opening: Array
    iron: Array
    rotor_iron: Array
    magnet: Array
    sleeve: Array
    mechanical: MechanicalLoss
    cage: Array
    stray: Array
    switching_iron: Array
    switching_winding: Array

    @property
    def switching(self) -> Array:
        """Loss by the inverter's switching [W]."""
        return self.switching_iron + self.switching_winding

    @property
    def winding(self) -> Array:
        """Winding loss [W]."""
        return self.winding_dc + self.winding_ac

    @property
    def braking(self) -> Array:
        """Losses that brake the rotor: iron, magnet, sleeve, stray, mechanical [W]."""
        eddy = self.magnet + self.sleeve + self.stray
        return self.iron + self.rotor_iron + eddy + self.mechanical.total

    @property
    def total(self) -> Array:
        """All losses [W]."""
        return self.winding + self.cage + self.braking + self.switching

    def arrays(self) -> tuple[Array, ...]:
        """Return every array, friction's three last; `of` puts them together again."""
        friction = self.mechanical
        return (
            self.winding_dc, self.winding_ac, self.winding_ac_opening, self.iron, self.rotor_iron,
            self.magnet, self.sleeve, self.cage, self.stray, self.switching_iron,
            self.switching_winding, friction.bearings, friction.gap, friction.ends,
        )  # fmt: skip

    @classmethod
    def of(cls, arrays: Iterable[Array]) -> "Losses":
        """Return losses from arrays in the order of `arrays`."""
        (
            winding_dc, winding_ac, winding_ac_opening, iron, rotor_iron, magnet, sleeve, cage,
            stray, switching_iron, switching_winding, bearings, gap, ends,
        ) = arrays  # fmt: skip
        return cls(
            winding_dc=winding_dc,
            winding_ac=winding_ac,
            winding_ac_opening=winding_ac_opening,
            iron=iron,
            rotor_iron=rotor_iron,
            magnet=magnet,
            sleeve=sleeve,
            mechanical=MechanicalLoss(bearings=bearings, gap=gap, ends=ends),
            cage=cage,
            stray=stray,
            switching_iron=switching_iron,
            switching_winding=switching_winding,
        )

    def each(self, change: Callable[[Array], Array]) -> "Losses":
        """Return losses with every array changed."""
        return Losses.of(change(values) for values in self.arrays())


@dataclass(frozen=True)
class StrayLoss:
    """Stray load loss of a cage machine, by its share at a reference load.

    Attributes
    ----------
    torque, speed : float
        Reference load [N*m], [rad/s].
    power : float
        Stray load loss there [W].

    Notes
    -----
    The assigned allowance of IEC 60034-2-1 (from memory), a share
    0.025 - 0.005 log10(P / 1 kW) of input power between 1 kW and 10 MW, at peak torque and base
    speed; it grows with the square of torque, and with speed to the power 1.5 (common practice,
    no source). It stands for what harmonics of the gap field lose in rotor surface and bars.
    """

    torque: float
    speed: float
    power: float

    def at(self, torque: Array, speed: Array) -> Array:
        """Return the loss at air-gap torques [N*m] and speeds [rad/s], shape (n,) [W]."""
        load = (torque / self.torque) ** 2
        return np.asarray(self.power * load * (np.abs(speed) / self.speed) ** 1.5)


def stray_loss(table: TorqueTable, speed: float) -> StrayLoss | None:
    """Return the stray load loss of a cage machine, referred to peak torque at a speed [rad/s]."""
    if table.cage_loss is None or not table.peak_torque > 0.0:
        return None
    power = table.peak_torque * speed
    share = 0.025 - 0.005 * log10(min(max(power / 1e3, 1.0), 1e4))
    return StrayLoss(table.peak_torque, speed, share * power)
