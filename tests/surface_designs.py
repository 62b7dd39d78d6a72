"""Random surface-magnet rotors, for tests and for the accuracy tables."""

import numpy as np

from models.machine import ParameterValue

RANGES = {
    "magnet_thickness": (3e-3, 8e-3), "magnet_arc_ratio": (0.6, 0.95),
    "sleeve_thickness": (0.4e-3, 2.5e-3), "shaft_ratio": (0.3, 0.5), "bore_ratio": (0.58, 0.72),
    "tooth_width_ratio": (0.42, 0.62), "slot_depth_ratio": (0.45, 0.7),
    "slot_opening_ratio": (0.2, 0.6), "air_gap": (0.7e-3, 1.2e-3), "inset_ratio": (0.0, 0.6),
}  # fmt: skip


def designs(count: int, seed: int) -> list[dict[str, ParameterValue]]:
    """Return random parameter tables, half of them plain, half inset."""
    generator = np.random.default_rng(seed)
    return [surface_design(generator) for _ in range(count)]


def surface_design(generator: np.random.Generator) -> dict[str, ParameterValue]:
    """Return a random parameter table."""
    table: dict[str, ParameterValue] = {
        name: float(generator.uniform(*span)) for name, span in RANGES.items()
    }
    if generator.random() < 0.5:
        table["inset_ratio"] = 0.0
    table["magnetisation"] = "radial" if generator.random() < 0.5 else "parallel"
    table["magnet_width_segments"] = int(generator.integers(1, 5))
    return table
