"""Every rotor family stands in every table that the chain reads, and keeps to its own names."""

from math import pi

import pytest

from models.cage_rotor import CageRotor
from models.circuit.families import NETWORKS
from models.errors import InvalidInputError
from models.evaluate import _OWN_MAKERS
from models.field.families import ROTOR_MEDIA
from models.geometry.build import build, complete, section
from models.geometry.families import SHAPES
from models.losses.families import EDDY_LOSS
from models.machine import Stator, rotor_as
from models.mechanical.families import STRENGTH, rotor_inertia
from models.mechanical.inertia import section_inertia
from models.nomenclature import FAMILIES, METRICS, PARAMETERS
from models.performance.families import SHAPE_METRICS
from models.thermal.rotor_paths import PATHS
from optim.errors import StudyError
from optim.export.families import NOTES
from optim.export.plots.front import FAMILY_LOOKS
from optim.study.parameters import read_parameters

TABLES = {
    "shape": SHAPES, "network": NETWORKS, "field": ROTOR_MEDIA, "eddy loss": EDDY_LOSS,
    "strength": STRENGTH, "heat": PATHS, "metrics": SHAPE_METRICS, "notes": NOTES,
    "marks": FAMILY_LOOKS,
}  # fmt: skip


@pytest.mark.parametrize("table", TABLES)
def test_every_family_is_in_every_table(table: str) -> None:
    # a family with a circuit of its own needs no magnetic network
    own = {family for family, model in _OWN_MAKERS if model == "circuit"}
    exempt = own if table == "network" else set()
    assert set(TABLES[table]) | exempt == set(FAMILIES)


def test_parameters_and_metrics_name_known_families_only() -> None:
    for entry in (*PARAMETERS.values(), *METRICS.values()):
        assert set(entry.families) <= set(FAMILIES), entry.name


@pytest.mark.parametrize("family", FAMILIES)
def test_the_default_machine_of_every_family_builds(family: str) -> None:
    machine = build({}, family=family)
    assert machine.family == family
    assert machine.rotor.shaft_radius < machine.rotor.outer_radius
    drawn = section(machine)
    assert all(region.area() > 0.0 for region in drawn.rotor)
    inertia = rotor_inertia(machine)
    if isinstance(machine.rotor, CageRotor):
        # the bars' density is the cage's, and its rings lie outside the section
        bars = section_inertia(machine, {"bar": machine.rotor.material.density})
        outer, inner = machine.rotor.bar_top, machine.rotor.bar_top - machine.rotor.ring_height
        ring = 0.5 * pi * (outer**4 - inner**4) * machine.rotor.ring_width
        share = machine.rotor.bars / sum(r.part == "bar" for r in drawn.rotor)
        bars *= share / (2 * machine.pole_pairs)
        inertia -= 2.0 * machine.rotor.material.density * ring
        assert inertia == pytest.approx(bars, rel=0.01)
        return
    assert inertia == pytest.approx(section_inertia(machine), rel=0.05)


def test_a_rotor_is_not_taken_for_another() -> None:
    with pytest.raises(InvalidInputError, match="this function is for a Stator"):
        rotor_as(build({}), Stator)


def test_a_parameter_of_another_family_is_refused_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    others = [p for p in PARAMETERS.values() if p.families and "interior" not in p.families]
    for parameter in others:
        with pytest.raises(InvalidInputError, match="belongs to family"):
            complete({parameter.name: 1})
        with pytest.raises(StudyError, match="a parameter of family"):
            read_parameters({parameter.name: 1}, family="interior")
