"""The circuit model as a `MagneticModel`."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from models.circuit.gap_field import gap_flux_density
from models.circuit.maps import flux_maps, lowest_magnet_field
from models.circuit.solution import Circuit, Solution, assemble, solve_points
from models.circuit.torque_split import TorqueSplit, torque_parts, torque_split
from models.flux_maps import FluxMaps
from models.machine import Machine
from models.magnetics import Point
from models.radial_pressure import RadialPressure, radial_pressure


@dataclass(frozen=True, eq=False)
class CircuitModel:
    """Magnetic network of one machine, assembled once; keeps the single points it solved."""

    circuit: Circuit
    _solved: dict[Point, Solution] = field(default_factory=dict, init=False, repr=False)

    @classmethod
    def of(cls, machine: Machine) -> "CircuitModel":
        """Assemble the network of a machine."""
        return cls(assemble(machine))

    @property
    def name(self) -> str:
        """Name of the model."""
        return "circuit"

    def flux_maps(self, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
        """Return flux maps, see `models.circuit.maps.flux_maps`."""
        return flux_maps(
            self.circuit, current_peak=current_peak, magnet_temperature=magnet_temperature
        )

    def solve_ahead(self, points: Sequence[Point]) -> None:
        """Solve points side by side: eight cost as much as one."""
        missing = [point for point in dict.fromkeys(points) if point not in self._solved]
        if missing:
            self._solved.update(zip(missing, solve_points(self.circuit, missing)))

    def lowest_magnet_field(self, *, i_d: float, magnet_temperature: float) -> float:
        """Return the 2 % area percentile of the field along the magnetisation [T]."""
        return self.lowest_magnet_fields((i_d,), magnet_temperature=magnet_temperature)[0]

    def lowest_magnet_fields(
        self, i_d: tuple[float, ...], *, magnet_temperature: float
    ) -> tuple[float, ...]:
        """Return the same at several d-axis currents [A]."""
        points = [(x, 0.0, magnet_temperature) for x in i_d]
        self.solve_ahead(points)
        return tuple(lowest_magnet_field(self.circuit, self._solved[point]) for point in points)

    def magnet_torque(self, *, i_d: float, i_q: float, magnet_temperature: float) -> float:
        """Return the magnet torque [N*m] by frozen permeability."""
        return torque_parts(
            self.circuit, i_d=i_d, i_q=i_q, magnet_temperature=magnet_temperature,
            solution=self._point(i_d, i_q, magnet_temperature),
        )[1]  # fmt: skip

    def radial_pressure(
        self, *, i_d: float, i_q: float, magnet_temperature: float
    ) -> RadialPressure:
        """Return the waves of radial pressure; time orders above 4 f are folded."""
        solution = self._point(i_d, i_q, magnet_temperature)
        return radial_pressure(gap_flux_density(self.circuit, solution), self.circuit.sector)

    def _point(self, i_d: float, i_q: float, magnet_temperature: float) -> Solution:
        point = (i_d, i_q, magnet_temperature)
        self.solve_ahead([point])
        return self._solved[point]

    def torque_split(self, *, current_peak: float, magnet_temperature: float) -> TorqueSplit:
        """Return torque against current angle in its parts."""
        return torque_split(
            self.circuit, current_peak=current_peak, magnet_temperature=magnet_temperature
        )
