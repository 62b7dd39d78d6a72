"""Winding loss: phase resistance and its rise with frequency.

Direct-current resistance covers slots and end turns. At frequency, the slot part follows the
one-dimensional slot field: `models.losses.rectangular` layer by layer for rectangular conductors,
`models.losses.strands` by the exact round-wire solution for round strands.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.losses.rectangular import layer_ratios, opening_share
from models.losses.strands import circulating_ratio, round_skin_ratio, round_slot_ratio
from models.machine import Machine

Array = NDArray[np.float64]
OPENING_HEIGHT = 1.0 / 3.0
"""Share of the slot's height at the opening for which the loss is stated apart: what the hot spot
of the thermal network stands for."""


def winding_shares(machine: Machine) -> tuple[float, float]:
    """Return the shares of conductor length in the slots and in the end turns (sum 1)."""
    length = machine.stack_length + machine.winding.end_turn_length
    return machine.stack_length / length, machine.winding.end_turn_length / length


def phase_resistance(machine: Machine, temperature: float) -> float:
    """Return the direct-current resistance of one phase.

    Parameters
    ----------
    machine : Machine
        The machine.
    temperature : float
        Mean winding temperature [degC].

    Returns
    -------
    float
        Resistance [ohm].

    Notes
    -----
    R = rho(T) 2 N (L + l_end) / (a A_c) with N series turns in `a` parallel paths of conductors
    of area A_c. Exact for uniform current; welds and lead-out are left out (from memory: 1-3 %).

    References
    ----------
    Pyrhönen, Jokinen, Hrabovcová, *Design of Rotating Electrical Machines*, 2nd ed., ch. 5
    (from memory).
    """
    w = machine.winding
    turn = 2.0 * (machine.stack_length + w.end_turn_length)
    rho = machine.conductor.resistivity(temperature)
    return rho * w.series_turns * turn / (w.parallel_paths * w.conductor_area)


@dataclass(frozen=True, eq=False)
class ResistanceRatio:
    """R_ac/R_dc of a phase in its parts, arrays of the frequencies' shape.

    Attributes
    ----------
    slot, end : ndarray
        Ratio of the part inside the slots and of the end turns.
    phase : ndarray
        Ratio of the whole phase, weighted by length.
    opening : ndarray
        Share of the slots' loss in the third of the slot height nearest to the opening.
    """

    slot: Array
    end: Array
    phase: Array
    opening: Array

    @property
    def opening_extra(self) -> Array:
        """Loss beyond direct current in that third, over the slots' direct-current loss."""
        return np.asarray(self.opening * self.slot - OPENING_HEIGHT)


def resistance_ratios(
    machine: Machine, frequency: ArrayLike, temperature: float
) -> ResistanceRatio:
    """Return R_ac/R_dc of a phase in its parts.

    Parameters
    ----------
    machine : Machine
        The machine.
    frequency : array_like, shape (...)
        Electrical frequency [Hz], >= 0.
    temperature : float
        Mean winding temperature [degC].

    Returns
    -------
    ResistanceRatio

    Notes
    -----
    Slot part: mean of `layer_ratios`, or the round-strand form. End turns: an isolated round
    conductor of the same area (own skin effect only); bundled end turns lose somewhat more.
    Strands that are not transposed add `circulating_ratio` in slots and end turns alike. Parallel
    paths are taken to share current equally. Round strands are spread evenly over the height
    here: their loss is smooth, and the strands at the opening are not stated apart.
    """
    f = np.asarray(frequency, dtype=float)
    slot_share, end_share = winding_shares(machine)
    w = machine.winding
    rho = machine.conductor.resistivity(temperature)
    if w.is_rectangular:
        layers = layer_ratios(machine, f, temperature)
        slot = layers.mean(axis=-1)
        diameter = 2.0 * np.sqrt(w.conductor_area / pi)
        end = round_skin_ratio(diameter, f, rho)
        opening = opening_share(layers, OPENING_HEIGHT)
    else:
        slot = round_slot_ratio(machine, f, rho)
        end = round_skin_ratio(w.conductor_width, f, rho)
        if not w.is_transposed:
            extra = circulating_ratio(machine, f, rho)
            slot, end = slot + extra, end + extra
        opening = np.full_like(f, OPENING_HEIGHT)
    phase = np.asarray(slot_share * slot + end_share * end)
    return ResistanceRatio(slot=np.asarray(slot), end=end, phase=phase, opening=opening)


def resistance_ratio(machine: Machine, frequency: ArrayLike, temperature: float) -> Array:
    """Return R_ac/R_dc of a phase, slots and end turns together, see `resistance_ratios`."""
    return resistance_ratios(machine, frequency, temperature).phase
