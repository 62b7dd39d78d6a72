"""What any magnetic model of a machine must answer; the circuit and the field model both do."""

from collections.abc import Sequence
from typing import Protocol

from models.flux_maps import FluxMaps

Point = tuple[float, float, float]
"""An operating point: i_d [A], i_q [A], magnet temperature [degC]."""


class MagneticModel(Protocol):
    """A magnetic model of one machine."""

    @property
    def name(self) -> str:
        """`circuit` or `field`."""
        ...

    def flux_maps(self, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
        """Return maps up to a current amplitude [A] at a magnet temperature [degC]."""
        ...

    def solve_ahead(self, points: Sequence[Point]) -> None:
        """Solve points that will be asked for, where that is cheaper together than one by one."""
        ...

    def lowest_magnet_field(self, *, i_d: float, magnet_temperature: float) -> float:
        """Return the flux density [T] along the magnetisation that decides demagnetisation."""
        ...

    def lowest_magnet_fields(
        self, i_d: tuple[float, ...], *, magnet_temperature: float
    ) -> tuple[float, ...]:
        """Return the same at several d-axis currents [A], ascending."""
        ...

    def magnet_torque(self, *, i_d: float, i_q: float, magnet_temperature: float) -> float:
        """Return the magnets' share of the air-gap torque [N*m] by frozen permeability."""
        ...
