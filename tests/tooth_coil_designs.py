"""Random machines with coils round single teeth, for tests and for the accuracy tables."""

from typing import Any

import numpy as np

COMBINATIONS = ((12, 8), (12, 10), (12, 14), (9, 6), (9, 8), (18, 12))
"""Slots and poles."""
SERIES_TURNS = (36, 60)
"""Series turns of a phase [-]: about 6 to 9 kA turns amplitude at 110 A rms."""


def tooth_coil_design(generator: np.random.Generator, family: str) -> dict[str, Any]:
    """Return a random table (SI) of a surface, interior or reluctance rotor under tooth coils."""

    def between(low: float, high: float) -> float:
        return float(generator.uniform(low, high))

    slots, poles = COMBINATIONS[int(generator.integers(len(COMBINATIONS)))]
    out: dict[str, Any] = {
        "slots": slots,
        "poles": poles,
        "conductor": "round",
        "parallel_paths": 1,
        "turns_per_coil": round(between(*SERIES_TURNS) * 3 / slots),
        "stator_outer_diameter": 0.22,
        "stack_length": between(0.05, 0.09),
        "bore_ratio": between(0.60, 0.72),
        "slot_depth_ratio": between(0.50, 0.72),
        "tooth_width_ratio": between(0.45, 0.65),
        "slot_opening_ratio": between(0.10, 0.30),
        "tip_height": between(1.5e-3, 3e-3),
        "wedge_height": between(2e-3, 3.5e-3),
        "air_gap": between(0.6e-3, 1.0e-3),
        "shaft_ratio": between(0.35, 0.5),
        "magnet_axial_segments": 12,
    }
    if family == "surface":
        return out | {
            "magnet_thickness": between(3e-3, 6e-3),
            "magnet_arc_ratio": between(0.65, 0.95),
            "sleeve_thickness": between(0.5e-3, 1.5e-3),
            "magnetisation": str(generator.choice(["radial", "parallel"])),
            "magnet_width_segments": int(generator.integers(2, 5)),
        }
    if family == "interior":
        return out | {
            "magnet_thickness": between(3e-3, 7e-3),
            "magnet_width_ratio": between(0.6, 1.0),
            "v_depth_ratio": between(0.0, 0.6),
            "barrier_span_ratio": between(0.70, 0.92),
            "bridge_thickness": between(0.8e-3, 2e-3),
            "magnet_width_segments": int(generator.integers(1, 4)),
        }
    return out | {
        "barriers": int(generator.integers(1, 4)),
        "insulation_ratio": between(0.25, 0.5),
        "bridge_thickness": between(0.6e-3, 1.5e-3),
    }
