"""The smallest part of a machine that repeats, and the symmetry in time within it."""

from math import gcd, lcm

import numpy as np
import pytest

from models.circuit.slot_body import even_slot_body, slot_body
from models.circuit.tooth_faces import constriction
from models.errors import InfeasibleDesignError
from models.geometry.sector import Sector, sector_of_winding
from models.geometry.star_of_slots import full_pitch_span, layout
from models.losses.belt_waves import belt_order, ripples_over_poles
from models.losses.rotor_surface import winding_waves
from models.machine import Stator
from tests.machines import tooth_coil_machine


def sector(slots: int, poles: int, layers: int = 2) -> Sector:
    phases = layout(slots, poles // 2, layers, full_pitch_span(slots, poles))
    return sector_of_winding(phases, poles // 2)


def balanced(most: int) -> list[tuple[int, int, int]]:
    """Every slot and pole number up to `most` slots and 16 poles that gives three phases."""
    found = []
    for slots in range(3, most + 1):
        for poles in range(2, 17, 2):
            for layers in (1, 2):
                try:
                    layout(slots, poles // 2, layers, full_pitch_span(slots, poles))
                except InfeasibleDesignError:
                    continue
                found.append((slots, poles, layers))
    return found


@pytest.mark.parametrize(
    ("slots", "poles", "part"),
    [
        (48, 8, (1, 6)), (36, 6, (1, 6)), (12, 10, (5, 6)), (12, 14, (7, 6)), (12, 8, (2, 3)),
        (9, 8, (8, 9)), (9, 6, (2, 3)), (27, 6, (2, 9)), (36, 8, (2, 9)), (24, 22, (11, 12)),
    ],
)  # fmt: skip
def test_sector_by_hand(slots: int, poles: int, part: tuple[int, int]) -> None:
    """gcd(Q, p) parts, or twice as many with opposite sign where Q / gcd(Q, p) is even (common
    practice, no source)."""
    found = sector(slots, poles)
    assert (found.poles, found.slots) == part
    spokes = slots // gcd(slots, poles // 2)
    parts = gcd(slots, poles // 2) * (2 if spokes % 2 == 0 else 1)
    assert found.repeats == parts
    assert found.sign == (-1.0 if spokes % 2 == 0 else 1.0)


@pytest.mark.parametrize(("slots", "poles", "layers"), balanced(36))
def test_every_balanced_winding_has_a_symmetry_in_time(slots: int, poles: int, layers: int) -> None:
    found = sector(slots, poles, layers)
    # 60 electrical degrees later another pole sees the same, and all poles come round
    assert (slots + 3 * poles * found.slot_shift) % (3 * slots) == 0
    assert found.pole_shift % 2 == 1
    assert sorted(found.pole_sequence.tolist()) == list(range(found.poles))
    assert 3 * len(found.unlike_slots) == found.slots
    # common practice, no source: cogging repeats lcm(Q, 2p) times a turn; the lowest force wave of
    # a winding in two layers has gcd(Q, 2p) waves
    assert found.passings * 3 * poles == lcm(slots, poles)
    if layers == 2:
        assert found.lowest_force_order == gcd(slots, poles)


def test_sixths_follow_the_currents() -> None:
    """The slots' currents obey the same rule as the field: what slot s carries a sixth later."""
    for slots, poles in ((12, 10), (9, 8), (12, 8), (27, 6), (48, 8)):
        found = sector(slots, poles)
        shares = np.array(layout(slots, poles // 2, 2, full_pitch_span(slots, poles)))
        seen, sign = found.sixths
        for later in range(3):
            phase = later * np.pi / 3.0 + 0.3 - 2.0 * np.pi / 3.0 * np.arange(3)
            now = np.cos(0.3 - 2.0 * np.pi / 3.0 * np.arange(3)) @ shares
            np.testing.assert_allclose(
                (np.cos(phase) @ shares)[found.unlike_slots], sign[later] * now[seen[later]],
                atol=1e-12,
            )  # fmt: skip


def test_magnets_of_twelve_slots_and_ten_poles_see_multiples_of_six_fifths() -> None:
    """Waves of 1, 7, 11, 13 ... periods; the seventh, against the rotor at 12/5 f, is the largest
    (common practice, no source)."""
    machine = tooth_coil_machine("surface", 12, 10)
    waves = winding_waves(machine)
    orders = waves.order / 1.2
    np.testing.assert_allclose(orders, np.round(orders), atol=1e-9)
    assert belt_order(machine) == pytest.approx(2.4)
    assert belt_order(tooth_coil_machine("surface", 36, 6, turns_per_coil=2)) == 6.0


def test_one_ripple_stands_for_all_harmonics() -> None:
    """Two harmonics of made-up field: the sum of the squares of their rates of change."""
    machine = tooth_coil_machine("surface", 12, 10)
    theta = 2.0 * np.pi * np.arange(25) / 25
    field = 0.5 + 0.2 * np.cos(theta) + 0.1 * np.cos(3.0 * theta + 0.4)
    shaped = np.zeros((25, 2, 2, 1))
    shaped[:, 0, 1, 0] = field
    belt, slot = ripples_over_poles(machine, shaped, np.ones(1), is_slotting_apart=True)
    expected = np.hypot(0.2 * 1.2, 0.1 * 3.6) / 2.4
    assert belt[0, 1] == pytest.approx(expected, rel=1e-12)
    assert belt[1, 0] == 0.0
    assert not slot.any()
    # what stands there without current is counted elsewhere, if asked
    shaped[:, 1, 0, 0] = 0.2 * np.cos(theta)
    apart = ripples_over_poles(machine, shaped, np.ones(1), is_slotting_apart=True)[0]
    assert apart[0, 1] == pytest.approx(0.1 * 3.6 / 2.4, rel=1e-12)
    whole = ripples_over_poles(machine, shaped, np.ones(1), is_slotting_apart=False)[0]
    assert whole[0, 1] == pytest.approx(expected, rel=1e-12)


def slot(inner: float, outer: float, opening: float, wedge: float = 1e-9) -> Stator:
    return Stator(12, 0.11, 0.07, 0.021, opening, 1e-3, wedge, inner, outer, inner == outer)


def test_slot_body_against_closed_forms() -> None:
    """Parallel sides: h/b, 1/2 and h/(12 b). Tapered: the ends' potential goes with the logarithm
    of the width, h / (b_o - b_i) ln(b_o / b_i)."""
    even = slot_body(slot(0.01, 0.01, 0.002))
    h = slot(0.01, 0.01, 0.002).body_height
    assert even.permeance == pytest.approx(h / 0.01)
    assert (even.mean_top, even.own_permeance) == pytest.approx((0.5, h / 0.12))
    assert even.own_permeance == pytest.approx(
        even_slot_body(slot(0.01, 0.01, 0.002)).own_permeance
    )
    wide = slot_body(slot(0.01, 0.02, 0.002))
    assert wide.permeance == pytest.approx(h / 0.01 * np.log(2.0), rel=1e-9)


def test_narrowing_to_the_opening_adds_leakage() -> None:
    """None for an open slot; for a narrow opening the logarithm of two arcs' radii, 1/pi ln(b/b_o)
    and a constant: ten times narrower adds ln(10) / pi."""
    assert constriction(slot(0.01, 0.01, 0.01 - 1e-9)) == pytest.approx(0.0, abs=1e-6)
    narrow, narrower = (constriction(slot(0.03, 0.03, b)) for b in (3e-3, 3e-4))
    assert narrower - narrow == pytest.approx(np.log(10.0) / np.pi, rel=0.03)


def test_tooth_coils_round_a_cage_are_refused_by_name() -> None:
    with pytest.raises(InfeasibleDesignError) as caught:
        tooth_coil_machine("cage", 12, 8)
    assert caught.value.reason == "tooth_coils_with_cage"
