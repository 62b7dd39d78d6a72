"""Random cage machines, for tests and for the accuracy tables."""

import numpy as np

SHAPES = ("round", "drop", "rectangular", "deep")


def cage_design(rng: np.random.Generator) -> dict[str, float | int | str]:
    """Return a random cage machine of 4, 6 or 8 poles."""
    poles = int(rng.choice([4, 6, 8]))
    return {
        "poles": poles,
        "slots": poles * 3 * int(rng.integers(2, 5)),
        "parallel_paths": int(rng.choice([1, 2])),
        "turns_per_coil": int(rng.integers(2, 5)),
        "stack_length": rng.uniform(0.08, 0.2),
        "bore_ratio": rng.uniform(0.5, 0.72),
        "slot_depth_ratio": rng.uniform(0.4, 0.65),
        "tooth_width_ratio": rng.uniform(0.42, 0.6),
        "air_gap": rng.uniform(0.4e-3, 1.0e-3),
        "shaft_ratio": rng.uniform(0.25, 0.45),
        "bars": int(rng.integers(20, 90)),
        "bar_shape": SHAPES[int(rng.integers(4))],
        "bar_width_ratio": rng.uniform(0.3, 0.65),
        "bar_depth_ratio": rng.uniform(0.15, 0.5),
        "rotor_slot_opening": float(rng.choice([0.0, 1.0, 2.0])) * 1e-3,
        "rotor_bridge_height": rng.uniform(0.4e-3, 1.5e-3),
        "ring_width": rng.uniform(5e-3, 25e-3),
        "skew_slots": float(rng.choice([0.0, 1.0])),
        "cage_material": str(rng.choice(["copper", "aluminium"])),
    }
