"""Radial magnetic pressure in the air gap: its waves round the gap and in time.

Both magnetic models give the radial flux density of one sector; the waves follow from symmetry.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.constants import MU0
from models.geometry.sector import Sector

Array = NDArray[np.float64]

HIGHEST_MULTIPLE = 4
"""Multiple of 2 p up to which waves round the bore are kept."""


@dataclass(frozen=True, eq=False)
class RadialPressure:
    """Waves of radial pressure p(theta, t) on the stator bore at one operating point.

    Attributes
    ----------
    pole_pairs : int
    space_orders : ndarray, shape (n_r,)
        Waves round the bore: multiples of `Sector.lowest_force_order`, which is 2 p where slots
        per pole and phase are whole.
    time_orders : ndarray, shape (n_k,)
        Multiples of the electrical frequency, even; negative runs against the rotor.
    amplitude : ndarray, shape (n_r, n_k)
        Peak value of the wave [Pa]. Order 0 in space stands still round the bore: its positive
        and negative time orders are one, given at both.
    breathing : float
        Half of the peak-to-peak value over time of the mean pressure round the bore [Pa].
    """

    pole_pairs: int
    space_orders: Array
    time_orders: Array
    amplitude: Array
    breathing: float

    @property
    def at_bending_order(self) -> float:
        """Largest wave of the lowest space order from 2 on [Pa]: the first to bend the stator.

        The order is 2 p where slots per pole and phase are whole.
        """
        return float(self.amplitude[int(np.argmax(self.space_orders >= 2.0))].max())

    @property
    def of_order_one(self) -> float:
        """Largest wave of space order 1 [Pa], which pulls the rotor to one side; 0 without."""
        return float(self.amplitude[self.space_orders == 1.0].max(initial=0.0))

    def dominant(self, count: int = 8) -> list[tuple[int, int, float]]:
        """Return the largest waves but the steady mean: space order, time order, peak [Pa]."""
        size = self.amplitude.copy()
        size[:, self.time_orders == 0] = 0.0
        size[0, self.time_orders < 0] = 0.0
        order = np.argsort(-size, axis=None, kind="stable")[:count]
        rows, columns = np.unravel_index(order, size.shape)
        return [
            (int(self.space_orders[r]), int(self.time_orders[k]), float(size[r, k]))
            for r, k in zip(rows, columns)
        ]


def radial_pressure(
    flux_density: Array, sector: Sector, *, orders: int = HIGHEST_MULTIPLE
) -> RadialPressure:
    """Return the waves of radial pressure from the flux density over one sector.

    Parameters
    ----------
    flux_density : ndarray, shape (n_positions, n_angles)
        Radial flux density in the gap [T], in the stator's axes: rotor positions that divide one
        phase belt (60 electrical degrees) evenly, angles that divide the sector evenly; the
        number of angles is divisible by three.
    sector : Sector
    orders : int
        Multiples of 2 p up to which orders are kept.

    Returns
    -------
    RadialPressure

    Notes
    -----
    p = B_r^2 / (2 mu0), Maxwell's stress without its tangential part (1 to 5 % of it). A third of
    a period later the field is the same some slots further on, and half a period later it is its
    negative, so n positions give 3 n samples of the pressure's period exactly. Few positions fold
    high time orders into low ones: three tell 2 f and 4 f, sixteen tell up to 46 f.

    References
    ----------
    J. F. Gieras, C. Wang, J. C. Lai, *Noise of Polyphase Electric Motors*, 2006 (from memory).
    """
    pressure = flux_density**2 / (2.0 * MU0)
    n_positions, n_angles = pressure.shape
    # one sixth of a period later a place sees what the place `slot_shift` slots on sees now
    shift = sector.slot_shift % sector.slots * n_angles // sector.slots
    kept = orders * sector.poles + 1
    turn = 2j * np.pi / n_angles * np.arange(kept)
    in_space = pressure @ np.exp(-np.arange(n_angles)[:, None] * turn)
    # A shift round the bore is a phase of every wave.
    over_time = np.concatenate([in_space * np.exp(k * shift * turn) for k in range(3)])
    samples = 3 * n_positions
    wave = np.fft.fft(over_time, axis=0) / (samples * n_angles)
    # exp(i (r theta - 2 k w t)): a wave that runs with the rotor has k > 0.
    time = np.arange(-((samples - 1) // 2), (samples - 1) // 2 + 1)
    size = np.abs(wave[-time]).T
    mean = pressure.mean(axis=1)
    doubled = np.full_like(size, 2.0)
    doubled[0, time == 0] = 1.0
    return RadialPressure(
        pole_pairs=sector.pole_pairs,
        space_orders=np.asarray(float(sector.lowest_force_order) * np.arange(kept)),
        time_orders=2.0 * time,
        amplitude=size * doubled,
        breathing=0.5 * float(np.ptp(mean)),
    )
