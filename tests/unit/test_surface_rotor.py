"""Surface-magnet rotors: outlines, sleeve and seat, losses, symmetry of the circuit."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from models.circuit.model import CircuitModel
from models.cost import default_prices, price
from models.errors import InfeasibleDesignError
from models.evaluate import evaluate
from models.geometry.areas import areas
from models.geometry.build import build, section
from models.losses.magnet import block_loss
from models.losses.surface_rotor import (
    sleeve_loss,
    slot_ripple,
    surface_magnet_loss,
    wave_reduction,
)
from models.machine import Machine, ParameterValue, rotor_as
from models.materials.sleeve import sleeve, sleeve_names
from models.mechanical.families import rotor_inertia
from models.mechanical.inertia import section_inertia
from models.mechanical.mass import masses
from models.mechanical.sleeve import (
    magnet_contact_factor,
    magnet_pressure,
    sleeve_safety_factor,
    sleeve_state,
    surface_burst_speed,
)
from models.surface_rotor import SurfaceRotor
from optim.study.load import load
from tests.commands import DEMO

SPEED = 1500.0


def machine(**parameters: ParameterValue) -> Machine:
    return build({"shaft_ratio": 0.4, **parameters}, family="surface")


@pytest.mark.parametrize("inset", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("cover", [0.0, 1.5e-3])
def test_outlines_have_the_area_of_rings(inset: float, cover: float) -> None:
    m = machine(inset_ratio=inset, sleeve_thickness=cover)
    r, found = rotor_as(m, SurfaceRotor), areas(m, section(m))
    share = 2 * m.pole_pairs * r.arc_half_angle / pi
    magnet = pi * share * (r.magnet_radius**2 - r.base_radius**2)
    assert found.magnet == pytest.approx(magnet, rel=1e-12)
    assert found.sleeve == pytest.approx(pi * (r.outer_radius**2 - r.magnet_radius**2), abs=1e-15)
    core = pi * (r.base_radius**2 - r.shaft_radius**2)
    core += pi * (1.0 - share) * (r.core_radius**2 - r.base_radius**2)
    assert found.rotor_sheet == pytest.approx(core, rel=1e-12)
    whole = found.rotor_sheet + found.magnet + found.sleeve + found.barrier_air + found.shaft
    assert whole == pytest.approx(pi * r.outer_radius**2, rel=1e-12)
    assert r.outer_radius == pytest.approx(m.stator.bore_radius - m.air_gap)


def test_inertia_in_closed_form_and_by_outlines() -> None:
    m = machine(sleeve_thickness=2e-3, inset_ratio=0.3)
    by_outlines = section_inertia(m, {"sleeve": sleeve("carbon-fibre").density})
    assert rotor_inertia(m) == pytest.approx(by_outlines, rel=1e-3)


@pytest.mark.parametrize(
    ("parameters", "reason"),
    [
        ({"shaft_ratio": 0.75, "magnet_thickness": 15e-3}, "rotor_yoke_too_thin"),
        ({"magnet_arc_ratio": 0.97, "poles": 24, "slots": 144, "stator_outer_diameter": 0.08,
          "conductor": "round"}, ""),
        ({"sleeve_thickness": 1e-4}, "sleeve_too_thin"),
    ],
)  # fmt: skip
def test_impossible_rotors_are_named(parameters: dict[str, ParameterValue], reason: str) -> None:
    with pytest.raises(InfeasibleDesignError) as caught:
        machine(**parameters)
    assert caught.value.reason == reason or not reason


# --- strength


def test_free_sleeve_is_a_rotating_ring() -> None:
    """Ring 25/80 mm at 16000 rpm: 115.744 MPa at 7650 kg/m^3 and nu 0.3 (Timoshenko, art. 32)."""
    m = machine(sleeve_material="carbon-fibre")
    r = replace(rotor_as(m, SurfaceRotor), magnet_radius=0.025, base_radius=0.025,
                outer_radius=0.080, shaft_radius=0.010)  # fmt: skip
    state = sleeve_state(replace(m, rotor=r), 16000 * pi / 30, temperature=20.0)
    expected = 115.744e6 * sleeve("carbon-fibre").density / 7650.0
    assert state.free_stress == pytest.approx(expected, rel=1e-5)


def test_at_rest_and_cold_the_stress_is_the_prestress() -> None:
    m = machine(sleeve_prestress=650e6)
    state = sleeve_state(m, 0.0, temperature=20.0)
    assert state.fitted_stress == pytest.approx(650e6)
    assert state.lifting_pressure == 0.0
    assert sleeve_safety_factor(m, 0.0, temperature=20.0) == pytest.approx(1800.0 / 650.0)


def test_thin_sleeve_follows_the_thin_ring() -> None:
    """sigma = p r / t + rho v^2 within the thickness over the radius."""
    m = machine(sleeve_thickness=0.4e-3)
    r, grade = rotor_as(m, SurfaceRotor), sleeve("carbon-fibre")
    mean = 0.5 * (r.magnet_radius + r.outer_radius)
    thin = (
        magnet_pressure(m, SPEED) * mean / r.sleeve_thickness + grade.density * (SPEED * mean) ** 2
    )
    assert sleeve_state(m, SPEED, temperature=20.0).free_stress == pytest.approx(thin, rel=0.02)
    burst = surface_burst_speed(m)
    assert sleeve_state(m, burst, temperature=20.0).free_stress == pytest.approx(1800e6, rel=0.02)


def test_where_the_magnets_lift_both_stresses_meet() -> None:
    m = machine(sleeve_prestress=400e6)
    low, high = 100.0, 20000.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        state = sleeve_state(m, middle, temperature=100.0)
        low, high = (middle, high) if state.contact_factor > 1.0 else (low, middle)
    assert state.contact_factor == pytest.approx(1.0, abs=1e-6)
    assert state.fitted_stress == pytest.approx(state.free_stress, rel=1e-6)


def test_heat_tightens_a_sleeve_that_does_not_grow() -> None:
    m = machine()
    cold, hot = (sleeve_state(m, 0.0, temperature=t) for t in (20.0, 140.0))
    assert hot.fitted_stress > cold.fitted_stress
    titanium = machine(sleeve_material="titanium")
    assert (
        sleeve_state(titanium, 0.0, temperature=140.0).fitted_stress
        - sleeve_state(titanium, 0.0, temperature=20.0).fitted_stress
    ) < hot.fitted_stress - cold.fitted_stress


def test_bare_magnets_hang_on_glue() -> None:
    m = machine(sleeve_thickness=0.0)
    slow, fast = (magnet_contact_factor(m, w, temperature=20.0) for w in (500.0, 1000.0))
    assert slow == pytest.approx(4.0 * fast)
    assert sleeve_safety_factor(m, 500.0, temperature=100.0) == pytest.approx(slow)
    assert surface_burst_speed(m) == pytest.approx(500.0 * slow**0.5)


# --- losses


def test_a_narrow_strip_sees_an_even_field_and_a_wide_one_the_wave() -> None:
    assert wave_reduction(10.0, 1e-4) == pytest.approx(1.0, abs=1e-6)
    wide = wave_reduction(1000.0, 1.0)
    assert wide == pytest.approx(3.0 / 500.0**2, rel=1e-2)
    assert wave_reduction(1.0, 2e-2 + 1e-9) == pytest.approx(wave_reduction(1.0, 2e-2 - 1e-9))


def test_sleeve_loss_is_that_of_a_thin_sheet() -> None:
    """P = 2 pi r t L (v B)^2 / (2 rho) x end factor for a wave that moves at v = omega / k."""
    m = machine(sleeve_material="titanium", slot_opening_ratio=0.1)
    r = rotor_as(m, SurfaceRotor)
    still = float(sleeve_loss(m, 0.0, 500.0))
    loss = float(sleeve_loss(m, 1e-3, 500.0)) - still
    radius = r.magnet_radius + 0.5 * r.sleeve_thickness
    k = 24.0 / radius
    x = 2.0 * k * r.magnet_thickness / r.magnet_radius * radius
    face = (2.0 * np.cosh(0.5 * x) ** 2 / (1.0 + np.sinh(x) / x)) ** 0.5
    half = 0.5 * k * m.stack_length
    sheet = 2.0 * pi * radius * r.sleeve_thickness * m.stack_length
    expected = sheet * (6 * 2 * pi * 500.0 / k * 1e-3 * face) ** 2 / (2.0 * 1.7e-6)
    assert loss == pytest.approx(expected * (1.0 - np.tanh(half) / half), rel=0.02)
    wound = machine(sleeve_material="carbon-fibre", slot_opening_ratio=0.1)
    assert float(sleeve_loss(wound, 1e-3, 500.0)) < 1e-3 * (loss + still)
    assert float(sleeve_loss(machine(sleeve_thickness=0.0), 1e-3, 500.0)) == 0.0


def test_losses_fall_with_pieces_and_grow_with_speed() -> None:
    by_pieces = [
        float(surface_magnet_loss(machine(magnet_width_segments=n), 0.01, 200.0))
        for n in (1, 4, 16)
    ]
    assert by_pieces == sorted(by_pieces, reverse=True)
    assert by_pieces[2] < 0.3 * by_pieces[0]
    slow, fast = (float(surface_magnet_loss(machine(), 0.01, f)) for f in (5.0, 10.0))
    assert fast == pytest.approx(4.0 * slow, rel=0.02)
    shape = surface_magnet_loss(machine(), np.full((3, 2), 0.01), np.full((3, 2), 100.0)).shape
    assert shape == (3, 2)


def test_closed_slots_make_no_slot_ripple() -> None:
    narrow, wide = (slot_ripple(machine(slot_opening_ratio=x)) for x in (0.12, 0.6))
    assert 0.0 < narrow < 0.1 * wide


def test_every_sleeve_has_a_price_and_no_sleeve_has_none() -> None:
    for name in sleeve_names():
        m = machine(sleeve_material=name)
        mass = masses(m, areas(m, section(m)))
        assert mass.sleeve > 0.0
        quantities = dict.fromkeys(
            ("conductor_mass", "purchased_sheet_mass", "stator_sheet_mass", "rotor_sheet_mass",
             "magnet_mass", "magnet_block_mass", "heavy_rare_earth_mass", "insulation_area",
             "shaft_mass", "resin_mass", "housing_mass", "magnet_pieces"), 1.0,
        )  # fmt: skip
        with_sleeve = price({**quantities, "sleeve_mass": 0.1}, m.parameters, default_prices())
        assert with_sleeve.items["sleeve"] > 0.0
        assert "sleeve" not in price(quantities, m.parameters, default_prices()).items


def test_narrow_pieces_are_blocks_in_an_even_field() -> None:
    """Saint-Venant's torsion constant, Timoshenko and Goodier art. 109, as for buried magnets."""
    m = machine(magnet_width_segments=12, magnet_axial_segments=40, slot_opening_ratio=0.12)
    r = rotor_as(m, SurfaceRotor)
    sides = (r.arc_length / 12, m.stack_length / 40)
    still = float(surface_magnet_loss(m, 0.0, 20.0))
    one = float(block_loss(sides, r.magnet_thickness, amplitude=0.02, frequency=120.0,
                           resistivity=m.magnet.resistivity))  # fmt: skip
    found = float(surface_magnet_loss(m, 0.02, 20.0)) - still
    k = 24.0 / r.magnet_radius
    assert found == pytest.approx(8 * 12 * 40 * one * wave_reduction(k, sides[0]), rel=1e-3)


# --- magnetics


@pytest.fixture(scope="module")
def model() -> CircuitModel:
    return CircuitModel.of(machine())


def test_no_current_gives_flux_on_the_magnet_axis_only(model: CircuitModel) -> None:
    maps = model.flux_maps(current_peak=400.0, magnet_temperature=90.0)
    assert maps.psi_d[-1, 0] > 0.0
    assert np.abs(maps.psi_q[:, 0]).max() == 0.0
    assert np.all(np.diff(maps.psi_d[:, 0]) > 0.0)


def test_magnet_torque_leads_and_reluctance_torque_is_small(model: CircuitModel) -> None:
    """Common practice, no source: magnet torque peaks 90 electrical degrees from the axis."""
    split = model.torque_split(current_peak=400.0, magnet_temperature=90.0)
    assert split.magnet.argmax() == 0
    assert np.abs(split.reluctance).max() < 0.03 * split.total.max()
    np.testing.assert_allclose(split.magnet + split.reluctance, split.total, atol=1e-9)


def test_iron_between_magnets_gives_reluctance_torque() -> None:
    inset = CircuitModel.of(machine(inset_ratio=0.8))
    split = inset.torque_split(current_peak=400.0, magnet_temperature=90.0)
    assert split.total.argmax() > 0
    assert split.reluctance.max() > 0.03 * split.total.max()


def test_opposing_current_weakens_the_magnets(model: CircuitModel) -> None:
    strong, weak = (
        model.lowest_magnet_field(i_d=i, magnet_temperature=140.0) for i in (0.0, -600.0)
    )
    assert weak < strong


@pytest.mark.parametrize(("slots", "poles"), [(36, 4), (36, 6), (48, 8), (60, 10), (72, 12)])
def test_four_to_twelve_poles_go_through_the_door(slots: int, poles: int) -> None:
    outcome = evaluate(
        {"slots": slots, "poles": poles, "parallel_paths": 1, "turns_per_coil": 1,
         "conductor": "round", "shaft_ratio": 0.3, "slot_opening_ratio": 0.4},
        load(DEMO).duty, family="surface",
    )  # fmt: skip
    assert outcome.status == "ok", outcome.message
    assert outcome.metrics["peak_torque"] > 0.0
