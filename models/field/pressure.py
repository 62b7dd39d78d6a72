"""Radial flux density in the air gap, read off solved fields by the annulus' harmonics."""

import numpy as np
from numpy.typing import NDArray

from models.field.machine_field import FieldModel

Array = NDArray[np.float64]

ANGLES = 192
"""Angles over each pole."""


def gap_flux_density(
    model: FieldModel, potential: Array, rotor_angle: Array, *, radius: float
) -> Array:
    """Return the radial flux density in mid gap over the sector, shape (n, poles * ANGLES) [T].

    Parameters
    ----------
    model : FieldModel
        Equations.
    potential : ndarray, shape (n, size + 1)
        Vector potential [Wb/m].
    rotor_angle : ndarray, shape (n,)
        Electrical angle of the d axis [rad].
    radius : float
        Of mid gap [m].
    """
    system = model.system
    gap = system.gap
    count = model.sector.poles * ANGLES
    theta = (np.arange(count) + 0.5) * model.sector.angle / count
    wave = np.exp(1j * gap.orders[:, None] * theta)
    out = np.empty((len(potential), count))
    for k, (a, angle) in enumerate(zip(potential, rotor_angle.tolist())):
        amplitude = gap.radial_flux_density(
            a[system.gap_rotor], a[system.gap_stator], model.mechanical_angle(angle), 0.5
        )
        out[k] = (amplitude @ wave).real / radius
    return out
