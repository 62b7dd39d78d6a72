"""Layouts, conductors and end turns by hand calculation and limits."""

from dataclasses import replace
from math import pi, sqrt
from typing import Any

import numpy as np
import pytest

from models.errors import InfeasibleDesignError, InvalidInputError
from models.geometry.conductor_fit import ConductorFit, corner_radius, fit_conductor
from models.geometry.end_turns import diamond_end, end_turn, tooth_coil_end
from models.geometry.slot_leakage import end_inductance, slot_permeance, stator_slot_permeance
from models.geometry.star_of_slots import coils, full_pitch_span, require_parallel_paths
from models.geometry.winding import (
    build_winding,
    differential_leakage,
    layout,
    mmf_spectrum,
    phase_axis,
    possible_parallel_paths,
    winding_factor,
)
from models.machine import Stator

STATOR = Stator(
    slots=48,
    outer_radius=105e-3,
    bore_radius=70.5e-3,
    slot_depth=20.5e-3,
    slot_opening=1.6e-3,
    tip_height=0.7e-3,
    wedge_height=0.6e-3,
    slot_width_inner=4.5e-3,
    slot_width_outer=4.5e-3,
    is_slot_parallel=True,
)


def parameters(**changes: Any) -> dict[str, Any]:
    return {
        "poles": 8,
        "conductor": "rectangular",
        "winding_layers": 2,
        "turns_per_coil": 3,
        "parallel_paths": 4,
        "pitch_shortening": 0,
        "copper_fill": 0.45,
        "strand_diameter": 0.8e-3,
        "strand_arrangement": "twisted",
        "conductor_insulation": 0.1e-3,
        "liner_thickness": 0.25e-3,
    } | changes


def test_integral_slot_winding_starts_a_belt_at_slot_zero() -> None:
    one, two, three = layout(24, 2, 1, 6)
    assert one[:12] == (1, 1, 0, 0, 0, 0, -1, -1, 0, 0, 0, 0)
    assert two[:12] == (0, 0, 0, 0, 1, 1, 0, 0, 0, 0, -1, -1)
    assert three[:12] == (0, 0, -1, -1, 0, 0, 0, 0, 1, 1, 0, 0)
    assert layout(24, 2, 2, 6) == layout(24, 2, 1, 6)


def test_short_pitch_mixes_phases_in_a_slot() -> None:
    one, _, _ = layout(24, 2, 2, 5)
    assert one[:12] == (1.0, 0.5, 0, 0, 0, -0.5, -1.0, -0.5, 0, 0, 0, 0.5)


def test_single_layer_tooth_coil_has_one_phase_per_slot() -> None:
    table = layout(12, 5, 1, 1)
    assert {abs(x) for row in table for x in row} == {0.0, 1.0}
    # every second tooth wound: distribution factor 1, pitch factor sin(75 degrees)
    assert winding_factor(table, 5) == pytest.approx(np.sin(np.radians(75.0)), rel=1e-12)


@pytest.mark.parametrize(
    ("slots", "pole_pairs", "layers", "span"), [(48, 4, 2, 6), (36, 2, 1, 9), (12, 5, 2, 1)]
)
def test_phase_axis_is_where_the_flux_leaves(
    slots: int, pole_pairs: int, layers: int, span: int
) -> None:
    # Flux linked by phase 1 from a wave cos(p (theta - theta_0)) of radial flux density is
    # largest when the wave's crest is on the phase axis; a coil links the integral of the wave
    # from one side to the other, with the positive side (current along +z) at the higher angle.
    table = layout(slots, pole_pairs, layers, span)
    angle = 2 * pi / slots * np.arange(slots)

    def linkage(axis: float) -> float:
        integral = np.sin(pole_pairs * angle - axis)
        return float(np.sum(np.array(table[0]) * integral))

    axis = phase_axis(table, pole_pairs)
    best = max(np.linspace(0, 2 * pi, 3601), key=linkage)
    assert np.cos(best - axis) == pytest.approx(1.0, abs=1e-5)


def test_phase_axis_of_an_integral_winding() -> None:
    assert phase_axis(layout(48, 4, 2, 6), 4) == pytest.approx(pi / 12 - pi / 2)


def test_mmf_fundamental_is_the_textbook_value() -> None:
    # (3/2)(4/pi) N k_w / (2p) i for 6 conductors per slot: N = 48 turns, i = 10 A
    table = layout(48, 4, 2, 5)
    orders, amplitudes = mmf_spectrum(table, 4, 60)
    conductors, current = 6, 10.0
    turns = 48 * conductors / 6
    expected = 1.5 * 4 / pi * turns * winding_factor(table, 4) / 8 * current
    assert amplitudes[orders == 4][0] * conductors * current == pytest.approx(expected)
    # 5th against, 7th with the fundamental, nothing at multiples of three
    assert amplitudes[orders == -20][0] > 1e-6 > amplitudes[orders == 20][0]
    assert amplitudes[orders == 28][0] > 1e-6 > amplitudes[orders == -28][0]
    assert np.all(amplitudes[np.abs(orders) % 12 == 0] < 1e-12)


def test_differential_leakage_equals_its_series() -> None:
    table = layout(48, 4, 2, 5)
    orders, amplitudes = mmf_spectrum(table, 4, 40_000)
    working = amplitudes[orders == 4][0]
    series = (np.sum(amplitudes**2) - working**2) / working**2
    assert differential_leakage(table, 4) == pytest.approx(series, rel=1e-3)


def test_unbalanced_winding_names_what_would_balance() -> None:
    with pytest.raises(InfeasibleDesignError, match="nearest balanced numbers of slots are 48 or"):
        layout(47, 4, 2, 6)
    with pytest.raises(InfeasibleDesignError) as caught:
        layout(12, 6, 2, 1)
    assert caught.value.reason == "winding_unbalanced"


def test_single_layer_cannot_be_short_pitched() -> None:
    with pytest.raises(InfeasibleDesignError) as caught:
        layout(24, 2, 1, 5)
    assert caught.value.reason == "single_layer_pitch"


def test_opposite_sides_of_one_phase_are_refused() -> None:
    with pytest.raises(InfeasibleDesignError) as caught:
        layout(24, 2, 2, 1)
    assert caught.value.reason == "coil_sides_cancel"


def test_nonsense_is_an_input_error() -> None:
    with pytest.raises(InvalidInputError, match="3 layers"):
        coils(24, 2, 3, 5)
    with pytest.raises(InvalidInputError, match="whole number"):
        winding_factor(layout(24, 2, 2, 5), 2, 0.3)


def test_parallel_paths() -> None:
    assert possible_parallel_paths(48, 4, 2, 6) == (1, 2, 4, 8)
    assert possible_parallel_paths(12, 5, 2, 1) == (1, 2)
    assert possible_parallel_paths(9, 4, 2, 1) == (1,)
    with pytest.raises(InfeasibleDesignError, match="possible: 1, 2, 4, 8") as caught:
        require_parallel_paths(3, 48, 4, 2, 6)
    assert caught.value.reason == "parallel_paths_impossible"


@pytest.mark.parametrize(
    ("slots", "poles", "shortening", "span"),
    [(48, 8, 0, 6), (48, 8, 1, 5), (12, 10, 0, 1), (12, 10, 3, 1), (27, 6, 0, 4), (9, 4, 0, 2)],
)
def test_coil_span(slots: int, poles: int, shortening: int, span: int) -> None:
    assert full_pitch_span(slots, poles, shortening) == span


def test_rectangular_conductor_fills_the_slot() -> None:
    winding = build_winding(STATOR, parameters())
    assert winding.conductor_width == pytest.approx(4.5e-3 - 0.5e-3 - 0.2e-3)
    assert winding.conductor_height == pytest.approx((19.2e-3 - 0.5e-3) / 6 - 0.2e-3)
    corners = (4 - pi) * (0.8e-3) ** 2
    area = winding.conductor_width * winding.conductor_height - corners
    assert winding.conductor_area == pytest.approx(area)
    assert winding.conductors_per_slot == 6
    assert winding.series_turns == 12
    # a full-pitch end turn is at least the arc and less than twice the arc with its straight ends
    arc = 6 * STATOR.slot_pitch * (STATOR.body_inner_radius + STATOR.body_height / 2)
    assert arc < winding.end_turn_length < 2 * arc
    assert winding.overhang < 0.5 * winding.end_turn_length


def test_corner_radius_follows_thickness() -> None:
    # IEC 60317-0-2 (from memory)
    assert corner_radius(4e-3, 0.8e-3) == pytest.approx(0.4e-3)
    assert corner_radius(4e-3, 1.5e-3) == pytest.approx(0.50e-3)
    assert corner_radius(2.0e-3, 4e-3) == pytest.approx(0.65e-3)


def test_round_strands() -> None:
    winding = build_winding(STATOR, parameters(conductor="round"))
    net = (4.5e-3 - 0.5e-3) * (19.2e-3 - 0.5e-3)
    strand = pi / 4 * 0.8e-3**2
    assert winding.strands == int(0.45 * net / 6 / strand)
    assert winding.conductor_area == pytest.approx(winding.strands * strand)
    assert winding.conductor_width == winding.conductor_height == 0.8e-3


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"turns_per_coil": 20}, "conductor_too_thin"),
        ({"turns_per_coil": 1}, "conductor_shape"),
        ({"liner_thickness": 2.1e-3}, "conductor_too_thin"),
        ({"parallel_paths": 3}, "parallel_paths_impossible"),
        ({"winding_layers": 1, "turns_per_coil": 5}, "odd_bar_layers"),
        ({"pitch_shortening": 3}, "coil_span_too_short"),
        ({"poles": 12}, "winding_unbalanced"),
        ({"conductor": "round", "strand_diameter": 1.5e-3}, "strand_wider_than_opening"),
        ({"conductor": "round", "copper_fill": 0.65}, "copper_fill_impossible"),
        ({"conductor": "round", "turns_per_coil": 40}, "strand_too_large"),
        ({"conductor": "round", "liner_thickness": 2.2e-3}, "slot_too_small"),
    ],
)
def test_named_reasons(changes: dict[str, Any], reason: str) -> None:
    with pytest.raises(InfeasibleDesignError) as caught:
        build_winding(STATOR, parameters(**({"poles": 8} | changes)))
    assert caught.value.reason == reason


def test_too_tight_a_bend_is_refused() -> None:
    """Span of two slots of 10.65 mm: bars of 7.4 mm would be bent at 10.65 mm, 1.44 widths."""
    fit = ConductorFit(True, 7.4e-3, 2e-3, 14e-6, 1, 7.6e-3)
    stator = replace(STATOR, slot_width_inner=8e-3, slot_width_outer=8e-3)
    with pytest.raises(InfeasibleDesignError) as caught:
        end_turn(stator, fit, layers=2, coil_span=2)
    assert caught.value.reason == "bend_too_tight"
    narrower = replace(fit, width=6e-3, side_width=6.2e-3)
    assert end_turn(stator, narrower, layers=2, coil_span=2)[0] > 0.0
    # coils wound round a tooth may have any number of bars, distributed ones only even numbers
    assert build_winding(STATOR, parameters(turns_per_coil=3)).conductors_per_slot == 6


def test_crowded_end_winding_is_refused() -> None:
    fit = {"copper_fill": 0.4, "strand_diameter": 1e-3, "insulation": 0.1e-3, "liner": 0.2e-3}
    wide = Stator(48, 105e-3, 70.5e-3, 20.5e-3, 2e-3, 0.7e-3, 0.6e-3, 9.9e-3, 9.9e-3, True)
    assert fit_conductor(wide, 6, is_rectangular=True, **fit).width == pytest.approx(9.3e-3)
    with pytest.raises(InfeasibleDesignError) as caught:
        build_winding(wide, parameters())
    assert caught.value.reason == "end_winding_crowded"


def test_diamond_limits() -> None:
    # flat legs, no bends: the bare arc; legs at 45 degrees: sqrt(2) longer, half the arc high
    assert diamond_end(0.1, 0.0, straight=0.0, bend_radius=0.0, thickness=0.0) == (0.1, 0.0)
    length, height = diamond_end(0.1, sqrt(0.5), straight=0.01, bend_radius=0.0, thickness=0.004)
    assert length == pytest.approx(0.02 + 0.1 * sqrt(2))
    assert height == pytest.approx(0.01 + 0.05 + 0.002)
    # bends as large as the pitch allows: a half circle
    length, height = diamond_end(0.1, 0.0, straight=0.0, bend_radius=1.0, thickness=0.0)
    assert length == pytest.approx(pi * 0.05)
    assert height == pytest.approx(0.05)


def test_tooth_coil_end_by_hand() -> None:
    length, overhang = tooth_coil_end(12e-3, 6e-3, straight=2e-3)
    assert length == pytest.approx(4e-3 + 12e-3 + pi * 3e-3)
    assert overhang == pytest.approx(8e-3)


def test_open_slot_permeance_is_one_third_of_height_over_width() -> None:
    value = slot_permeance(
        body_width=4e-3,
        opening=4e-3,
        conductor_height=12e-3,
        clear_height=0.0,
        wedge_height=0.0,
        tip_height=0.0,
    )
    assert value == pytest.approx(1.0)
    with pytest.raises(InvalidInputError, match="opening"):
        slot_permeance(
            body_width=4e-3,
            opening=5e-3,
            conductor_height=1e-3,
            clear_height=0,
            wedge_height=0,
            tip_height=0,
        )
    assert 1.0 < stator_slot_permeance(STATOR, 0.25e-3) < 4.0


def test_end_inductance_scales_with_turns_squared() -> None:
    one = build_winding(STATOR, parameters(parallel_paths=4))
    two = build_winding(STATOR, parameters(parallel_paths=2))
    ratio = end_inductance(STATOR, two) / end_inductance(STATOR, one)
    assert ratio == pytest.approx(4.0)
