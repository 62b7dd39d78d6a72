"""Slip of a cage machine: what the stator's frequency has over the rotor's.

Gap power w T / p less shaft power is the loss in the cage, so the slip frequency at a point is
w_s = p P_cage / T. Synchronous machines have none.
"""

from collections.abc import Callable

import numpy as np

from models.control.surface import Array
from models.control.table import TorqueTable, interpolate

PASSES = 4
"""Passes of the fixed point; each shrinks the error by the slip, some per cent."""
LEAST_TORQUE = 1e-9
"""Torque over peak torque below which there is no slip."""


def slip_frequency(table: TorqueTable, torque: Array, i_d: Array, i_q: Array) -> Array:
    """Return the angular slip frequency [rad/s, electrical], negative when generating.

    Parameters
    ----------
    table : TorqueTable
        Machine and condition.
    torque : ndarray, shape (n,)
        Air-gap torque [N*m].
    i_d, i_q : ndarray, shape (n,)
        Peak currents [A].

    Returns
    -------
    ndarray, shape (n,)
        Zero without a cage and without torque.
    """
    torque = np.asarray(torque, dtype=float)
    if table.cage_loss is None:
        return np.zeros_like(torque)
    loss = np.maximum(interpolate(table, table.cage_loss, i_d, i_q), 0.0)
    is_loaded = np.abs(torque) > LEAST_TORQUE * table.peak_torque
    slip = np.divide(table.pole_pairs * loss, torque, out=np.zeros_like(torque), where=is_loaded)
    return np.asarray(slip)


Search = Callable[[Array], tuple[Array, Array, Array]]
"""From electrical angular frequencies of the stator to torque, i_d, i_q."""


def settled_frequency(table: TorqueTable, rotor: Array, search: Search) -> Array:
    """Return the stator's angular frequency at which a search meets its own slip.

    Parameters
    ----------
    table : TorqueTable
        Machine with a cage.
    rotor : ndarray, shape (n,)
        Electrical angular speed of the rotor, p W [rad/s].
    search : callable
        Operating points at given stator frequencies.
    """
    frequency = rotor
    for _ in range(PASSES):
        torque, i_d, i_q = search(frequency)
        frequency = np.maximum(rotor + slip_frequency(table, torque, i_d, i_q), 0.0)
    return np.ascontiguousarray(frequency)
