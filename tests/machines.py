"""Machines for tests, built by hand so that one broken part does not hide the others.

Invented: an 8-pole, 48-slot V-magnet machine of 210 mm outer diameter with six rectangular
conductors per slot, and a variant with round strands.
"""

from math import pi
from typing import Any

import numpy as np

from models.geometry.areas import Areas
from models.geometry.build import build
from models.geometry.interior import build_interior_rotor, rotor_regions
from models.geometry.stator import build_stator, slot_corners, slot_pitch_regions
from models.machine import Machine, Winding
from models.materials.catalogue import Conductor, Lamination, LossFit, Magnet
from models.materials.reluctivity import ReluctivityTable
from models.nomenclature import PARAMETERS

COPPER = Conductor(
    name="copper", resistivity_20=1e-6 / 58.0, resistivity_slope=3.93e-3, density=8890.0,
    specific_heat=385.0, thermal_conductivity=385.0, source="IEC 60028:1925 (from memory)",
)  # fmt: skip

SHEET = Lamination(
    name="HP270-35A", thickness=0.35e-3, density=7650.0, resistivity=52e-8,
    yield_strength=350e6, tensile_strength=480e6, youngs_modulus=200e9, poisson_ratio=0.3,
    thermal_conductivity=25.0, specific_heat=460.0,
    magnetisation=ReluctivityTable(
        step=0.1, nu=np.linspace(150.0, 3e4, 60), slope=np.full(60, 4.9e3)
    ),
    loss=LossFit(
        hysteresis=0.018, alpha=1.8, beta=0.1, classical=5.07e-5, excess=1e-4, fit_error=0.0,
        source="invented for tests",
    ),
    build_factor=1.4, source="invented for tests",
)  # fmt: skip

MAGNET = Magnet(
    name="N42SH", remanence_20=1.31, remanence_slope=-0.0012, coercivity_20=1.6e6,
    coercivity_slope=-0.005, recoil_permeability=1.05, squareness=0.9, density=7500.0,
    resistivity=1.5e-6, specific_heat=440.0, thermal_conductivity=8.0,
    heavy_rare_earth_share=0.03, temperature_limit=150.0, source="invented for tests",
)  # fmt: skip


def table(**changes: Any) -> dict[str, Any]:
    """Full parameter table (SI) with changes."""
    full = {
        p.name: p.default if p.kind != "real" else float(p.default) / p.shown_factor
        for p in PARAMETERS.values()
    }
    return {**full, **changes}


def machine(**changes: Any) -> Machine:
    """Demonstration machine; changes are parameters in SI."""
    values = table(**changes)
    stator = build_stator(values)
    poles = int(values["poles"])
    rotor = build_interior_rotor(
        values, outer_radius=stator.bore_radius - values["air_gap"], pole_pairs=poles // 2
    )
    layers, turns = int(values["winding_layers"]), int(values["turns_per_coil"])
    count = layers * turns
    width, height = stator.slot_width_inner, stator.body_height
    liner, skin = values["liner_thickness"], values["conductor_insulation"]
    is_rectangular = values["conductor"] == "rectangular"
    if is_rectangular:
        b = width - 2.0 * (liner + skin)
        h = (height - 2.0 * liner) / count - 2.0 * skin
        area, strands = b * h, 1
    else:
        b = h = values["strand_diameter"]
        net = stator.slot_body_area - liner * (2.0 * height + width)
        strands = int(values["copper_fill"] * net / count / (0.25 * pi * b**2))
        area = strands * 0.25 * pi * b**2
    span = stator.slots // poles - int(values["pitch_shortening"])
    end_turn = 1.3 * 2.0 * pi / stator.slots * span * (stator.bore_radius + 0.5 * height) + 0.02
    return Machine(
        family="interior", parameters=values, pole_pairs=poles // 2,
        stack_length=values["stack_length"], air_gap=values["air_gap"],
        stacking_factor=values["stacking_factor"], stator=stator,
        winding=Winding(
            slots=stator.slots, pole_pairs=poles // 2, layers=layers, coil_span=span,
            turns_per_coil=turns, parallel_paths=int(values["parallel_paths"]),
            slot_phases=phases(stator.slots, poles, layers, span), winding_factor=0.966,
            is_rectangular=is_rectangular, conductor_width=b, conductor_height=h,
            conductor_area=area, strands=strands, end_turn_length=end_turn, overhang=0.03,
        ),
        rotor=rotor, lamination=SHEET, magnet=MAGNET, conductor=COPPER,
    )  # fmt: skip


def phases(slots: int, poles: int, layers: int, span: int) -> Any:
    """Integral-slot belts A, -C, B, -A, C, -B; the second layer lies one span on."""
    per_pole = slots // poles
    belts = ((0, 1.0), (2, -1.0), (1, 1.0), (0, -1.0), (2, 1.0), (1, -1.0))
    out = np.zeros((3, slots))
    for s in range(slots):
        phase, sign = belts[(s // (per_pole // 3)) % 6]
        out[phase, s] += sign / layers
        if layers == 2:
            out[phase, (s + span) % slots] -= sign / layers
    return tuple(tuple(float(x) for x in row) for row in out)


def areas(m: Machine) -> Areas:
    """Areas of the section, by the same regions as the project's own."""
    poles = 2 * m.pole_pairs
    stator = slot_pitch_regions(m.stator, angle=0.0, index=0, grade="")
    rotor = rotor_regions(m.rotor, pole_pairs=m.pole_pairs, sheet="", magnet="")

    def total(part: str) -> float:
        return sum(r.area() for r in (*stator, *rotor) if r.part == part)

    (_, _, (x_in, y_in), (x_out, y_out)) = slot_corners(m.stator)
    return Areas(
        stator_sheet=total("stator_core") * m.stator.slots,
        rotor_sheet=total("rotor_core") * poles,
        magnet=total("magnet") * poles,
        barrier_air=total("barrier") * poles,
        sleeve=0.0,
        shaft=pi * m.rotor.shaft_radius**2,
        slot_conductor=m.winding.conductor_area * m.winding.conductors_per_slot * m.stator.slots,
        slot_gross=m.stator.slot_body_area * m.stator.slots,
        liner_perimeter=2.0 * (y_in + y_out + x_out - x_in),
    )


def tooth_coil_machine(family: str, slots: int, poles: int, **changes: Any) -> Machine:
    """Return an invented machine of few slots, by the program's own door; changes in SI."""
    values: dict[str, Any] = {
        "slots": slots, "poles": poles, "conductor": "round", "parallel_paths": 1,
        "turns_per_coil": 12, "shaft_ratio": 0.4, "slot_opening_ratio": 0.2 if slots < 20 else 0.35,
        "tooth_width_ratio": 0.55, "tip_height": 2.5e-3, "wedge_height": 2.5e-3,
    }  # fmt: skip
    return build({**values, **changes}, family=family)
