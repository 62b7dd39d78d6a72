"""The section of one sector as open polygons (GeoJSON, RFC 7946), to rebuild the machine elsewhere.

Every region is a polygon in millimetres with what it is made of, its magnetisation or its phase
and sign. Neighbours share their corners exactly, so the polygons fill the sector without gap or
overlap.
"""

import json
from math import atan2, degrees, hypot, pi
from typing import Any

import numpy as np

from models.axes import pole_axis
from models.geometry.section import Outline, Point, Region, Section, arc_bulge
from models.machine import Machine
from models.nomenclature import CONVENTIONS
from optim.export.outlines import drawn_section
from optim.export.section_view import PHASES

MM = 1e3
STEP = pi / 720.0
"""Arcs are cut into pieces of at most this angle [rad]: a quarter of a degree, which takes 3e-6 of
a ring's area."""
DECIMALS = 6
"""Of a millimetre: corners that two regions share are written alike."""
_FLUX_DENSITIES = np.concatenate((np.arange(0.05, 1.2, 0.05), np.arange(1.2, 2.51, 0.02)))


def section_geojson(machine: Machine, *, lines: tuple[str, ...] = ()) -> str:
    """Return the poles of one sector and the stator over them as GeoJSON text.

    Parameters
    ----------
    machine : Machine
        The design. One pole where slots per pole and phase are whole, and of a cage, whose bars
        need not be; else as many as the winding repeats over.
    lines : tuple of str
        Notes on the origin.

    Returns
    -------
    str
        A feature collection with the further members `units`, `machine`, `materials` and `notes`.
        Coordinates are plane [mm], d axis on x, shaft axis at 0: no places on Earth.
    """
    section = drawn_section(machine)
    gap = _air_gap(section, machine)
    regions = (*section.rotor, gap, *section.stator)
    content = {
        "type": "FeatureCollection",
        "units": "mm",
        "arc_step_deg": float(np.degrees(STEP)),
        "machine": _machine(machine),
        "materials": _materials(machine),
        "notes": [
            _NOTES[0].format(
                axis=pole_axis(machine.family),
                place=f"at {degrees(section.north_axis):g} degrees from x"
                if section.north_axis
                else "on x",
            ),
            f"{section.poles} poles: {_SIDES[section.poles % 2]}"
            if section.poles > 1
            else _ONE_POLE,
            *_NOTES[1:],
            *(f"convention: {line}" for line in CONVENTIONS),
            *lines,
        ],
        "features": [_feature(region, machine) for region in regions],
    }
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


_ONE_POLE = "one pole: fields on the two radial sides are equal and opposite (anti-periodic)"
_SIDES = (
    "fields on the two radial sides are equal (periodic)",
    "fields on the two radial sides are equal and opposite (anti-periodic)",
)
_NOTES = (
    "plane of the sheets, shaft axis at (0, 0), {axis} of the drawn rotor pole (north) {place}",
    "A = 0 on the outer stator circle and on the shaft circle",
    "phase_shares: part of a slot's conductors that carries a phase, positive is current along +z "
    "(out of the plane); spread evenly over the slot region",
    "magnetisation: unit vector, turned by magnetisation_order times the polar angle if given; "
    "remanence = remanence_20_t (1 + remanence_slope_per_k (T - 20))",
    "the rotor is drawn at angle 0; it turns counter-clockwise",
)


def _machine(machine: Machine) -> dict[str, Any]:
    w = machine.winding
    return {
        "family": machine.family,
        "pole_pairs": machine.pole_pairs,
        "slots": machine.stator.slots,
        "stack_length_mm": MM * machine.stack_length,
        "air_gap_mm": MM * machine.air_gap,
        "stacking_factor": machine.stacking_factor,
        "conductors_per_slot": w.conductors_per_slot,
        "parallel_paths": w.parallel_paths,
        "series_turns": w.series_turns,
        "bare_conductor_area_mm2": MM**2 * w.conductor_area,
        "winding": {
            name: [float(x) for x in shares] for name, shares in zip(PHASES, w.slot_phases)
        },
    }


def _materials(machine: Machine) -> dict[str, Any]:
    sheet, magnet = machine.lamination, machine.magnet
    nu, _ = sheet.magnetisation(_FLUX_DENSITIES**2)
    field = nu * _FLUX_DENSITIES
    return {
        sheet.name: {
            "density_kg_m3": sheet.density,
            "flux_density_t": [0.0, *(round(float(b), 3) for b in _FLUX_DENSITIES)],
            "field_strength_a_m": [0.0, *(round(float(h), 4) for h in field)],
            "source": sheet.source,
        },
        magnet.name: {
            "density_kg_m3": magnet.density,
            "remanence_20_t": magnet.remanence_20,
            "remanence_slope_per_k": magnet.remanence_slope,
            "recoil_permeability": magnet.recoil_permeability,
            "resistivity_ohm_m": magnet.resistivity,
            "source": magnet.source,
        },
        "conductor": {
            "density_kg_m3": machine.conductor.density,
            "resistivity_20_ohm_m": machine.conductor.resistivity_20,
            "source": machine.conductor.source,
        },
    }


def _feature(region: Region, machine: Machine) -> dict[str, Any]:
    rings = [_ring(region.outline), *(_ring(hole)[::-1] for hole in region.holes)]
    properties: dict[str, Any] = {
        "name": region.name,
        "part": region.part,
        "material": region.material,
        "area_mm2": MM**2 * region.area(),
    }
    if region.magnetisation is not None:
        properties["magnetisation"] = [float(x) for x in region.magnetisation]
        if region.magnetisation_order:
            properties["magnetisation_order"] = region.magnetisation_order
        properties["remanence_20_t"] = machine.magnet.remanence_20
    if region.part == "slot_conductors" and region.slot is not None:
        shares = {
            name: float(all_slots[region.slot])
            for name, all_slots in zip(PHASES, machine.winding.slot_phases)
            if all_slots[region.slot]
        }
        properties["slot"] = region.slot
        properties["phase_shares"] = shares
        if len(shares) == 1:
            ((phase, share),) = shares.items()
            properties["phase"], properties["sign"] = phase, 1 if share > 0.0 else -1
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Polygon", "coordinates": rings},
    }


def _ring(outline: Outline) -> list[list[float]]:
    points = np.round(MM * outline.polygon(STEP), DECIMALS) + 0.0  # no minus zeros
    ring: list[list[float]] = points.tolist()
    return [*ring, ring[0]]


def _air_gap(section: Section, machine: Machine) -> Region:
    """Return the air gap over the poles, cut where the slots' corners lie on the bore."""
    half = section.half_angle
    inner = _circle_points(section.rotor, machine.rotor.outer_radius, half)
    outer = _circle_points(section.stator, machine.stator.bore_radius, half)
    points = (*outer, *reversed(inner))
    n = len(points)
    bulges = []
    for k, (x, y) in enumerate(points):
        after = points[(k + 1) % n]
        sweep = atan2(after[1], after[0]) - atan2(y, x)
        is_side = k in (len(outer) - 1, n - 1)
        bulges.append(0.0 if is_side else arc_bulge(sweep))
    return Region("air_gap", "air_gap", "air", Outline(points, tuple(bulges)))


def _circle_points(regions: tuple[Region, ...], radius: float, half: float) -> tuple[Point, ...]:
    """Return the corners on a circle by angle, both ends of the pole among them."""
    near = 1e-9 * radius
    found: dict[int, Point] = {}
    ends = [(radius * np.cos(a), radius * np.sin(a)) for a in (-half, half)]
    corners = [p for region in regions for p in region.outline.points]
    for x, y in [*((float(x), float(y)) for x, y in ends), *corners]:
        angle = atan2(y, x)
        if abs(hypot(x, y) - radius) < near and abs(angle) < half + 1e-9:
            found.setdefault(round(angle / 1e-8), (x, y))
    return tuple(found[key] for key in sorted(found))
