"""The other kinds of rotor: random designs of each, circuit beside field, for the page."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from textwrap import dedent

import numpy as np

from models.duty import Duty
from models.errors import InfeasibleDesignError
from models.evaluate import evaluate
from models.field.cage_field import covered_poles
from models.geometry.build import build
from models.machine import ParameterValue
from tests.accuracy.both import BothModels, both_or_reason
from tests.accuracy.differences import (
    BARS,
    SHOWN,
    Row,
    map_rows,
    metric_rows,
    share_row,
)
from tests.cage_designs import cage_design
from tests.layered_designs import reluctance_design, two_layer_design
from tests.surface_designs import surface_design
from tests.tooth_coil_designs import tooth_coil_design

Parameters = Mapping[str, ParameterValue]

MISSED_ENERGY = 0.01
"""Largest share of the cycle's energy that a design may miss by the circuit model."""
TOOTH_COILS = "orchard-tractor-tooth-coils"
"""Study whose duty suits coils round single teeth: low speed, small current."""
LEAST_FLUX = 0.05
"""Open-circuit flux over the map's largest linkage from which its relative difference counts."""


@dataclass(frozen=True)
class Kind:
    """One kind of rotor.

    Attributes
    ----------
    title, family : str
        For people, and its rotor family.
    design : callable
        Random parameters from a generator.
    study : str
        Of whose duty they are; empty takes that of the page.
    most : int
        Largest number of designs: where the winding repeats over many poles, the field model takes
        up to half a minute for one.
    """

    title: str
    family: str
    design: Callable[[np.random.Generator], Parameters]
    study: str = ""
    most: int = 1000


KINDS: tuple[Kind, ...] = (
    Kind("surface magnets", "surface", surface_design),
    Kind("reluctance", "reluctance", partial(reluctance_design, has_magnets=False)),
    Kind("reluctance with magnets", "reluctance", partial(reluctance_design, has_magnets=True)),
    Kind("buried, two V", "interior", partial(two_layer_design, layout="double_v")),
    Kind("buried, V and flat", "interior", partial(two_layer_design, layout="v_flat")),
    Kind("cage", "cage", cage_design),
    Kind("tooth coils, surface magnets", "surface",
         partial(tooth_coil_design, family="surface"), TOOTH_COILS, most=16),
    Kind("tooth coils, buried magnets", "interior",
         partial(tooth_coil_design, family="interior"), TOOTH_COILS, most=16),
)  # fmt: skip


def random_designs(kind: Kind, duty: Duty, *, count: int, seed: int) -> Iterator[Parameters]:
    """Yield random designs that the circuit model can drive over the cycle.

    None is chosen or left out by its error. Of cages those with whole numbers of bars and slots a
    pole pair, which the field model needs.
    """
    generator = np.random.default_rng(seed)
    found = 0
    while found < count:
        parameters = kind.design(generator)
        try:
            machine = build(parameters, family=kind.family)
            if kind.family == "cage":
                covered_poles(machine)
        except InfeasibleDesignError:
            continue
        outcome = evaluate(parameters, duty, family=kind.family)
        if outcome.status == "ok" and outcome.metrics["cycle_missed_energy"] <= MISSED_ENERGY:
            found += 1
            yield parameters


def compare_kind(
    kind: Kind, duty: Duty, pool: Executor, *, count: int, seed: int
) -> tuple[list[BothModels], list[str]]:
    """Return what both models say of random designs, and why others have no result."""
    designs = list(random_designs(kind, duty, count=min(count, kind.most), seed=seed))
    found: list[BothModels] = []
    failed: list[str] = []
    for result in pool.map(partial(both_or_reason, duty=duty, family=kind.family), designs):
        if isinstance(result, str):
            failed.append(result)
        else:
            found.append(result)
    return found, failed


def kind_rows(found: Sequence[BothModels]) -> list[tuple[Row, int]]:
    """Return rows and their number of designs: what has a bar and differs at all.

    Open-circuit flux also as a share of the map.
    """
    has_flux = [b for b in found if _open_circuit(b) >= LEAST_FLUX]
    rows: list[tuple[Row, int]] = []
    with_bars = [name for name in SHOWN if name in BARS]
    for row in (*metric_rows(found, with_bars), *map_rows(found)):
        if row.bars is None or (row.worst == 0.0 and row.name != "psi_d"):
            continue
        if row.name != "open_circuit_flux":
            rows.append((row, len(found)))
        elif has_flux:
            rows += [(r, len(has_flux)) for r in metric_rows(has_flux, [row.name])]
    if any(_open_circuit(b) > 0.0 for b in found) and len(has_flux) < len(found):
        values = [
            100.0 * (_flux(b.circuit_metrics) - _flux(b.field_metrics)) / _largest(b) for b in found
        ]
        rows.append((share_row("open circuit flux", np.array(values)), len(found)))
    return rows


def families_section(
    results: Mapping[str, tuple[Sequence[BothModels], Sequence[str]]],
    *, study: str, seed: int, version: str, physics: int,
) -> str:  # fmt: skip
    """Return the section on the other kinds of rotor as text.

    Parameters
    ----------
    results : mapping
        By title of the kind: what both models say, and reasons where there is no result.
    study : str
        Name of the study whose duty is driven.
    seed : int
        Of the designs.
    version : str
        Of the program.
    physics : int
        Version of the physics.
    """
    lines = [
        dedent(f"""\
            {HEADING}

            Paretorque {version}, physics version {physics}, duty of `{study}`, seed {seed}. Random
            designs over the whole ranges of each kind (`tests/surface_designs.py`,
            `layered_designs.py`, `cage_designs.py`, `tooth_coil_designs.py`: 4, 6 and 8 poles
            where the kind allows, one to four barriers, ferrite and NdFeB, open and closed rotor
            slots; of tooth coils six combinations of slots and poles), not designs of a search:
            kept if the circuit model evaluates them and they miss at most {100 * MISSED_ENERGY:g} %
            of the cycle's energy. None was chosen or left out by its error. Tooth coils drive the
            duty of `{TOOTH_COILS}`, and both models solve the sector over which they repeat. Same
            bars and same reading as above.

            Where a rotor's magnets feed little more than its own bridges, open-circuit flux is the
            small rest of two large fluxes: its relative difference is taken of designs whose flux
            is at least {100 * LEAST_FLUX:g} % of their largest linkage, and for all designs it
            stands beside in percent of that largest linkage. Rotors without magnets have neither
            that flux nor a demagnetisation field.
            """),
        "| rotor | designs | | unit | median | 95 % | worst | mean | bar: median / 95 % | |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    missed = []
    for name, (found, _) in results.items():
        for row, count in kind_rows(found):
            bar = f"{row.bars[0]:g} / {row.bars[1]:g}" if row.bars else "-"
            verdict = "" if row.bars is None else "met" if row.is_met else "**missed**"
            if not row.is_met:
                missed.append(f"{name}: {row.title}")
            lines.append(
                f"| {name} | {count} | {row.title} | {row.unit} | {row.median:.3f} | "
                f"{row.high:.3f} | {row.worst:.3f} | {row.mean:+.3f} | {bar} | {verdict} |"
            )
    verdict = f"Missed: {'; '.join(missed)}." if missed else "Every bar is met."
    lines += ["", verdict, ""]
    for name, (_, failed) in results.items():
        if failed:
            lines += [f"{name}: {len(failed)} designs without a result: {'; '.join(failed)}", ""]
    return "\n".join(lines)


HEADING = "## Other kinds of rotor: circuit against field"


def with_section(page: str, section: str) -> str:
    """Return a page whose section on other kinds of rotor is replaced, or put before the outside.

    Parameters
    ----------
    page, section : str
        Page and section as text.
    """
    before, _, rest = page.partition(HEADING)
    if rest:
        return before + section + "\n" + rest[rest.index("\n## ") + 1 :]
    before, mark, rest = page.partition("## Against the outside")
    return before + section + "\n" + mark + rest


def _flux(metrics: Mapping[str, float]) -> float:
    return metrics.get("open_circuit_flux", 0.0)


def _largest(both: BothModels) -> float:
    return float(np.abs(both.field_psi).max())


def _open_circuit(both: BothModels) -> float:
    return _flux(both.field_metrics) / _largest(both)
