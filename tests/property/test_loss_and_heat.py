"""Random designs: losses are positive and finite, heat balances, strength scales."""

from math import pi
from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from models.duty import Cooling
from models.errors import InfeasibleDesignError
from models.losses.copper import phase_resistance, resistance_ratio
from models.losses.magnet import magnet_loss
from models.losses.mechanical import mechanical_loss
from models.machine import Machine
from models.mechanical.mass import masses
from models.mechanical.rotor_stress import bridge_safety_factor, burst_speed
from models.thermal.network import build_network
from models.thermal.nodes import place_losses
from models.thermal.steady import Load, heat_removed, steady_temperatures, winding_loss
from models.thermal.transient import temperatures_after
from tests.machines import areas, machine


@st.composite
def designs(draw: Any) -> Machine:
    def real(low: float, high: float) -> float:
        return float(draw(st.floats(low, high)))

    changes = {
        "stator_outer_diameter": real(0.15, 0.30),
        "stack_length": real(0.05, 0.25),
        "air_gap": real(0.5e-3, 1.5e-3),
        "bore_ratio": real(0.6, 0.75),
        "slot_depth_ratio": real(0.45, 0.7),
        "tooth_width_ratio": real(0.45, 0.62),
        "conductor": draw(st.sampled_from(["rectangular", "round"])),
        "pitch_shortening": draw(st.integers(0, 1)),
        "shaft_ratio": real(0.25, 0.45),
        "shaft_bore_ratio": real(0.3, 0.6),
        "v_depth_ratio": real(0.0, 1.0),
        "magnet_thickness": real(3e-3, 7e-3),
        "bridge_thickness": real(0.8e-3, 2.5e-3),
        "rib_width": real(0.8e-3, 4e-3),
        "magnet_axial_segments": draw(st.integers(1, 20)),
    }
    try:
        m = machine(**changes)
    except InfeasibleDesignError:
        assume(False)
        raise
    assume(m.winding.conductor_width > 0.5e-3)
    assume(m.winding.conductor_height > 0.5e-3)
    assume(m.winding.strands > 0)
    return m


@st.composite
def coolings(draw: Any) -> Cooling:
    """Any of the coolants, or none but the air around."""

    def flow(most: float) -> float:
        return float(draw(st.sampled_from([0.0, 1.0]))) * float(draw(st.floats(0.5, most))) / 60e3

    return Cooling(
        coolant_flow=flow(20.0), spray_flow=flow(8.0), shaft_flow=flow(8.0), oil_temperature=70.0
    )


@settings(max_examples=60, deadline=None)
@given(designs(), st.floats(50.0, 1500.0), st.floats(1.0, 12.0), coolings())
def test_losses_and_heat(m: Machine, speed: float, density: float, cooling: Cooling) -> None:
    parts = masses(m, areas(m))
    net = build_network(m, cooling, parts)
    f = m.pole_pairs * speed / (2 * pi)
    current = density * 1e6 * m.winding.conductor_area * m.winding.parallel_paths
    dc = 3.0 * current**2 * phase_resistance(m, 100.0)
    ratio = float(resistance_ratio(m, f, 100.0))
    magnet = float(magnet_loss(m, 0.02, f))
    friction = mechanical_loss(m, speed, rotor_mass=parts.rotor)
    assert ratio >= 1.0 - 1e-9
    assert magnet > 0.0
    assert float(friction.total) > 0.0
    losses = place_losses(
        net, winding_ac=(ratio - 1.0) * dc, iron=300.0, magnet=magnet, mechanical=friction
    )
    load = Load(np.asarray(speed), losses, np.asarray(dc), 100.0)
    t = steady_temperatures(net, load)
    if np.all(np.isfinite(t)):
        removed = sum(heat_removed(net, t).values())
        total = losses.sum() + winding_loss(net, load, t)
        np.testing.assert_allclose(removed, total, rtol=1e-9)
        # 40 degC is the coldest boundary
        assert np.all(t > 40.0)
        later = temperatures_after(net, load, start=t, times=[1.0, 1e4])
        np.testing.assert_allclose(later, np.broadcast_to(t, later.shape), rtol=1e-6)
    else:
        assert np.all(np.isposinf(t))


@settings(max_examples=60, deadline=None)
@given(designs())
def test_strength(m: Machine) -> None:
    slow, fast = (bridge_safety_factor(m, w) for w in (600.0, 1200.0))
    assert 0.0 < fast < np.inf
    np.testing.assert_allclose(slow, 4.0 * fast)
    assert 0.0 < burst_speed(m) < np.inf
