"""Winding factors and leakage against published values and closed forms."""

from math import pi, sin

import pytest

from models.geometry.air_gap import carter_factor, carter_factor_approximate
from models.geometry.slot_leakage import slot_permeance
from models.geometry.winding import (
    differential_leakage,
    layout,
    possible_parallel_paths,
    winding_factor,
)

# S. E. Skaar, O. Krovel, R. Nilssen, "Distribution, coil-span and winding factors for PM machines
# with concentrated windings", ICEM 2006: two layers, coils round one tooth.
TOOTH_COILS = {
    0.8660: ((3, 2), (6, 4), (9, 6), (12, 8), (6, 8), (12, 16)),
    0.9330: ((12, 10), (12, 14), (24, 20), (36, 30)),
    0.9452: ((9, 8), (9, 10), (18, 16), (18, 20), (27, 24), (36, 32)),
    0.9514: ((15, 14), (30, 28)),
}


@pytest.mark.parametrize(
    ("factor", "slots", "poles"),
    [(factor, *case) for factor, cases in TOOTH_COILS.items() for case in cases],
)
def test_tooth_coil_winding_factors(factor: float, slots: int, poles: int) -> None:
    table = layout(slots, poles // 2, 2, 1)
    assert winding_factor(table, poles // 2) == pytest.approx(factor, abs=1e-4)


# Distribution factor of 60-degree belts, closed form 1 / (2 q sin(pi / (6 q))); the digits are
# in Pyrhonen, Jokinen, Hrabovcova, 2nd ed., Table 2.3 (from memory).
@pytest.mark.parametrize(
    ("q", "factor"), [(1, 1.0), (2, 0.9659), (3, 0.9598), (4, 0.9577), (5, 0.9567), (6, 0.9561)]
)
@pytest.mark.parametrize("layers", [1, 2])
def test_distribution_factor(q: int, factor: float, layers: int) -> None:
    table = layout(12 * q, 2, layers, 3 * q)
    assert winding_factor(table, 2) == pytest.approx(factor, abs=1e-4)
    assert winding_factor(table, 2) == pytest.approx(0.5 / (q * sin(pi / (6 * q))), rel=1e-12)


# Closed form k_d k_p, computed independently; magnitudes, as signs are a matter of convention.
@pytest.mark.parametrize(
    ("q", "span", "factors"),
    [
        (2, 5, {1: 0.9330, 5: 0.0670, 7: 0.0670, 11: 0.9330}),
        (3, 8, {1: 0.9452, 5: 0.1398, 7: 0.0607}),
        (3, 7, {1: 0.9019, 5: 0.0378, 7: 0.1359}),
        (4, 10, {1: 0.9250, 5: 0.0531, 7: 0.0408}),
        (4, 11, {1: 0.9495}),
        (1, 2, {1: 0.8660}),
    ],
)
def test_short_pitch_harmonics(q: int, span: int, factors: dict[int, float]) -> None:
    table = layout(24 * q, 4, 2, span)
    for order, factor in factors.items():
        assert winding_factor(table, 4, order) == pytest.approx(factor, abs=1e-4)


# Series sum over nu != 1 of (k_nu / (nu k_1))^2 carried to convergence, computed independently.
@pytest.mark.parametrize(
    ("q", "span", "leakage"),
    [
        (1, 3, 0.096620),
        (2, 6, 0.028436),
        (2, 5, 0.023540),
        (3, 9, 0.014060),
        (3, 8, 0.011494),
        (3, 7, 0.011089),
        (4, 12, 0.008895),
        (4, 10, 0.006239),
        (4, 11, 0.007375),
        (5, 15, 0.006481),
        (6, 18, 0.005163),
    ],
)
def test_differential_leakage_of_distributed_windings(q: int, span: int, leakage: float) -> None:
    table = layout(6 * q * 3, 3, 2, span)
    assert differential_leakage(table, 3) == pytest.approx(leakage, rel=1e-3)


@pytest.mark.parametrize(
    ("slots", "poles", "leakage"),
    [
        (12, 8, 0.46216),
        (9, 6, 0.46216),
        (12, 10, 0.96835),
        (9, 8, 1.18210),
        (18, 16, 1.18210),
        (12, 14, 2.85796),
    ],
)
def test_differential_leakage_of_tooth_coils(slots: int, poles: int, leakage: float) -> None:
    table = layout(slots, poles // 2, 2, 1)
    assert differential_leakage(table, poles // 2) == pytest.approx(leakage, rel=1e-3)


# P. Ponomarev et al., "Inductance calculation of tooth-coil PMSM", IEEE Trans. Ind. Electron.
# 61(11), 2014 (values from memory): 0.46, 0.97, 1.18.
@pytest.mark.parametrize(("slots", "poles", "value"), [(12, 8, 0.46), (12, 10, 0.97), (9, 8, 1.18)])
def test_differential_leakage_of_tooth_coils_in_print(slots: int, poles: int, value: float) -> None:
    table = layout(slots, poles // 2, 2, 1)
    assert differential_leakage(table, poles // 2) == pytest.approx(value, rel=0.01)


# Integral-slot windings: at most p paths in one layer, 2p in two (Pyrhonen, Jokinen, Hrabovcova,
# 2nd ed., chapter 2, from memory).
@pytest.mark.parametrize(("layers", "most"), [(1, 4), (2, 8)])
def test_most_parallel_paths_of_an_integral_slot_winding(layers: int, most: int) -> None:
    assert max(possible_parallel_paths(48, 4, layers, 6)) == most


# Formulas: Carter 1901; Pyrhonen, Jokinen, Hrabovcova, 2nd ed., section 3.1 (both from memory);
# values computed independently.
@pytest.mark.parametrize(
    ("opening", "gap", "pitch", "approximate", "exact"),
    [
        (3.0, 0.8, 10.0, 1.14754, 1.14896),
        (4.0, 1.0, 12.0, 1.17391, 1.17586),
        (2.5, 0.7, 9.5, 1.12315, 1.12415),
    ],
)
def test_carter_factor(
    opening: float, gap: float, pitch: float, approximate: float, exact: float
) -> None:
    given = (opening * 1e-3, gap * 1e-3, pitch * 1e-3)
    assert carter_factor_approximate(*given) == pytest.approx(approximate, abs=1e-5)
    assert carter_factor(*given) == pytest.approx(exact, abs=1e-5)
    assert carter_factor(*given) == pytest.approx(carter_factor_approximate(*given), rel=3e-3)


# Formula: Richter, Elektrische Maschinen I; Pyrhonen, Jokinen, Hrabovcova, 2nd ed., section 4.3
# (from memory); value computed independently.
def test_slot_permeance() -> None:
    value = slot_permeance(
        body_width=8e-3,
        opening=3e-3,
        conductor_height=20e-3,
        clear_height=0.0,
        wedge_height=2e-3,
        tip_height=1e-3,
    )
    assert value == pytest.approx(1.55900, abs=1e-5)
