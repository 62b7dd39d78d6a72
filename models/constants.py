"""Physical constants used across the models (CODATA 2018; standard gravity ISO 80000-3)."""

from math import pi

MU0 = 4e-7 * pi
"""Magnetic constant [H/m] (the pre-2019 exact value; the CODATA 2018 value differs by 5e-10)."""

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2]."""

ZERO_CELSIUS = 273.15
"""Ice point [K]; temperatures in this project are in degC, see `nomenclature`."""
