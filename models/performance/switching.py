"""Loss by the inverter's switching at any operating point of a drive."""

from dataclasses import dataclass

import numpy as np

from models.control.surface import Array
from models.control.table import TorqueTable, interpolate
from models.duty import Duty
from models.losses.switching import SwitchingLoss, switching_loss
from models.machine import Machine
from models.mechanical.mass import Masses


@dataclass(frozen=True, eq=False)
class Switching:
    """Loss by switching, ready to be read at currents and voltages.

    Attributes
    ----------
    loss : SwitchingLoss
        At the duty's nominal DC voltage.
    inverse_square : ndarray, shape (n_fine, n_fine)
        (1 / L_d^2 + 1 / L_q^2) / 2 of the differential inductances on the table's grid [1/H^2].
    """

    loss: SwitchingLoss
    inverse_square: Array

    @classmethod
    def of(
        cls, machine: Machine, duty: Duty, masses: Masses, table: TorqueTable
    ) -> "Switching | None":
        """Return the loss of a machine on its supply; None where switching is not looked at."""
        supply = duty.supply
        if supply.switching_frequency <= 0.0:
            return None
        return cls(
            loss=switching_loss(
                machine,
                frequency=supply.switching_frequency,
                dc_voltage=supply.dc_voltage,
                teeth_mass=masses.stator_teeth,
                yoke_mass=masses.stator_yoke,
                winding_temperature=duty.temperatures.winding_rated,
                resistance=table.resistance,
            ),
            inverse_square=_inverse_square(table),
        )

    def at(self, table: TorqueTable, i_d: Array, i_q: Array, voltage: Array) -> tuple[Array, Array]:
        """Return iron and winding loss [W] at currents [A] and voltage amplitudes [V]."""
        inverse = np.maximum(interpolate(table, self.inverse_square, i_d, i_q), 0.0)
        return self.loss.at(voltage, inverse)


def _inverse_square(table: TorqueTable) -> Array:
    """Return the mean of both axes' inverse squared inductance: the ripple turns through both.

    A cage keeps its flux linkage while it ripples: in the axes of that flux only the q axis shows
    what is left, the transient inductance, which then holds for both.
    """
    along_q = (_slope(table.psi_q.T) / table.step_q).T
    if table.cage_loss is not None:
        return np.ascontiguousarray(1.0 / along_q**2)
    along_d = _slope(table.psi_d) / table.step_d
    return np.ascontiguousarray(0.5 / along_d**2 + 0.5 / along_q**2)


def _slope(values: Array) -> Array:
    """Return central differences along the first axis, one-sided at both ends, per step."""
    out = np.empty_like(values)
    out[1:-1] = 0.5 * (values[2:] - values[:-2])
    out[0], out[-1] = values[1] - values[0], values[-1] - values[-2]
    return out
