"""One design for the tests of exports: an invented harbour shuttle."""

from functools import cache

from models.cost import default_prices
from models.duty import Duty, Supply, Vehicle, rpm
from models.evaluate import perform_design
from models.performance.summary import Performance, metrics
from models.vehicle.cycles import built_in
from optim.export.context import PackContext
from optim.study.model import Limit

DUTY = Duty(
    supply=Supply(dc_voltage=350.0, dc_voltage_min=300.0, phase_current=400.0),
    vehicle=Vehicle(mass=2100.0, road_load=(170.0, 1.5, 0.55), wheel_radius=0.33, gear_ratio=9.0),
    cycle=built_in("wltc_3b"),
    top_speed=rpm(13000.0),
    base_speed=rpm(4000.0),
    continuous_speed=rpm(6000.0),
    continuous_torque=80.0,
)

CONTEXT = PackContext(
    study_name="harbour-shuttle",
    study_title="Drive of an invented harbour shuttle",
    run_id="r7",
    candidate=12,
    rank=1,
    seed=3,
    limits=(
        Limit("peak_torque", ">=", 190.0),
        Limit("back_emf_line_peak", "<=", 465.0),
        Limit("magnet_mass", "<=", 1.2),
        Limit("demagnetisation_margin", ">=", 0.0),
    ),
    prices=default_prices(),
    price_date="2023",
    version="0.1.0",
)


@cache
def performance() -> Performance:
    """The design through the circuit model, solved once for all tests."""
    return perform_design({}, DUTY)


@cache
def values() -> dict[str, float]:
    """Its metrics (SI), without cost."""
    return metrics(performance())
