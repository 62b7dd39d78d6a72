"""What an engineer would expect moves the right metric the right way, or the test says why not."""

from dataclasses import replace
from typing import Any

import pytest

from models.cost import default_prices, price, priced
from models.duty import Duty
from models.evaluate import evaluate
from optim.study.load import load
from optim.study.model import Study

LITRE = 1.0 / 60e3


@pytest.fixture(scope="module")
def study() -> Study:
    return load("studies/island-post-van.toml")


def outcome(study: Study, duty: Duty | None = None, **changes: Any) -> dict[str, float]:
    result = evaluate({**study.baseline, **changes}, duty or study.duty)
    assert result.status == "ok", result.message
    return dict(result.metrics)


def test_thicker_bridges_are_stronger_and_leak_more(study: Study) -> None:
    thin = study.baseline["bridge_thickness"]
    a, b = (outcome(study, bridge_thickness=k * float(thin)) for k in (1.0, 1.4))
    assert b["rotor_safety_factor"] > a["rotor_safety_factor"]
    assert b["burst_speed"] > a["burst_speed"]
    assert b["open_circuit_flux"] < a["open_circuit_flux"]
    assert b["back_emf_line_peak"] < a["back_emf_line_peak"]
    # Magnet mass stays: bridges cost flux, not magnet.
    assert b["magnet_mass"] == pytest.approx(a["magnet_mass"], rel=0.05)


def test_cooler_coolant_and_more_coolants_hold_more(study: Study) -> None:
    def cooled(**changes: float) -> dict[str, float]:
        cooling = replace(study.duty.cooling, **changes)
        return outcome(study, replace(study.duty, cooling=cooling), shaft_bore_ratio=0.5)

    warm, cool = cooled(), cooled(coolant_temperature=45.0)
    spray, shaft = (
        cooled(**{name: 4.0 * LITRE, "oil_temperature": 65.0})
        for name in ("spray_flow", "shaft_flow")
    )
    for better in (cool, spray, shaft):
        assert better["magnet_temperature"] < warm["magnet_temperature"]
        assert better["winding_temperature"] < warm["winding_temperature"]
        # No less: continuous torque stays where current or voltage binds before heat does.
        assert better["continuous_torque"] >= warm["continuous_torque"] - 1e-6
        assert better["continuous_power"] > warm["continuous_power"]
        # Heat moves no force and no flux at the rated temperatures.
        assert better["peak_torque"] == warm["peak_torque"]
    assert spray["winding_temperature"] < shaft["winding_temperature"]
    assert shaft["bearing_temperature"] < warm["bearing_temperature"]


def test_more_magnet_segments_lose_less_and_cost_more(study: Study) -> None:
    """In the resistance-limited range; once the skin depth is below the piece, cutting it can
    raise the loss: that is shown where the loss itself is tested."""
    few, many = (outcome(study, magnet_axial_segments=n) for n in (2, 12))
    assert many["cycle_loss_magnet"] < few["cycle_loss_magnet"]
    assert many["magnet_temperature"] < few["magnet_temperature"]
    assert many["magnet_block_mass"] > few["magnet_block_mass"]
    bills = [
        price(m, {**study.baseline, "magnet_axial_segments": n}, study.prices).total
        for m, n in ((few, 2), (many, 12))
    ]
    assert bills[1] > bills[0]


def test_skew_takes_flux_and_torque_and_costs_slices(study: Study) -> None:
    straight, skew = (outcome(study, skew_steps=n) for n in (1, 3))
    # mean cos(b) of -10, 0 and 10 electrical degrees for two slots per pole and phase
    assert skew["open_circuit_flux"] / straight["open_circuit_flux"] == pytest.approx(
        0.98987, abs=5e-4
    )
    assert skew["back_emf_line_peak"] < straight["back_emf_line_peak"]
    assert skew["peak_torque"] < straight["peak_torque"]
    costs = [
        priced(m, {**study.baseline, "skew_steps": n}, study.prices)["cost"]
        for m, n in ((straight, 1), (skew, 3))
    ]
    assert costs[1] > costs[0]


def test_a_hollow_shaft_saves_mass_and_inertia(study: Study) -> None:
    solid, hollow = (outcome(study, shaft_bore_ratio=x) for x in (0.0, 0.5))
    assert hollow["shaft_mass"] == pytest.approx(0.75 * solid["shaft_mass"])
    assert hollow["rotor_inertia"] < solid["rotor_inertia"]
    # It may go either way: the shaft loses 1/16 of its stiffness, the rotor some of its mass.
    assert hollow["critical_speed"] == pytest.approx(solid["critical_speed"], rel=0.15)


def test_a_lower_price_lowers_the_cost_and_nothing_raises_it_but_scrap(study: Study) -> None:
    metrics, parameters = outcome(study), study.baseline
    base = price(metrics, parameters, default_prices()).total
    for key, value in default_prices().items():
        lower = price(metrics, parameters, {**default_prices(), key: 0.8 * value}).total
        # Scrap is sold: a lower price for it makes the machine dearer.
        assert lower >= base if key == "sheet_scrap" else lower <= base
