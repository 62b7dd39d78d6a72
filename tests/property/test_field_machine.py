"""Field model of random interior machines: signs, symmetry, reciprocity, self-check."""

from math import pi

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from models.errors import InfeasibleDesignError
from models.field import Factor, FieldMagnetics, Resolution, field_model, solve_point
from models.field.maps import linkage_grid
from models.field.march import solve_grid
from models.field.waves import torque_parts, torque_wave
from models.geometry.build import build

RATIOS = st.fixed_dictionaries(
    {
        "bore_ratio": st.floats(0.6, 0.72),
        "slot_depth_ratio": st.floats(0.45, 0.7),
        "tooth_width_ratio": st.floats(0.42, 0.62),
        "slot_opening_ratio": st.floats(0.2, 0.6),
        "air_gap": st.floats(0.5e-3, 1.1e-3),
        "barrier_span_ratio": st.floats(0.65, 0.92),
        "v_depth_ratio": st.floats(0.0, 1.0),
        "magnet_thickness": st.floats(3e-3, 7e-3),
        "magnet_width_ratio": st.floats(0.6, 1.0),
        "bridge_thickness": st.floats(0.6e-3, 2e-3),
        "rib_width": st.floats(0.6e-3, 3e-3),
    }
)
POLES = st.sampled_from([(8, 48), (6, 36), (6, 54)])


def machine_of(ratios, poles):
    try:
        return build({**ratios, "poles": poles[0], "slots": poles[1], "parallel_paths": 2})
    except InfeasibleDesignError:
        assume(False)


def peak_current(machine) -> float:
    return 20e6 * machine.winding.conductor_area * machine.winding.parallel_paths


@settings(
    max_examples=6, deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)  # fmt: skip
@given(ratios=RATIOS, poles=POLES)
def test_field_random_machines(ratios, poles):
    machine = machine_of(ratios, poles)
    model = field_model(machine, magnet_temperature=90.0)
    factor = Factor(model.system.columns, model.system.rows)
    idle = solve_point(model, 0.0, 0.0, factor=factor)
    scale = idle.psi_d
    assert idle.psi_d > 0.0
    assert abs(idle.psi_q) < 1e-3 * scale
    current = peak_current(machine)
    wave = torque_wave(
        model, i_d=-0.5 * current, i_q=0.7 * current, remanence=model.remanence, factor=factor
    )
    assert wave.mean > 0.0
    # torque from the gap's energy and from linkages: independent, agree within 0.3 %
    assert wave.torque_difference < 3e-3
    # sixth of a period later everything repeats
    again = solve_point(model, -0.5 * current, 0.7 * current, rotor_angle=pi / 3, factor=factor)
    assert again.torque == pytest.approx(wave.torque[0], rel=2e-3)
    assert again.psi_q == pytest.approx(wave.psi_q[0], rel=1e-3)


@pytest.fixture(scope="module")
def demo():
    return FieldMagnetics.of(build({}))


def test_field_linkages_are_reciprocal(demo):
    """d psi_d / d i_q = d psi_q / d i_d at a fixed rotor angle: the energy is one function."""
    current = peak_current(demo.machine)
    i_d = np.array([-0.51, -0.49]) * current
    i_q = np.array([0.49, 0.51]) * current
    angle = np.array([0.2])
    potential, _ = solve_grid(
        demo.model, i_d, i_q, rotor_angles=angle, remanence=demo.model.remanence
    )
    psi_d, psi_q = linkage_grid(demo.model, potential[0], 0.2)
    across = np.diff(psi_d, axis=1).mean() / (0.02 * current)
    back = np.diff(psi_q, axis=0).mean() / (0.02 * current)
    own = np.diff(psi_q, axis=1).mean() / (0.02 * current)
    assert across == pytest.approx(back, abs=2e-2 * own)


def test_field_derivative_by_remanence(demo):
    current = peak_current(demo.machine)
    remanence = demo.model.remanence
    arguments = {"i_d": np.array([-current, 0.0]), "i_q": np.array([0.0, current])}
    angle = np.array([0.1])
    _, slope = solve_grid(demo.model, **arguments, rotor_angles=angle, remanence=remanence)
    fields = [
        solve_grid(demo.model, **arguments, rotor_angles=angle, remanence=remanence * share)[0][0]
        for share in (0.98, 1.02)
    ]
    found = linkage_grid(demo.model, slope, 0.1)
    expected = (
        linkage_grid(demo.model, fields[1], 0.1) - linkage_grid(demo.model, fields[0], 0.1)
    ) / (0.04 * remanence)
    np.testing.assert_allclose(found, expected, atol=1e-2 * np.max(np.abs(expected)))


def test_field_torque_parts_add_up_and_magnets_alone_without_current(demo):
    current = peak_current(demo.machine)
    arguments = {"remanence": demo.model.remanence}
    total, magnet = torque_parts(demo.model, i_d=0.0, i_q=0.02 * current, **arguments)
    # no reluctance torque without d current and without saturation
    assert magnet == pytest.approx(total, rel=3e-2)
    total, magnet = torque_parts(demo.model, i_d=-0.6 * current, i_q=0.6 * current, **arguments)
    assert 0.0 < magnet < total


def test_field_maps_are_complete_and_plausible(demo):
    current = peak_current(demo.machine)
    maps = demo.flux_maps(current_peak=current, magnet_temperature=90.0)
    for name in (
        "psi_d", "psi_q", "psi_d_per_remanence", "iron_hysteresis", "iron_classical",
        "iron_excess", "magnet_ripple", "tooth_peak", "yoke_peak",
    ):  # fmt: skip
        value = getattr(maps, name)
        assert value.shape == (len(maps.i_d), len(maps.i_q))
        assert np.all(np.isfinite(value))
    assert np.all(np.diff(maps.psi_d, axis=0) > 0.0)
    assert np.all(np.diff(maps.psi_q, axis=1) > 0.0)
    assert np.all(maps.iron_classical > 0.0)
    assert np.all((maps.tooth_peak > 0.3) & (maps.tooth_peak < 2.6))
    hot = demo.lowest_magnet_field(i_d=-current, magnet_temperature=140.0)
    idle = demo.lowest_magnet_field(i_d=0.0, magnet_temperature=140.0)
    assert hot < idle < demo.machine.magnet.remanence(140.0)


def test_lowest_magnet_field_does_not_hang_on_the_size_of_elements() -> None:
    """A magnet thick against its width: with elements as large as it is thick the 2 % of its area
    were one point of one element, 0.07 T too low."""
    machine = build(
        {
            "poles": 8, "slots": 48, "barriers": 1, "magnet_grade": "N42SH", "magnet_fill_1": 1.0,
            "insulation_ratio": 0.41, "barrier_depth_ratio": 0.65, "barrier_end_ratio": 0.33,
            "barrier_span_ratio": 0.87, "bridge_thickness": 1.46e-3, "rib_width": 0.9e-3,
            "barrier_lead_ratio": 0.7, "bore_ratio": 0.68, "slot_depth_ratio": 0.52,
        },
        family="reluctance",
    )  # fmt: skip
    usual, fine = (
        FieldMagnetics.of(machine, resolution).lowest_magnet_field(
            i_d=-560.0, magnet_temperature=140.0
        )
        for resolution in (None, Resolution(thickness_share=0.5))
    )
    assert usual == pytest.approx(fine, abs=0.025)
