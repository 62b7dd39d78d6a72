"""The field model as a `MagneticModel`."""

from collections.abc import Sequence
from dataclasses import dataclass

from models.field.machine_field import FieldModel, field_model
from models.field.maps import flux_maps, lowest_magnet_field
from models.field.pressure import gap_flux_density
from models.field.sizing import Resolution
from models.field.waves import (
    POSITIONS,
    TorqueSplit,
    TorqueWave,
    torque_parts,
    torque_split,
    torque_wave,
)
from models.flux_maps import FluxMaps
from models.machine import Machine
from models.magnetics import Point
from models.radial_pressure import RadialPressure, radial_pressure


@dataclass(frozen=True, eq=False)
class FieldMagnetics:
    """Field equations of one machine, meshed and assembled once.

    Safe to use from several threads: every call keeps its own factors.
    """

    machine: Machine
    model: FieldModel

    @classmethod
    def of(cls, machine: Machine, resolution: Resolution | None = None) -> "FieldMagnetics":
        """Mesh and assemble a machine."""
        return cls(machine, field_model(machine, resolution=resolution))

    @property
    def name(self) -> str:
        """Name of the model."""
        return "field"

    def flux_maps(self, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
        """Return flux maps, see `models.field.maps.flux_maps`."""
        return flux_maps(
            self.machine,
            self.model,
            current_peak=current_peak,
            magnet_temperature=magnet_temperature,
        )

    def solve_ahead(self, points: Sequence[Point]) -> None:
        """Do nothing: points cost the same one by one."""

    def lowest_magnet_field(
        self, *, i_d: float, magnet_temperature: float, i_q: float = 0.0
    ) -> float:
        """Return the 2 % area percentile of the field along the magnetisation [T]."""
        return lowest_magnet_field(
            self.machine, self.model, i_d=i_d, i_q=i_q, magnet_temperature=magnet_temperature
        )

    def lowest_magnet_fields(
        self, i_d: tuple[float, ...], *, magnet_temperature: float
    ) -> tuple[float, ...]:
        """Return the same at several d-axis currents [A]."""
        return tuple(
            self.lowest_magnet_field(i_d=x, magnet_temperature=magnet_temperature) for x in i_d
        )

    def magnet_torque(self, *, i_d: float, i_q: float, magnet_temperature: float) -> float:
        """Return the magnet torque [N*m] by frozen permeability."""
        return torque_parts(
            self.model,
            i_d=i_d,
            i_q=i_q,
            remanence=self.machine.magnet.remanence(magnet_temperature),
        )[1]

    def torque_split(self, *, current_peak: float, magnet_temperature: float) -> TorqueSplit:
        """Return torque against current angle in its parts."""
        return torque_split(
            self.model,
            current_peak=current_peak,
            remanence=self.machine.magnet.remanence(magnet_temperature),
        )

    def torque_wave(
        self, *, i_d: float, i_q: float, magnet_temperature: float, positions: int = POSITIONS
    ) -> TorqueWave:
        """Return torque and linkages over rotor position."""
        return torque_wave(
            self.model,
            i_d=i_d,
            i_q=i_q,
            remanence=self.machine.magnet.remanence(magnet_temperature),
            positions=positions,
        )

    def radial_pressure(
        self, *, i_d: float, i_q: float, magnet_temperature: float
    ) -> RadialPressure:
        """Return the waves of radial pressure in the gap."""
        return self.pressure_of(
            self.torque_wave(i_d=i_d, i_q=i_q, magnet_temperature=magnet_temperature)
        )

    def pressure_of(self, wave: TorqueWave) -> RadialPressure:
        """Return the waves of radial pressure of a solved torque wave."""
        radius = 0.5 * (self.machine.stator.bore_radius + self.machine.rotor.outer_radius)
        return radial_pressure(
            gap_flux_density(self.model, wave.potential, wave.rotor_angle, radius=radius),
            self.model.sector,
        )
