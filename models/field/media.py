"""What fills the regions: reluctivity and remanence."""

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
