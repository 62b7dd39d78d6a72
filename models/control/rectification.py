"""Inverter off at speed: the machine feeds the DC link through the diodes."""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from models.control.faults import (
    characteristic_current,
    currents_into_resistance,
    open_circuit_flux,
)
from models.control.surface import Array
from models.control.table import TorqueTable

_POINTS = 61
_RANGE = (0.03, 60.0)
"""Load resistance over the machine's mean reactance, from short circuit to nearly open."""


@dataclass(frozen=True, eq=False)
class Rectification:
    """The machine on a diode bridge, at any speed.

    Attributes
    ----------
    ratio : ndarray, shape (n,)
        Resistance that the bridge stands for, over electrical speed [ohm s], rising.
    current : ndarray, shape (n,)
        Phase current amplitude [A].
    linkage : ndarray, shape (n,)
        Terminal voltage amplitude over electrical speed [Wb].
    open_flux : float
        Linkage without current [Wb].
    pole_pairs : int
    """

    ratio: Array
    current: Array
    linkage: Array
    open_flux: float
    pole_pairs: int

    def lowest_speed(self, dc_voltage: float) -> float:
        """Return the lowest mechanical speed [rad/s] at which rectification can go on.

        Infinite for a machine without magnets. With a saliency above two it lies below the speed
        at which the back-EMF alone reaches the link.
        """
        top = max(float(self.linkage.max()), self.open_flux)
        return bridge_voltage(dc_voltage) / top / self.pole_pairs if top > 0.0 else float("inf")

    def current_at(self, speed: float, dc_voltage: float) -> float:
        """Return the phase current amplitude [A] into a DC link at a mechanical speed [rad/s].

        Of two possible currents the larger (stable) one; zero where the link is out of reach.
        """
        needed = bridge_voltage(dc_voltage) / (speed * self.pole_pairs)
        above = np.flatnonzero(self.linkage >= needed)
        if above.size == 0:
            return 0.0
        k = int(above[0])
        if k == 0:
            return float(self.current[0])
        low, high = self.linkage[k - 1], self.linkage[k]
        part = (needed - low) / (high - low)
        return float(self.current[k - 1] + part * (self.current[k] - self.current[k - 1]))


def bridge_voltage(dc_voltage: float) -> float:
    """Return the fundamental amplitude [V] that a conducting diode bridge puts on each phase.

    2 / pi times the DC voltage: square-shaped voltages with continuous current.
    """
    return 2.0 / pi * dc_voltage


def rectification(table: TorqueTable) -> Rectification:
    """Return how a machine behaves on a diode bridge.

    Parameters
    ----------
    table : TorqueTable
        Linkages at the wanted magnet temperature: cold magnets are the worst.

    Returns
    -------
    Rectification

    Raises
    ------
    SolverError
        If a point does not converge.

    Notes
    -----
    The bridge makes the fundamental voltage and current of a phase opposite in direction, so it
    stands for a resistance R. Without the winding's own resistance only R / w matters: the
    currents solve (R / w) i_d = psi_q, (R / w) i_q = -psi_d and the voltage over w is |psi|. For
    constant inductances with saliency s = L_q / L_d > 2, |psi| rises above the open-circuit flux
    to s / (2 sqrt(s - 1)) of it: once started, rectification goes on down to a lower speed than
    the one at which the back-EMF reaches the link. Steady state, fundamental only, continuous
    conduction, no commutation overlap.

    References
    ----------
    T. M. Jahns, V. Caliskan, IEEE Trans. Ind. Appl. 35(6) 1347, 1999 (from memory).
    """
    psi = open_circuit_flux(table)
    short = characteristic_current(table)
    if psi <= 0.0 or short <= 0.0:
        none = np.zeros(1)
        return Rectification(np.ones(1), none, none, max(psi, 0.0), table.pole_pairs)
    ratio = psi / short * np.geomspace(*_RANGE, _POINTS)
    i_d, i_q = currents_into_resistance(table, 1.0 / ratio, 1.0)
    current = np.hypot(i_d, i_q)
    return Rectification(ratio, current, ratio * current, psi, table.pole_pairs)


def open_circuit_speed(table: TorqueTable, dc_voltage: float) -> float:
    """Return the mechanical speed [rad/s] at which the line back-EMF's peak reaches a DC voltage.

    V / (sqrt(3) psi_m p): above it the diodes conduct even from rest of the current.
    """
    psi = open_circuit_flux(table)
    return dc_voltage / (sqrt(3.0) * psi * table.pole_pairs) if psi > 0.0 else float("inf")
