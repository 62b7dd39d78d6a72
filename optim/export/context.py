"""Where a design comes from: what every hand-over file says about itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from models import PHYSICS_VERSION
from models.nomenclature import CONVENTIONS
from models.performance.summary import Performance
from optim.export.families import carried_temperature
from optim.study.model import Limit


def program_version() -> str:
    """Return the installed version of the program, or `unknown` outside an installation."""
    try:
        return version("paretorque")
    except PackageNotFoundError:
        return "unknown"


@dataclass(frozen=True)
class PackContext:
    """Provenance, limits and prices of an exported design.

    Attributes
    ----------
    study_name, study_title : str
        Short name of the study and its line for people.
    run_id : str
        Run the design was found in; empty for a design that is of no run.
    candidate : int or None
        Number of the candidate in its run, from 0.
    rank : int or None
        Rank on the front, from 1.
    seed : int or None
        Random seed of the search.
    limits : tuple of Limit
        What the study asks of the metrics, bounds in SI.
    prices : mapping of str to float
        Price list, EUR per unit by key of `models.cost`.
    price_date : str
        When the prices are from.
    version : str
        Version of the program that wrote the files.
    """

    study_name: str
    study_title: str
    run_id: str
    candidate: int | None
    rank: int | None
    seed: int | None
    limits: tuple[Limit, ...]
    prices: Mapping[str, float]
    price_date: str
    version: str

    @property
    def design_name(self) -> str:
        """Name of the design for titles: `candidate 12 (rank 1) of run r7`."""
        if self.candidate is None:
            return f"design of study {self.study_name}"
        rank = f" (rank {self.rank})" if self.rank is not None else ""
        return f"candidate {self.candidate}{rank} of run {self.run_id}"


def footer(context: PackContext, *, model: str) -> str:
    """Return the line at the foot of every plot: run, seed, model, version."""
    parts = [f"run {context.run_id}" if context.run_id else f"study {context.study_name}"]
    if context.candidate is not None:
        parts.append(f"candidate {context.candidate}")
    if context.seed is not None:
        parts.append(f"seed {context.seed}")
    return " | ".join([*parts, f"{model} model", f"Paretorque {context.version}"])


def provenance(performance: Performance, context: PackContext) -> tuple[str, ...]:
    """Return the lines at the head of every table: origin, conditions, conventions."""
    duty = performance.duty
    seed = "" if context.seed is None else f", seed {context.seed}"
    return (
        f"{context.design_name}{seed}",
        f"study {context.study_name}: {context.study_title}",
        f"{performance.machine.family} rotor, {performance.model.name} model, physics version "
        f"{PHYSICS_VERSION}, Paretorque {context.version}",
        f"supply {duty.supply.dc_voltage:g} V nominal, {duty.supply.dc_voltage_min:g} V lowest, "
        f"{duty.supply.phase_current:g} A rms; winding "
        f"{duty.temperatures.winding_rated:g} degC, "
        f"{carried_temperature(performance.machine, duty)} degC unless a column says otherwise",
        *(f"convention: {line}" for line in CONVENTIONS),
    )
