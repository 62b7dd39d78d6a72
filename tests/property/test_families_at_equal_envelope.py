"""What the trade says of buried magnets and cages in one envelope (common practice, no source).

The same stator, supply, cooling, duty and thin traction sheet for both; only the rotor and its
number of poles differ. No number below was found by a search: a cage whose stator is shaped for
it, and a thicker sheet, which costs the higher frequency of eight poles more, bring them closer.
"""

import numpy as np
import pytest

from models.duty import rpm
from models.evaluate import perform_design
from models.performance.drive import shaft_points
from models.performance.summary import Performance, metrics
from tests.export_case import DUTY

STATOR = {
    "stator_outer_diameter": 0.2, "stack_length": 0.15, "bore_ratio": 0.68, "slots": 48,
    "slot_depth_ratio": 0.58, "tooth_width_ratio": 0.52, "turns_per_coil": 3,
    "conductor": "rectangular", "parallel_paths": 4, "air_gap": 0.7e-3, "lamination": "NO20-1200H",
}  # fmt: skip
CAGE = {"poles": 4, "bars": 38, "bar_shape": "drop", "ring_width": 15e-3}
CRUISE = (25.0, rpm(7000.0))


@pytest.fixture(scope="module")
def buried() -> Performance:
    return perform_design({**STATOR, "poles": 8}, DUTY, family="interior")


@pytest.fixture(scope="module", params=["copper", "aluminium"])
def cage(request: pytest.FixtureRequest) -> Performance:
    return perform_design({**STATOR, **CAGE, "cage_material": request.param}, DUTY, family="cage")


def cruise_shares(result: Performance) -> tuple[float, float, float]:
    """Return losses at cruise over shaft power: winding, cage with stray load, rotor's rest."""
    torque, speed = CRUISE
    supply = DUTY.supply
    points, loss = shaft_points(
        result.drive, np.array([torque]), np.array([speed]), supply.voltage_peak(supply.dc_voltage)
    )
    assert points.is_reached[0]
    parts = (loss.winding, loss.cage + loss.stray, loss.magnet + loss.rotor_iron)
    return tuple(float(part[0]) / (torque * speed) for part in parts)


def test_a_cage_costs_some_per_cent_at_cruise_and_buried_magnets_next_to_nothing(buried, cage):
    """The field of a cage takes current all the time, and its bars lose slip times gap power."""
    winding, bars, rest = cruise_shares(cage)
    assert 0.01 < winding + bars < 0.05
    assert bars > 0.005
    assert rest == 0.0
    winding_with_magnets, bars, rest = cruise_shares(buried)
    assert winding_with_magnets < min(0.005, 0.5 * winding)
    assert bars == 0.0
    assert rest < 0.003


def test_buried_magnets_gain_points_of_cycle_efficiency_on_a_cage(buried, cage):
    with_magnets, with_cage = metrics(buried), metrics(cage)
    assert max(with_magnets["cycle_missed_energy"], with_cage["cycle_missed_energy"]) < 1e-3
    gain = with_magnets["cycle_efficiency"] - with_cage["cycle_efficiency"]
    assert 0.015 < gain < 0.05
    # and more torque at the same current in the same iron, part of it by reluctance
    assert with_magnets["peak_torque"] > with_cage["peak_torque"]
    assert 0.2 < with_magnets["reluctance_share"] < 0.8
