"""Random rotors with layers of barriers, for tests and for the accuracy tables."""

from typing import Any

import numpy as np

FRAME: dict[str, Any] = {
    "stator_outer_diameter": 0.2,
    "stack_length": 0.15,
    "turns_per_coil": 3,
    "parallel_paths": 4,
}
FULL_PITCH = {4: (36, 4, 4), 6: (54, 2, 3), 8: (48, 3, 4)}
"""Slots, turns of a coil, parallel paths by number of poles: about equal current loading."""
BORES = {4: (0.55, 0.66), 6: (0.60, 0.70), 8: (0.64, 0.74)}


def reluctance_design(generator: np.random.Generator, *, has_magnets: bool) -> dict[str, Any]:
    """Return a random reluctance rotor of 4, 6 or 8 poles and one to four barriers."""

    def between(low: float, high: float) -> float:
        return float(generator.uniform(low, high))

    poles = int(generator.choice([4, 6, 8]))
    slots, turns, paths = FULL_PITCH[poles]
    out: dict[str, Any] = {
        **FRAME,
        "poles": poles,
        "slots": slots,
        "turns_per_coil": turns,
        "parallel_paths": paths,
        "bore_ratio": between(*BORES[poles]),
        "slot_depth_ratio": between(0.40, 0.58) if poles == 4 else between(0.45, 0.65),
        "tooth_width_ratio": between(0.45, 0.60),
        "slot_opening_ratio": between(0.20, 0.50),
        "air_gap": between(0.5e-3, 1.0e-3),
        "shaft_ratio": between(0.25, 0.42),
        "barriers": int(generator.integers(1, 5)),
        "insulation_ratio": between(0.25, 0.50),
        "barrier_depth_ratio": between(0.6, 1.0),
        "barrier_grading": between(0.7, 2.0),
        "barrier_lead_ratio": between(0.0, 1.5),
        "barrier_end_ratio": between(0.3, 0.6),
        "barrier_span_ratio": between(0.75, 0.94),
        "bridge_thickness": between(0.6e-3, 2.0e-3),
        "rib_width": between(0.8e-3, 4.0e-3),
        "outer_rib_ratio": between(0.4, 1.0),
    }
    if has_magnets:
        out["magnet_grade"] = str(generator.choice(["ferrite-31-30", "N42SH"]))
        for number in range(1, 5):
            out[f"magnet_fill_{number}"] = float(generator.choice([0.0, between(0.5, 1.0), 1.0]))
        out["magnet_fill_1"] = max(out["magnet_fill_1"], 0.6)
    return out


def two_layer_design(generator: np.random.Generator, layout: str) -> dict[str, Any]:
    """Return a random interior rotor of eight poles with two layers of magnets."""

    def between(low: float, high: float) -> float:
        return float(generator.uniform(low, high))

    return {
        **FRAME,
        "magnet_layout": layout,
        "bore_ratio": between(0.64, 0.74),
        "slot_depth_ratio": between(0.45, 0.65),
        "tooth_width_ratio": between(0.45, 0.60),
        "slot_opening_ratio": between(0.20, 0.50),
        "air_gap": between(0.6e-3, 1.0e-3),
        "shaft_ratio": between(0.25, 0.42),
        "magnet_grade": str(generator.choice(["N42SH", "N48H", "N42UH"])),
        "magnet_thickness": between(2.5e-3, 5.5e-3),
        "magnet_width_ratio": between(0.6, 1.0),
        "v_depth_ratio": between(0.4, 1.0),
        "barrier_span_ratio": between(0.75, 0.94),
        "barrier_width_ratio": between(0.5, 1.3),
        "bridge_thickness": between(0.8e-3, 2.0e-3),
        "rib_width": between(0.8e-3, 4.0e-3),
        "outer_span_ratio": between(0.55, 0.90),
        "outer_thickness_ratio": between(0.4, 1.0),
        "outer_rib_ratio": between(0.3, 1.0),
    }


KINDS = ("reluctance", "assisted", "double_v", "v_flat")


def design_of(kind: str, generator: np.random.Generator) -> tuple[str, dict[str, Any]]:
    """Return family and parameters of a random design of one of `KINDS`."""
    if kind in ("reluctance", "assisted"):
        return "reluctance", reluctance_design(generator, has_magnets=kind == "assisted")
    return "interior", two_layer_design(generator, kind)
