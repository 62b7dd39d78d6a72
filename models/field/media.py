"""What fills the regions: reluctivity, remanence, stacked iron."""

from dataclasses import dataclass

import numpy as np

from models.constants import MU0
from models.errors import InvalidInputError
from models.materials.reluctivity import ReluctivityTable


@dataclass(frozen=True, eq=False)
class Medium:
    """Material of a region as the field sees it: H = nu (B - Br).

    Attributes
    ----------
    reluctivity : float or ReluctivityTable
        nu [m/H]; a table for iron.
    remanence : float
        Br [T] along the region's magnetisation.
    magnetisation_order : float
        The magnetisation direction turns by this multiple of the polar angle: 0 parallel,
        1 radial, 1 + p the rotating (Halbach) pattern that faces inwards, 1 - p outwards.
    """

    reluctivity: float | ReluctivityTable
    remanence: float = 0.0
    magnetisation_order: float = 0.0

    def __post_init__(self) -> None:
        if isinstance(self.reluctivity, ReluctivityTable):
            _require_rising(self.reluctivity)
        elif not 0.0 < self.reluctivity < np.inf:
            raise InvalidInputError(
                f"medium: reluctivity {self.reluctivity!r} m/H is not above zero and finite"
            )
        if not np.isfinite(self.remanence):
            raise InvalidInputError(f"medium: remanence {self.remanence!r} T is not a number")


def _require_rising(table: ReluctivityTable) -> None:
    """Refuse a table in which H does not rise with B: the field would not be unique."""
    b = np.sqrt(table.step * np.arange(len(table.nu)))
    differential = table.nu + 2.0 * b**2 * table.slope
    is_bad = ~((table.nu > 0.0) & (differential > 0.0) & np.isfinite(differential))
    is_bad[1:] |= ~(np.diff(table.nu * b) > 0.0)
    if np.any(is_bad):
        raise InvalidInputError(
            f"B-H table: H does not rise with B at {b[np.argmax(is_bad)]:.3f} T; give points in "
            "which both H and B rise"
        )


AIR = Medium(1.0 / MU0)


def stacked(table: ReluctivityTable, stacking_factor: float) -> ReluctivityTable:
    """Return the reluctivity of a stack of sheets and thin air spaces side by side.

    Parameters
    ----------
    table : ReluctivityTable
        The solid sheet.
    stacking_factor : float
        Iron length over stack length k, above 0 and at most 1.

    Returns
    -------
    ReluctivityTable
        For the mean flux density of the stack.

    Notes
    -----
    Sheet and space see the same H:  B = k B_iron(H) + (1 - k) mu0 H.
    """
    k = stacking_factor
    if not 0.0 < k <= 1.0:
        raise InvalidInputError(f"stacking factor {k!r} is not in (0, 1]")
    if k == 1.0:
        return table
    n = len(table.nu)
    step = table.step * k**2
    mean = np.sqrt(step * np.arange(n))
    iron = mean / k
    for _ in range(60):
        nu, slope = table(iron**2)
        change = (k * iron + (1.0 - k) * MU0 * nu * iron - mean) / (
            k + (1.0 - k) * MU0 * (nu + 2.0 * iron**2 * slope)
        )
        iron = np.maximum(iron - change, 0.0)
        if np.max(np.abs(change)) < 1e-13:
            break
    nu, slope = table(iron**2)
    differential = nu + 2.0 * iron**2 * slope
    mean_differential = differential / (k + (1.0 - k) * MU0 * differential)
    ratio = np.empty(n)
    derivative = np.empty(n)
    ratio[1:] = nu[1:] * iron[1:] / mean[1:]
    derivative[1:] = (mean_differential[1:] - ratio[1:]) / (2.0 * mean[1:] ** 2)
    # limit at B = 0 from the series of H(B)
    start = k + (1.0 - k) * MU0 * nu[0]
    ratio[0] = nu[0] / start
    derivative[0] = slope[0] * k / start**4
    return ReluctivityTable(step, ratio, derivative)
