"""The GeoJSON section: valid polygons (RFC 7946), gapless, exact areas, full properties."""

import json
from collections import Counter
from math import pi, sin
from typing import Any

import numpy as np
import pytest

from models.constants import MU0
from models.geometry.areas import areas
from models.geometry.build import build, section
from models.machine import Machine
from optim.export.section_geojson import STEP, section_geojson

Ring = list[list[float]]
DESIGNS: list[dict[str, Any]] = [
    {},
    {"v_depth_ratio": 0.0, "poles": 6, "slots": 36, "parallel_paths": 2},
    {"conductor": "round", "poles": 8, "slots": 48, "pitch_shortening": 1, "winding_layers": 2},
    {
        "poles": 10,
        "slots": 60,
        "parallel_paths": 2,
        "v_depth_ratio": 1.0,
        "barrier_span_ratio": 0.93,
    },
]


def _area(ring: Ring) -> float:
    x, y = np.array(ring[:-1]).T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _content(machine: Machine) -> dict[str, Any]:
    content: dict[str, Any] = json.loads(section_geojson(machine, lines=("run r7",)))
    return content


@pytest.fixture(scope="module", params=DESIGNS, ids=["default", "flat", "round", "ten poles"])
def machine(request: pytest.FixtureRequest) -> Machine:
    return build(request.param)


def test_polygons_are_closed_and_turn_the_right_way(machine: Machine) -> None:
    content = _content(machine)
    assert content["type"] == "FeatureCollection"
    for feature in content["features"]:
        assert feature["type"] == "Feature"
        assert feature["geometry"]["type"] == "Polygon"
        outer, *holes = feature["geometry"]["coordinates"]
        for ring in (outer, *holes):
            assert ring[0] == ring[-1]
            assert len(ring) >= 4
            assert len({tuple(p) for p in ring[:-1]}) == len(ring) - 1
        assert _area(outer) > 0.0
        assert all(_area(hole) < 0.0 for hole in holes)


def test_polygons_fill_the_sector_once(machine: Machine) -> None:
    """Every side is run through once each way, but for those on the sector's border; and the
    areas add up to the sector's. Together: no gap, no overlap."""
    edges: Counter[tuple[Any, Any]] = Counter()
    total = 0.0
    for feature in _content(machine)["features"]:
        for ring in feature["geometry"]["coordinates"]:
            total += _area(ring)
            edges.update(zip(map(tuple, ring[:-1]), map(tuple, ring[1:])))
    assert set(edges.values()) == {1}
    half = 0.5 * pi / machine.pole_pairs
    outer = 1e3 * machine.stator.outer_radius
    for (a, b), _ in edges.items():
        if (b, a) in edges:
            continue
        (x0, y0), (x1, y1) = a, b
        on_sides = all(abs(abs(np.arctan2(y, x)) - half) < 1e-6 or x == y == 0.0
                       for x, y in (a, b))  # fmt: skip
        on_circle = all(abs(np.hypot(x, y) - outer) < 1e-5 for x, y in (a, b))
        assert on_sides or on_circle, (x0, y0, x1, y1)
    cut = sin(STEP) / STEP
    assert total == pytest.approx(half * outer**2 * cut, rel=1e-5)


def test_areas_are_those_of_the_machine(machine: Machine) -> None:
    exact = areas(machine, section(machine))
    poles = 2 * machine.pole_pairs
    found: Counter[str] = Counter()
    for feature in _content(machine)["features"]:
        rings = feature["geometry"]["coordinates"]
        drawn = sum(_area(ring) for ring in rings)
        assert drawn == pytest.approx(feature["properties"]["area_mm2"], rel=1e-4)
        found[feature["properties"]["part"]] += drawn * poles
    gap = pi * (machine.stator.bore_radius**2 - machine.rotor.outer_radius**2)
    for part, area in (
        ("stator_core", exact.stator_sheet), ("rotor_core", exact.rotor_sheet),
        ("magnet", exact.magnet), ("barrier", exact.barrier_air), ("shaft", exact.shaft),
        ("slot_conductors", exact.slot_gross), ("air_gap", gap),
    ):  # fmt: skip
        assert found[part] == pytest.approx(1e6 * area, rel=1e-4), part


def test_magnets_point_to_the_gap_and_slots_carry_phases(machine: Machine) -> None:
    content = _content(machine)
    magnets = [f for f in content["features"] if f["properties"]["part"] == "magnet"]
    assert len(magnets) == 2
    for magnet in magnets:
        x, y = magnet["properties"]["magnetisation"]
        assert np.hypot(x, y) == pytest.approx(1.0)
        # A north pole: outwards along the d axis.
        assert x > 0.0
        assert magnet["properties"]["remanence_20_t"] == machine.magnet.remanence_20
    slots = [f["properties"] for f in content["features"]
             if f["properties"]["part"] == "slot_conductors"]  # fmt: skip
    assert len(slots) == machine.stator.slots // (2 * machine.pole_pairs)
    for p in slots:
        assert sum(abs(x) for x in p["phase_shares"].values()) == pytest.approx(1.0)
        for phase, share in p["phase_shares"].items():
            assert content["machine"]["winding"][phase][p["slot"]] == share
        if len(p["phase_shares"]) == 1:
            assert p["phase_shares"] == {p["phase"]: float(p["sign"])}


def test_steel_table_is_that_of_the_models_and_saturates() -> None:
    machine = build({})
    steel = _content(machine)["materials"][machine.lamination.name]
    b, h = np.array(steel["flux_density_t"]), np.array(steel["field_strength_a_m"])
    assert b[0] == h[0] == 0.0
    assert np.all(np.diff(b) > 0.0)
    assert np.all(np.diff(h) > 0.0)
    # No material is harder to magnetise than vacuum.
    assert np.all(np.diff(h) / np.diff(b) < 1.001 / MU0)
    nu, _ = machine.lamination.magnetisation(b[1:] ** 2)
    assert h[1:] == pytest.approx(nu * b[1:], rel=1e-4)


def test_notes_tell_what_is_needed() -> None:
    content = _content(build({}))
    text = " ".join(content["notes"])
    for word in ("anti-periodic", "A = 0", "+z", "run r7", "amplitude-invariant"):
        assert word in text
    assert content["units"] == "mm"
    assert content["machine"]["conductors_per_slot"] > 0
