"""Cost: hand calculation, price keys, sensitivity."""

from dataclasses import replace
from typing import Any

import pytest

from models.cost import default_prices, price, price_rows, priced, sensitivity
from models.errors import InvalidInputError
from models.materials.load import names
from models.mechanical.bought import magnet_block_mass, resin_mass
from models.mechanical.mass import masses
from tests.machines import areas, machine, table

QUANTITIES = {
    "conductor_mass": 7.0,
    "purchased_sheet_mass": 46.0,
    "stator_sheet_mass": 15.0,
    "rotor_sheet_mass": 12.0,
    "magnet_mass": 1.4,
    "heavy_rare_earth_mass": 0.042,
    "insulation_area": 0.35,
    "shaft_mass": 2.0,
    "magnet_block_mass": 1.6,
    "resin_mass": 0.8,
    "housing_mass": 9.0,
}


def test_by_hand() -> None:
    result = price(QUANTITIES, table(lamination="M400-50A"), default_prices())
    assert result.items["conductor"] == pytest.approx(7.0 * (8.2 + 3.0))
    # 4.00 W/kg by its grade: no premium; 46 - 27 kg of scrap sold
    assert result.items["sheet"] == pytest.approx(46.0 * 2.0 - 19.0 * 0.25, abs=46 * 0.2 * 0.05)
    assert result.items["sheet_process"] == pytest.approx(46.0 * 0.6)
    # bought as 1.6 kg of block; N42SH has 1.31 T, 0.01 T above the reference
    block = 1.6 * (60.0 + 0.01 * 100.0) + 0.042 * 1.6 / 1.4 * 300.0
    assert result.items["magnet"] == pytest.approx(block, rel=0.01)
    assert result.items["insulation"] == pytest.approx(0.35 * 12.0 + 0.8 * 9.0)
    assert result.items["housing"] == pytest.approx(9.0 * 6.5)
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


def test_stronger_grade_costs_more() -> None:
    def magnets(grade: str) -> float:
        none = {**QUANTITIES, "heavy_rare_earth_mass": 0.0}
        return price(none, table(magnet_grade=grade), default_prices()).items["magnet"]

    assert magnets("N35") < magnets("N42SH") < magnets("N48H")


def test_each_slice_of_skew_costs_the_same_again() -> None:
    straight, two, four = (
        price(QUANTITIES, table(skew_steps=n), default_prices()).total for n in (1, 2, 4)
    )
    assert two - straight == pytest.approx(1.5)
    assert four - straight == pytest.approx(3 * 1.5)


def test_share_of_magnets_is_their_sensitivity() -> None:
    found = priced(QUANTITIES, table(), default_prices())
    shares = sensitivity(QUANTITIES, table(), default_prices())
    rows = ("magnet_neodymium", "magnet_grade", "magnet_ferrite", "heavy_rare_earth")
    assert found["magnet_cost_share"] == pytest.approx(sum(shares[key] for key in rows))


class TestBought:
    def test_block_by_hand(self) -> None:
        """100 pieces of 20 x 20 x 5 mm: cut from 20.4 x 20.4 x 5.3 mm."""
        m = machine(magnet_thickness=5e-3)
        made = replace(masses(m, areas(m)), magnet=1.5, magnet_volume=100 * 20e-3 * 20e-3 * 5e-3)
        expected = 1.5 * (20.4 * 20.4 * 5.3) / (20.0 * 20.0 * 5.0)
        assert magnet_block_mass(m, made, 100.0) == pytest.approx(expected)

    def test_smaller_and_thinner_pieces_lose_more(self) -> None:
        m = machine()
        made = masses(m, areas(m))
        shares = [magnet_block_mass(m, made, n) / made.magnet for n in (16.0, 96.0, 960.0)]
        assert 1.0 < shares[0] < shares[1] < shares[2] < 1.6
        assert magnet_block_mass(m, made, 0.0) == 0.0

    def test_resin_fills_what_copper_leaves(self) -> None:
        m = machine()
        area = areas(m)
        none = replace(area, slot_conductor=area.slot_gross)
        assert resin_mass(m, none) == 0.0
        assert 0.05 < resin_mass(m, area) < 3.0
