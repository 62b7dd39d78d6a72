"""Statistics of circuit less field over many designs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.nomenclature import METRICS
from optim.service.verified import difference, difference_unit
from tests.accuracy.both import BothModels

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Row:
    """One line of the table.

    Attributes
    ----------
    name, unit : str
        What differs, and the unit of the numbers.
    median, high, worst : float
        Median, 95th percentile and largest of the size of circuit less field.
    mean : float
        With its sign.
    bars : tuple of float, or None
        What is asked of median and 95th percentile.
    left_out : int
        Designs without a relative difference: zero by the field model, something by the circuit.
    """

    name: str
    unit: str
    median: float
    high: float
    worst: float
    mean: float
    bars: tuple[float, float] | None = None
    left_out: int = 0

    @property
    def is_met(self) -> bool:
        """Whether both bars are met; true where there are none."""
        return self.bars is None or (self.median <= self.bars[0] and self.high <= self.bars[1])

    @property
    def title(self) -> str:
        """Name for people, with the number of designs left out."""
        without = f" ({self.left_out} designs of zero left out)" if self.left_out else ""
        return title(self.name) + without


BARS = {
    "peak_torque": (1.5, 4.0),
    "open_circuit_flux": (1.0, 2.5),
    "psi_d": (2.0, 4.0),
    "psi_q": (2.0, 4.0),
    "cycle_efficiency": (0.2, 0.5),
    "demagnetisation_margin": (0.03, 0.06),
}
"""Median and 95th percentile asked for, in the units of the table."""

SHOWN = (
    "peak_torque", "open_circuit_flux", "cycle_efficiency", "demagnetisation_margin",
    "launch_torque", "torque_at_base_speed", "base_speed", "top_speed_power",
    "continuous_torque", "back_emf_line_peak", "characteristic_current", "short_circuit_torque",
    "reluctance_share", "power_factor", "radial_pressure", "cycle_loss", "cycle_loss_winding",
    "cycle_loss_iron",
    "cycle_loss_magnet", "drag_loss", "winding_temperature", "magnet_temperature",
    "tooth_flux_density", "yoke_flux_density",
)  # fmt: skip


def metric_rows(found: Sequence[BothModels], names: Iterable[str] = SHOWN) -> list[Row]:
    """Return the rows of metrics that all designs have."""
    rows = []
    for name in names:
        # a family may not have it
        if not all(name in m for b in found for m in (b.circuit_metrics, b.field_metrics)):
            continue
        values = [difference(name, b.field_metrics[name], b.circuit_metrics[name]) for b in found]
        known = np.array([value for value in values if value is not None])
        if not known.size:
            continue
        row = _row(name, difference_unit(name), known)
        rows.append(replace(row, left_out=len(values) - len(known)))
    return rows


def map_rows(found: Sequence[BothModels]) -> list[Row]:
    """Return the rows of linkages and torque over the map, all points of all designs."""
    inside = [_inside(b) for b in found]
    out = []
    for k, name in enumerate(("psi_d", "psi_q")):
        errors = [_share(b.circuit_psi[k], b.field_psi[k]) for b in found]
        out.append(
            _row(name, "% of the map's largest", np.concatenate([e.ravel() for e in errors]))
        )
        out.append(_row(f"{name}, within the current limit", "% of the map's largest",
                        np.concatenate([e[i] for e, i in zip(errors, inside)])))  # fmt: skip
    errors = [_share(b.circuit_torque, b.field_torque) for b in found]
    out.append(
        _row("torque", "% of the map's largest", np.concatenate([e.ravel() for e in errors]))
    )
    out.append(_row("torque, within the current limit", "% of the map's largest",
                    np.concatenate([e[i] for e, i in zip(errors, inside)])))  # fmt: skip
    return out


def _inside(both: BothModels) -> NDArray[np.bool_]:
    amplitude = np.hypot(both.i_d[:, None], both.i_q)
    return np.asarray(amplitude <= both.i_q[-1] * (1.0 + 1e-9))


def _share(circuit: Array, field: Array) -> Array:
    return np.asarray(100.0 * (circuit - field) / np.abs(field).max())


def share_row(name: str, values: Array) -> Row:
    """Return a row of differences in percent of each design's largest linkage."""
    return _row(name, "% of the map's largest", values)


def _row(name: str, unit: str, values: Array) -> Row:
    size = np.abs(values)
    return Row(
        name=name,
        unit=unit,
        median=float(np.median(size)),
        high=float(np.quantile(size, 0.95)),
        worst=float(size.max()),
        mean=float(values.mean()),
        bars=BARS.get(name),
    )


def title(name: str) -> str:
    """Return a row's name for people, with the metric's definition where it is one."""
    return METRICS[name].name.replace("_", " ") if name in METRICS else name
