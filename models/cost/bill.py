"""From quantities and a price list to the cost of the active parts.

Only stored metrics and parameters are used, so that a new price list needs no new evaluation.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np

from models.cost.price_list import check_prices
from models.errors import InvalidInputError
from models.machine import ParameterValue
from models.materials.load import lamination, magnet
from models.materials.loss_fit import specific_loss
from models.materials.sleeve import sleeve

REFERENCE_LOSS = 4.0
"""Loss at 1.5 T and 50 Hz from which the low-loss premium counts [W/kg]."""
REFERENCE_REMANENCE = 1.30
"""Remanence at 20 degC from which the grade premium of rare-earth magnets counts [T]."""
_SHEET_ROWS = ((0.20e-3, "sheet_020"), (0.35e-3, "sheet_035"), (0.50e-3, "sheet_050"))
PRICED = ("cost", "magnet_cost_share")
"""Metrics that need a price list."""
_LIGHTEST_RARE_EARTH_MAGNET = 6000.0
_QUANTITIES = (
    "conductor_mass", "purchased_sheet_mass", "stator_sheet_mass", "rotor_sheet_mass",
    "magnet_mass", "heavy_rare_earth_mass", "insulation_area", "shaft_mass",
)  # fmt: skip


@dataclass(frozen=True)
class CostBreakdown:
    """Cost by item.

    Attributes
    ----------
    items : mapping of str to float
        EUR by item; sheet scrap is sold and counts negative inside `sheet`.
    total : float
        Sum [EUR].
    """

    items: Mapping[str, float]
    total: float


def price(
    quantities: Mapping[str, float],
    parameters: Mapping[str, ParameterValue],
    prices: Mapping[str, float],
) -> CostBreakdown:
    """Return the material and process cost of the active parts.

    Parameters
    ----------
    quantities : mapping of str to float
        Stored metrics (SI): conductor, purchased, stator and rotor sheet, magnet, heavy rare
        earth and shaft masses, magnet blocks and pieces, insulation area, resin and housing.
    parameters : mapping
        Machine parameters: grades, conductor, slots, layers, turns.
    prices : mapping of str to float
        Price list with exactly the keys of `default_prices`.

    Returns
    -------
    CostBreakdown

    Raises
    ------
    InvalidInputError
        Unknown or missing price, or a missing quantity.

    Notes
    -----
    Every item is a quantity times a price. Sheet of thickness t takes the rows for 0.20, 0.35
    and 0.50 mm, linear in 1/t between them. Magnets and their heavy rare earth are bought as
    blocks, with what is cut and ground off; the housing counts by its mass. Bearings, sensor and
    end plates are not in it: they hardly change among candidates.
    """
    check_prices(prices)
    items: dict[str, float] = {}
    for item, key, amount in _positions(quantities, parameters):
        items[item] = items.get(item, 0.0) + amount * prices[key]
    return CostBreakdown(MappingProxyType(items), sum(items.values()))


def priced(
    quantities: Mapping[str, float],
    parameters: Mapping[str, ParameterValue],
    prices: Mapping[str, float],
) -> dict[str, float]:
    """Return the metrics that need a price list: `PRICED`, arguments as for `price`."""
    found = price(quantities, parameters, prices)
    share = found.items["magnet"] / found.total if found.total > 0.0 else 0.0
    return {"cost": found.total, "magnet_cost_share": share}


def sensitivity(
    quantities: Mapping[str, float],
    parameters: Mapping[str, ParameterValue],
    prices: Mapping[str, float],
) -> Mapping[str, float]:
    """Return each price's share of the cost, d ln(cost) / d ln(price).

    Parameters
    ----------
    quantities, parameters, prices
        As for `price`.

    Returns
    -------
    mapping of str to float
        By price key; the cost is linear in prices, so the shares sum to one and a price 10 % up
        raises the cost by a tenth of its share.
    """
    check_prices(prices)
    shares = dict.fromkeys(prices, 0.0)
    for _, key, amount in _positions(quantities, parameters):
        shares[key] += amount * prices[key]
    total = sum(shares.values())
    return MappingProxyType({key: value / total if total else 0.0 for key, value in shares.items()})


def _positions(
    quantities: Mapping[str, float], parameters: Mapping[str, ParameterValue]
) -> list[tuple[str, str, float]]:
    """Return (item, price key, amount) of every position."""
    missing = [name for name in _QUANTITIES if name not in quantities]
    if missing:
        raise InvalidInputError(f"cost: no value for {', '.join(missing)} among the metrics")
    q = quantities
    slots = int(parameters["slots"])
    per_slot = int(parameters["winding_layers"]) * int(parameters["turns_per_coil"])
    # Rows stored before several families had no count of pieces; all had two legs a pole.
    pieces = q["magnet_pieces"] if "magnet_pieces" in q else (
        2 * int(parameters["poles"])
        * int(parameters["magnet_axial_segments"])
        * int(parameters["magnet_width_segments"])
    )  # fmt: skip
    # The same holds for what is bought beside sheet, conductor and net magnet.
    net = q["magnet_mass"]
    block = q.get("magnet_block_mass", net)
    loss = block / net if net > 0.0 else 1.0
    slices = int(parameters.get("skew_steps", 1))
    strip = q["purchased_sheet_mass"]
    scrap = max(0.0, strip - q["stator_sheet_mass"] - q["rotor_sheet_mass"])
    if parameters["conductor"] == "rectangular":
        winding = ("winding_process", "bar_conductor", float(slots * per_slot))
    else:
        winding = ("winding_process", "strand_winding", q["conductor_mass"])
    weights, premium = _sheet_weights(str(parameters["lamination"]))
    return [
        ("conductor", str(parameters["conductor_material"]), q["conductor_mass"]),
        ("conductor", "wire_drawing", q["conductor_mass"]),
        *(("sheet", key, weight * strip) for key, weight in weights),
        ("sheet", "sheet_low_loss", premium * strip),
        ("sheet", "sheet_scrap", -scrap),
        ("sheet_process", "stamping", strip),
        ("magnet", _magnet_row(str(parameters["magnet_grade"])), block),
        ("magnet", "magnet_grade", _grade_premium(str(parameters["magnet_grade"])) * block),
        ("magnet", "heavy_rare_earth", loss * q["heavy_rare_earth_mass"]),
        ("magnet_process", "magnet_piece", float(pieces) if q["magnet_mass"] > 0.0 else 0.0),
        *_cage(q, parameters),
        ("insulation", "liner", q["insulation_area"]),
        ("insulation", "resin", q.get("resin_mass", 0.0)),
        ("shaft", "shaft", q["shaft_mass"]),
        *_sleeve_row(parameters, q),
        winding,
        ("housing", "housing", q.get("housing_mass", 0.0)),
        ("assembly", "skew_slice", float(slices - 1)),
        ("assembly", "assembly", 1.0),
    ]


def _cage(
    quantities: Mapping[str, float], parameters: Mapping[str, ParameterValue]
) -> tuple[tuple[str, str, float], ...]:
    """Return the cage's positions; none for rotors without a cage."""
    if "cage_mass" not in quantities:
        return ()
    mass = quantities["cage_mass"]
    return (
        ("cage", str(parameters["cage_material"]), mass),
        ("cage_process", "cage_process", mass),
    )


@cache
def _sheet_weights(grade: str) -> tuple[tuple[tuple[str, float], ...], float]:
    """Return weights on the sheet rows, and W/kg below the reference loss."""
    sheet = lamination(grade)
    gauge = np.array([1.0 / t for t, _ in _SHEET_ROWS])[::-1]
    keys = [key for _, key in _SHEET_ROWS][::-1]
    unit = np.eye(len(keys))
    weights = tuple(
        (key, float(np.interp(1.0 / sheet.thickness, gauge, unit[k]))) for k, key in enumerate(keys)
    )
    loss = float(specific_loss(sheet.loss, np.array(1.5), frequency=np.array(50.0)))
    return weights, max(0.0, REFERENCE_LOSS - loss)


def _sleeve_row(
    parameters: Mapping[str, ParameterValue], q: Mapping[str, float]
) -> list[tuple[str, str, float]]:
    if q.get("sleeve_mass", 0.0) <= 0.0:
        return []
    grade = sleeve(str(parameters["sleeve_material"]))
    return [("sleeve", grade.price_row, q["sleeve_mass"])]


@cache
def _grade_premium(grade: str) -> float:
    """Return the remanence above the reference [T], for rare-earth grades."""
    if _magnet_row(grade) != "magnet_neodymium":
        return 0.0
    return max(0.0, magnet(grade).remanence(20.0) - REFERENCE_REMANENCE)


@cache
def _magnet_row(grade: str) -> str:
    heavy = magnet(grade).density > _LIGHTEST_RARE_EARTH_MAGNET
    return "magnet_neodymium" if heavy else "magnet_ferrite"
