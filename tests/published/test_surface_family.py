"""The surface family against published fields and machines, through its own functions.

Slotless field: Z. Q. Zhu, D. Howe, E. Bolte, B. Ackermann, IEEE Trans. Magn. 29(1) 124-135, 1993,
doi:10.1109/20.195557; amplitudes computed from its closed form and confirmed by an independent
boundary-value solution.

8-pole, 24-slot generator: M. V. Ferreira da Luz, P. Dular, N. Sadowski, C. Geuzaine,
J. P. A. Bastos, IEEE Trans. Magn. 38(2) 961-964, 2002; in-wheel machines: E. A. Lomonova,
E. Kazmin, Y. Tang, J. J. H. Paulides, COMPEL 30(1) 98-116, 2011. The numbers expected of both were
computed from the published dimensions by an independent general-purpose finite-element code with
linear iron; they are not the authors' measurements.
"""

from dataclasses import replace
from math import pi, sqrt
from typing import Any

import numpy as np
import pytest

from models.circuit.annulus import magnet_harmonics, solve_ring
from models.constants import MU0
from models.field import Factor, FieldModel, model_of_section, solve_point
from models.field.families import ROTOR_MEDIA
from models.field.media import Medium
from models.geometry.build import build, section
from models.geometry.families import SHAPES
from models.geometry.section import Section
from models.machine import Machine, rotor_as
from models.surface_rotor import SurfaceRotor
from tests.field_sections import published_surface_machine

IRON = Medium(1.0 / (1000.0 * MU0))


def machine_of(rotor: dict[str, Any], **parameters: Any) -> Machine:
    """Return a machine of the family with some of its rotor's dimensions set directly."""
    found = build(parameters, family="surface")
    return replace(found, rotor=replace(rotor_as(found, SurfaceRotor), **rotor))


def test_slotless_radial_magnets() -> None:
    """p 4, arc 0.8, Br 1.2 T, mu_r 1.05, radii 40, 44, 45 mm: B_r at 44.5 mm (1e-5)."""
    machine = machine_of(
        {
            "base_radius": 0.040, "core_radius": 0.040, "magnet_radius": 0.044,
            "outer_radius": 0.044, "arc_half_angle": 0.8 * pi / 8, "is_radial": True,
        },
        poles=8, sleeve_thickness=0.0,
    )  # fmt: skip
    machine = replace(machine, stator=replace(machine.stator, bore_radius=0.045))
    ring = solve_ring(machine, inner_radius=0.040, recoil=1.05)
    n = ring.order
    # No tangential field on either circle: the iron's permeability is infinite.
    det = ring.inner * ring.outer - ring.mutual**2
    inner = (-ring.inner_source * ring.outer + ring.outer_source * ring.mutual) / det
    outer = (-ring.outer_source * ring.inner + ring.inner_source * ring.mutual) / det
    face = ring.face_inner * inner + ring.face_outer * outer + ring.face_source
    x = np.log(0.045 / 0.044)
    up, down = n * np.log(0.0445 / 0.044), n * np.log(0.045 / 0.0445)
    value = (face * np.sinh(down) + outer * np.sinh(up)) / np.sinh(n * x)
    field = 1.2 * n * value / 0.0445
    expected = [1.086037, -0.206188, 0.0, 0.067349, -0.073423, 0.052267, -0.023910]
    np.testing.assert_allclose(field[:7], expected, rtol=1e-4, atol=2e-6)
    assert magnet_harmonics(rotor_as(machine, SurfaceRotor), 4, n)[1].max() == 0.0


def field_of(machine: Machine, stator: Section, conductors: float, br: float) -> FieldModel:
    """Return the field model of a machine's rotor in a given stator, linear iron, mu_r 1."""
    drawn = section(machine)
    whole = Section(
        drawn.rotor, stator.stator, machine.pole_pairs, drawn.rotor_radius, stator.bore_radius
    )
    magnet = replace(machine.magnet, recoil_permeability=1.0)
    media = ROTOR_MEDIA["surface"](replace(machine, magnet=magnet), IRON, br)
    return model_of_section(
        whole,
        media={"stator_core": IRON, **media},
        slot_phases=np.array(machine.winding.slot_phases),
        conductors=conductors,
        stack_length=machine.stack_length,
        remanence=br,
    )


def linkage_wave(model: FieldModel, count: int = 60) -> np.ndarray:
    """Return the harmonics of phase 1's linkage over a period."""
    factor = Factor(model.system.columns, model.system.rows)
    wave = []
    for k in range(count):
        point = solve_point(model, 0.0, 0.0, rotor_angle=pi * k / count, factor=factor)
        wave.append(
            2 * model.pole_pairs * model.stack_length
            * float(model.phase_source[0] @ point.solution.potential)
        )  # fmt: skip
    full = np.concatenate((wave, -np.array(wave)))
    return np.asarray(2.0 * np.abs(np.fft.rfft(full)) / len(full))


def test_generator_with_inset_magnets() -> None:
    """psi 0.19758 Wb, torque 4.6275 N*m at 3.9 A (1.5 %); EMF harmonics (5 %)."""
    machine = machine_of(
        {
            "shaft_radius": 0.0105, "base_radius": 0.023248, "core_radius": 0.0239,
            "magnet_radius": 0.0256, "outer_radius": 0.0256,
            "arc_half_angle": 0.5 * np.deg2rad(32.67), "is_radial": True,
        },
        poles=8, slots=24, parallel_paths=1, winding_layers=1, turns_per_coil=20, conductor="round",
        stack_length=0.035, sleeve_thickness=0.0,
    )  # fmt: skip
    model = field_of(machine, published_surface_machine(), 104.0, 1.2)
    harmonics = linkage_wave(model)
    assert harmonics[1] == pytest.approx(0.19758, rel=0.015)
    speed = 4 * 500.0 * 2.0 * pi / 60.0
    emf = [speed * n * harmonics[n] for n in (3, 5, 7, 9)]
    np.testing.assert_allclose(emf, [3.68, 4.60, 3.22, 1.74], rtol=0.05)
    factor = Factor(model.system.columns, model.system.rows)
    torque = [
        solve_point(model, 0.0, 3.9, rotor_angle=pi / 3 * k / 12, factor=factor).torque
        for k in range(12)
    ]
    assert np.mean(torque) == pytest.approx(4.6275, rel=0.015)


IN_WHEEL = {
    # outer diameter, magnet height, bore [mm], phase current [A rms], loading [kA/m], turns
    "type 1": (500.0, 7.5, 365.0, 127.4, 48.0, 72),
    "type 2": (477.0, 7.5, 338.0, 124.3, 56.2, 80),
    "type 3": (499.0, 5.0, 352.0, 139.5, 54.5, 72),
}


@pytest.mark.parametrize("kind", IN_WHEEL)
def test_in_wheel_current_loading(kind: str) -> None:
    """A = 2 m N I / (pi D) of the table, to its printed digits."""
    _, _, bore, current, loading, turns = IN_WHEEL[kind]
    assert 6.0 * turns * current / (pi * bore) == pytest.approx(loading, rel=2e-3)


def in_wheel(kind: str) -> Machine:
    """Return an in-wheel machine through the family's own door."""
    outer, height, bore, *_ = (1e-3 * x for x in IN_WHEEL[kind][:3])
    # Tooth width is 0.45 of the pitch at r = bore / 2 + 45 mm, constant over its height.
    body = 0.5 * bore + 0.0151
    tooth = 0.45 * (0.5 * bore + 0.045) / body
    return build(
        {
            "stator_outer_diameter": outer, "bore_ratio": bore / outer, "slots": 24, "poles": 8,
            "slot_depth_ratio": 0.090 / (outer - bore), "tip_height": 0.003,
            "wedge_height": 0.0121, "tooth_width_ratio": tooth, "slot_opening_ratio": 0.2,
            "conductor": "round", "winding_layers": 1, "turns_per_coil": 18,
            "parallel_paths": 1, "air_gap": 1e-3, "stack_length": 0.1, "stacking_factor": 0.97,
            "magnet_thickness": height, "magnet_arc_ratio": 2.0 / 3.0, "magnetisation": "radial",
            "sleeve_thickness": 0.0,
            "shaft_ratio": (0.5 * bore - 1e-3 - height - 0.0368) / (0.5 * bore - 1e-3),
        },
        family="surface",
    )  # fmt: skip


@pytest.mark.parametrize(("kind", "linkage"), [("type 1", 0.6973), ("type 2", 0.7186)])
def test_in_wheel_flux(kind: str, linkage: float) -> None:
    """psi_1 with the table's turns, Br 1.175 T, mu_r 1, linear iron: 2 %.

    The reference for type 2 is noted as one of 72 turns. That cannot be: flux per turn would rise
    by 3 % while the bore falls by 7 %. With the table's 80 turns it fits, and so it is taken here.
    """
    machine = in_wheel(kind)
    turns = IN_WHEEL[kind][5]
    model = field_of(machine, section(machine), turns / 4.0, 1.175)
    found = float(linkage_wave(model, 36)[1])
    assert found == pytest.approx(linkage, rel=0.02)
    if kind == "type 1":
        assert found * 4 * 800 * 2 * pi / 60 / sqrt(2.0) == pytest.approx(165.2, rel=0.02)
        torque = 1.5 * 4 * found * sqrt(2.0) * 127.4
        assert torque == pytest.approx(753.8, rel=0.02)


@pytest.mark.parametrize(
    ("slots", "poles", "factor"),
    [
        (12, 8, 0.8660), (12, 10, 0.9330), (9, 8, 0.9452), (18, 16, 0.9452), (24, 20, 0.9330),
        (6, 4, 0.8660),
    ],
)  # fmt: skip
def test_tooth_coil_windings_through_the_door(slots: int, poles: int, factor: float) -> None:
    """S. E. Skaar, O. Krovel, R. Nilssen, ICEM 2006, to the printed digits."""
    machine = build(
        {
            "slots": slots, "poles": poles, "parallel_paths": 1, "magnet_arc_ratio": 0.8,
            "shaft_ratio": 0.3, "slot_opening_ratio": 0.2, "conductor": "round",
            "turns_per_coil": 10,
        },
        family="surface",
    )  # fmt: skip
    assert machine.winding.winding_factor == pytest.approx(factor, abs=1e-4)
    assert len(SHAPES["surface"].regions(machine)) == 6
