"""What the winding's waves do in the magnets where a sector covers several poles.

With whole slots per pole and phase, balanced currents make waves of orders 5, 7, 11, 13 ... times
the pole pairs, which a magnet sees at 6, 12 ... times electrical frequency: the first of them and
the slots' stand for all. Other windings, tooth coils above all, make long waves as well. A magnet
sees them at multiples of 6 f over the poles of the sector; here they are summed to one ripple at
one frequency that loses as much.
"""

import numpy as np
from numpy.typing import NDArray

from models.geometry.sector import sector_of
from models.losses.magnet import BELT_ORDER
from models.losses.rotor_surface import SurfaceWaves, winding_waves
from models.machine import Machine

Array = NDArray[np.float64]


def belt_order(machine: Machine) -> float:
    """Return the order over electrical frequency at which the magnets' ripple is stated.

    Six for whole slots per pole and phase; else that of the winding's wave with the largest rate of
    change in the rotor.
    """
    if sector_of(machine).poles == 1:
        return float(BELT_ORDER)
    waves = winding_waves(machine)
    return float(waves.order[np.argmax(waves.order * waves.per_current)])


def ripples_over_poles(
    machine: Machine, field: Array, weights: Array, *, is_slotting_apart: bool
) -> tuple[Array, Array]:
    """Return the magnets' ripple that stands for all harmonics, and zero for that of the slots.

    Parameters
    ----------
    machine : Machine
        One whose sector covers several poles.
    field : ndarray, shape (samples, n_d, n_q, places)
        Flux density along the magnetisation over one period in the rotor, uniform in time [T]; the
        last i_d and the first i_q are zero.
    weights : ndarray, shape (places,)
        Areas or volumes of the places.
    is_slotting_apart : bool
        The loss by slots without current is counted elsewhere: what the field does there is taken
        off.

    Returns
    -------
    belt, slot : ndarray, shape (n_d, n_q)
        [T]; belt at `belt_order` times electrical frequency.

    Notes
    -----
    B^2 = sum over harmonics h of (o_h / o)^2 B_h^2, o_h = 6 h / poles, B_h the root mean square of
    the amplitude over the places: the same loss as long as it is limited by resistance. Skin
    effect is then taken at o for all, which overstates the loss of higher orders. The samples tell
    harmonics below half their number.
    """
    sector, samples = sector_of(machine), field.shape[0]
    share = weights / weights.sum()
    spectrum = 2.0 / samples * np.fft.rfft(field, axis=0)[1 : (samples + 1) // 2]
    if is_slotting_apart:
        spectrum = spectrum - spectrum[:, -1:, :1]
    order = sector.rotor_order * np.arange(1, len(spectrum) + 1) / belt_order(machine)
    square = np.tensordot(order**2, np.abs(spectrum) ** 2, axes=(0, 0)) @ share
    return np.sqrt(square), np.zeros_like(square)


def wave_shares(machine: Machine, *, iron_radius: float, height: float) -> SurfaceWaves:
    """Return the winding's waves in a layer above the rotor iron, strongest first.

    Parameters
    ----------
    machine : Machine
    iron_radius : float
        Radius of the iron below the layer [m].
    height : float
        Height of the layer [m].

    Returns
    -------
    SurfaceWaves
        `per_current` is scaled so that the squares of order times it sum to 1: the waves' shares
        in the rate of change of a ripple that stands for them all.

    Notes
    -----
    A wave grows as cosh(k y) above the iron; its mean square over the height counts. Waves that
    together hold less than a thousandth are left out.
    """
    waves = winding_waves(machine, iron_radius=iron_radius)
    x = np.minimum(2.0 * waves.wave_number * height, 100.0)
    size = waves.per_current * np.sqrt(0.5 * (1.0 + np.sinh(x) / x))
    rate = waves.order * size
    falling = np.argsort(-rate, kind="stable")
    total = np.cumsum(rate[falling] ** 2)
    kept = falling[: int(np.searchsorted(total, 0.999 * total[-1])) + 1]
    return SurfaceWaves(
        order=waves.order[kept],
        wave_number=waves.wave_number[kept],
        per_current=size[kept] / np.sqrt(total[-1]),
    )
