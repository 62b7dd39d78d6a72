"""Any balanced winding is symmetric, full, and never better than the ideal."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from models.errors import InfeasibleDesignError
from models.geometry.star_of_slots import (
    SlotPhases,
    coils,
    full_pitch_span,
    possible_parallel_paths,
)
from models.geometry.winding import (
    differential_leakage,
    layout,
    mmf_spectrum,
    winding_factor,
)

REASONS = {"winding_unbalanced", "single_layer_pitch", "coil_sides_cancel"}


def balanced_layout(slots: int, pole_pairs: int, layers: int, span: int) -> SlotPhases | None:
    try:
        return layout(slots, pole_pairs, layers, span)
    except InfeasibleDesignError as error:
        if error.reason in REASONS:
            return None
        raise


@given(
    slots=st.integers(1, 48).map(lambda k: 3 * k),
    pole_pairs=st.integers(1, 12),
    layers=st.integers(1, 2),
    shortening=st.integers(0, 3),
)
def test_any_winding(slots: int, pole_pairs: int, layers: int, shortening: int) -> None:
    span = full_pitch_span(slots, 2 * pole_pairs, shortening)
    if span >= slots:
        return
    table = balanced_layout(slots, pole_pairs, layers, span)
    if table is None:
        return
    shares = np.array(table)
    # every slot full, every phase in equal amounts, currents of a phase sum to zero
    assert np.allclose(np.abs(shares).sum(axis=0), 1.0)
    assert np.allclose(np.abs(shares).sum(axis=1), slots / 3)
    assert np.allclose(shares.sum(axis=1), 0.0)
    assert len(coils(slots, pole_pairs, layers, span)) * 2 == slots * layers
    # equal phases 120 electrical degrees apart
    angle = 2 * np.pi * pole_pairs / slots * np.arange(slots)
    phasors = shares @ np.exp(1j * angle)
    if abs(phasors[0]) < 1e-6:
        return
    turn = np.exp(2j * np.pi / 3)
    assert np.allclose(phasors[1:] / phasors[0], [turn, turn**2])
    assert 0 < winding_factor(table, pole_pairs) <= 1 + 1e-12
    assert differential_leakage(table, pole_pairs) > 0
    # no wave against the rotation at the working order
    orders, amplitudes = mmf_spectrum(table, pole_pairs, pole_pairs)
    assert amplitudes[orders == -pole_pairs][0] < 1e-9 * amplitudes[orders == pole_pairs][0]
    # paths divide the coils of a phase
    for paths in possible_parallel_paths(slots, pole_pairs, layers, span):
        assert (slots * layers // 6) % paths == 0
