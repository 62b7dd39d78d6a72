"""Cost of the active parts from stored quantities and a dated price list."""

from models.cost.bill import PRICED, CostBreakdown, price, priced, sensitivity
from models.cost.price_list import PriceRow, check_prices, default_prices, price_rows

__all__ = [
    "PRICED",
    "CostBreakdown",
    "PriceRow",
    "check_prices",
    "default_prices",
    "price",
    "price_rows",
    "priced",
    "sensitivity",
]
