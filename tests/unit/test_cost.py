"""Cost: hand calculation, price keys, sensitivity."""

from typing import Any

import pytest

from models.cost import default_prices, price, price_rows, sensitivity
from models.errors import InvalidInputError
from models.materials.load import names
from tests.machines import table

QUANTITIES = {
    "conductor_mass": 7.0,
    "purchased_sheet_mass": 46.0,
    "stator_sheet_mass": 15.0,
    "rotor_sheet_mass": 12.0,
    "magnet_mass": 1.4,
    "heavy_rare_earth_mass": 0.042,
    "insulation_area": 0.35,
    "shaft_mass": 2.0,
}


def test_by_hand() -> None:
    result = price(QUANTITIES, table(lamination="M400-50A"), default_prices())
    assert result.items["conductor"] == pytest.approx(7.0 * (8.2 + 3.0))
    # 4.00 W/kg by its grade: no premium; 46 - 27 kg of scrap sold
    assert result.items["sheet"] == pytest.approx(46.0 * 2.0 - 19.0 * 0.25, abs=46 * 0.2 * 0.05)
    assert result.items["sheet_process"] == pytest.approx(46.0 * 0.6)
    assert result.items["magnet"] == pytest.approx(1.4 * 60.0 + 0.042 * 300.0)
    assert result.items["magnet_process"] == pytest.approx(8 * 2 * 6 * 0.10)
    assert result.items["winding_process"] == pytest.approx(48 * 6 * 0.09)
    assert result.total == pytest.approx(sum(result.items.values()))


def test_thin_and_low_loss_sheet_costs_more() -> None:
    sheet = [
        price(QUANTITIES, table(lamination=grade), default_prices()).items["sheet"]
        for grade in ("M800-50A", "M400-50A", "M270-50A", "HP270-35A", "HP210-35A", "NO20-1200H")
    ]
    assert sheet[0] == pytest.approx(sheet[1], rel=0.02)  # both at or above 4 W/kg
    assert sheet[1:] == sorted(sheet[1:])
    assert len(set(sheet[1:])) == 5


def test_every_grade_has_a_price() -> None:
    for kind, key in (("lamination", "lamination"), ("magnet", "magnet_grade"),
                      ("conductor", "conductor_material")):  # fmt: skip
        for name in names(kind):
            assert price(QUANTITIES, table(**{key: name}), default_prices()).total > 0.0


def test_ferrite_is_cheap_and_more_heavy_rare_earth_is_dear() -> None:
    rare = price(QUANTITIES, table(magnet_grade="N42SH"), default_prices()).items["magnet"]
    ferrite = next(name for name in names("magnet") if name.startswith("ferrite"))
    none = {**QUANTITIES, "heavy_rare_earth_mass": 0.0}
    cheap = price(none, table(magnet_grade=ferrite), default_prices()).items["magnet"]
    assert cheap < 0.2 * rare
    more = {**QUANTITIES, "heavy_rare_earth_mass": 0.1}
    assert (
        price(more, table(), default_prices()).total
        > price(QUANTITIES, table(), default_prices()).total
    )


@pytest.mark.parametrize(
    "changes", [{}, {"conductor": "round"}, {"conductor_material": "aluminium"}]
)
def test_sensitivity_is_the_derivative(changes: dict[str, Any]) -> None:
    prices = dict(default_prices())
    shares = sensitivity(QUANTITIES, table(**changes), prices)
    assert sum(shares.values()) == pytest.approx(1.0)
    base = price(QUANTITIES, table(**changes), prices).total
    for key in prices:
        up = price(QUANTITIES, table(**changes), {**prices, key: 1.1 * prices[key]}).total
        assert (up - base) / base == pytest.approx(0.1 * shares[key], abs=1e-12)


def test_sources_and_dates_are_given() -> None:
    for key, row in price_rows().items():
        assert row.source, key
        assert row.date[:2] == "20", key
        assert row.unit, key


def test_published_metal_prices() -> None:
    """USGS Mineral Commodity Summaries 2024 (2023e): copper 400, aluminium 130 US cents/lb, at
    1.08 USD/EUR; MCS 2021: Dy oxide 258 USD/kg."""
    cents = 0.01 / 0.45359 / 1.08
    assert default_prices()["copper"] == pytest.approx(400 * cents, rel=0.02)
    assert default_prices()["aluminium"] == pytest.approx(130 * cents, rel=0.02)
    assert default_prices()["heavy_rare_earth"] > 258 / 1.14 * 1.148


def test_wrong_lists_are_told() -> None:
    with pytest.raises(InvalidInputError, match="did you mean 'copper'"):
        price(QUANTITIES, table(), {**default_prices(), "coper": 9.0})
    short = {k: v for k, v in default_prices().items() if k != "liner"}
    with pytest.raises(InvalidInputError, match="no price for liner"):
        price(QUANTITIES, table(), short)
    with pytest.raises(InvalidInputError, match=r"copper = -1\.0 given"):
        price(QUANTITIES, table(), {**default_prices(), "copper": -1.0})
    with pytest.raises(InvalidInputError, match="no value for magnet_mass"):
        price(
            {k: v for k, v in QUANTITIES.items() if k != "magnet_mass"}, table(), default_prices()
        )
