"""Cost of the active parts from stored quantities and a dated price list."""

from models.cost.bill import CostBreakdown, price, sensitivity
from models.cost.price_list import PriceRow, check_prices, default_prices, price_rows

__all__ = [
    "CostBreakdown",
    "PriceRow",
    "check_prices",
    "default_prices",
    "price",
    "price_rows",
    "sensitivity",
]
