"""What one candidate costs in the field model, in parts, on one core."""

import statistics
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from models.errors import InfeasibleDesignError
from models.field import Factor, FieldMagnetics, field_model
from models.field import solve as solve_module
from models.field.domain import mesh_section
from models.field.maps import D_POINTS, Q_POINTS
from models.field.march import averaging_positions
from models.geometry.build import build, section
from models.machine import Machine
from optim.study.load import load
from optim.study.model import Study
from optim.study.space import decode, sample
from tests.benchmarks.models import STUDY

DESIGNS = 12
POSITIONS = 16
PARTS = ("mesh", "assemble", "factor", "solve", "the rest")
T = TypeVar("T")


class Stopwatch:
    """CPU time by part: wraps functions of the solver while a candidate runs."""

    def __init__(self) -> None:
        self.spent = dict.fromkeys(PARTS, 0.0)
        self.calls = dict.fromkeys(PARTS, 0)

    def around(self, part: str, call: Callable[..., T]) -> Callable[..., T]:
        """Return `call` with its CPU time added to a part."""

        def timed(*arguments: object, **named: object) -> T:
            begin = time.process_time()
            try:
                return call(*arguments, **named)
            finally:
                self.spent[part] += time.process_time() - begin
                self.calls[part] += 1

        return timed


def candidate(machine: Machine, study: Study) -> FieldMagnetics:
    """Solve all that one candidate needs: maps with iron loss, ripple, hot demagnetisation."""
    peak, limits = study.duty.supply.current_peak, study.duty.temperatures
    field = FieldMagnetics.of(machine)
    field.flux_maps(current_peak=peak, magnet_temperature=limits.magnet_rated)
    field.torque_wave(
        i_d=-0.6 * peak, i_q=0.8 * peak, magnet_temperature=limits.magnet_rated,
        positions=POSITIONS,
    )  # fmt: skip
    field.lowest_magnet_field(i_d=-peak, magnet_temperature=limits.magnet_hot)
    return field


def split(machine: Machine, study: Study) -> tuple[dict[str, float], Stopwatch]:
    """Return CPU seconds by part of one candidate, and the stopwatch."""
    watch = Stopwatch()
    begin = time.process_time()
    mesh_section(section(machine))
    watch.spent["mesh"] = time.process_time() - begin
    begin = time.process_time()
    field_model(machine)
    watch.spent["assemble"] = time.process_time() - begin - watch.spent["mesh"]
    kept = Factor.update, Factor.solve
    tangent = solve_module.tangent
    begin = time.process_time()
    try:
        Factor.update = watch.around("factor", kept[0])  # type: ignore[method-assign]
        Factor.solve = watch.around("solve", kept[1])  # type: ignore[method-assign]
        solve_module.tangent = watch.around("assemble", tangent)
        candidate(machine, study)
    finally:
        Factor.update, Factor.solve = kept  # type: ignore[method-assign]
        solve_module.tangent = tangent
    total = time.process_time() - begin
    watch.spent["the rest"] = total - sum(watch.spent.values())
    return watch.spent, watch


def main() -> dict[str, float]:
    """Measure and print; return the figures."""
    study = load(STUDY)
    rng = np.random.default_rng(5)
    machines: list[Machine] = []
    for vector in sample(study, rng, count=2 * DESIGNS):
        try:
            machines.append(build(decode(study, vector), family=study.family))
        except InfeasibleDesignError:
            continue
    machines = machines[:DESIGNS]
    candidate(machines[0], study)  # loads the compiled kernels
    totals, rows, factored, unknowns = [], [], [], []
    for machine in machines:
        begin = time.process_time()
        field = candidate(machine, study)
        totals.append(time.process_time() - begin)
        unknowns.append(field.model.system.size)
        spent, watch = split(machine, study)
        rows.append(spent)
        factored.append(watch.calls["factor"])
    found = {part: 1e3 * statistics.median(r[part] for r in rows) for part in PARTS}
    found["whole candidate"] = 1e3 * statistics.median(totals)
    found["slowest candidate"] = 1e3 * max(totals)
    found["unknowns"] = statistics.median(unknowns)
    found["factorisations, four at a time"] = statistics.median(factored)
    found["designs per hour and core"] = 3.6e6 / found["whole candidate"]
    print(
        f"field model: medians over {len(machines)} random designs, CPU ms on one core; "
        f"map of {D_POINTS} x {Q_POINTS} currents at {len(averaging_positions(2))} rotor angles, "
        f"ripple at {POSITIONS}, hot demagnetisation, iron waveforms"
    )
    for name, value in found.items():
        print(f"  {name:34s} {value:8.1f}")
    return found


if __name__ == "__main__":
    main()
