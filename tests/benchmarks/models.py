"""What one design costs: its flux map and its full evaluation, on one core."""

import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from models.circuit.maps import flux_maps, lowest_magnet_field
from models.circuit.model import CircuitModel
from models.circuit.solution import assemble, solve_points
from models.errors import InfeasibleDesignError
from models.evaluate import evaluate
from models.geometry.areas import areas
from models.geometry.build import build, section
from models.mechanical.mass import masses
from models.performance.cycle import run_cycle
from models.performance.drive import prepare
from models.performance.efficiency import efficiency_map
from models.performance.heat import heat
from models.performance.summary import metrics, perform
from optim.study.load import load
from optim.study.space import decode, sample

STUDY = Path(__file__).parents[2] / "studies" / "island-post-van.toml"
DESIGNS = 40


def median_ms(function: Callable[[], object], *, repeats: int = 15) -> float:
    """Return the median CPU time of a call [ms], after one that is not counted."""
    function()
    times = []
    for _ in range(repeats):
        begin = time.process_time()
        function()
        times.append(1e3 * (time.process_time() - begin))
    return statistics.median(times)


def pace_ms() -> float:
    """Return the CPU time of a fixed loop [ms]: how fast the machine itself is at the moment."""
    begin = time.process_time()
    values, total = np.arange(50.0), 0
    for i in range(12000):
        total += i * i % 7
    for _ in range(400):
        (values * 2.0 + values).sum()
    return 1e3 * (time.process_time() - begin)


def main() -> dict[str, float]:
    """Measure and print; return the figures."""
    study = load(STUDY)
    duty, peak = study.duty, study.duty.supply.current_peak
    rated, hot = duty.temperatures.magnet_rated, duty.temperatures.magnet_hot
    machine = build(study.baseline, family=study.family)
    circuit = assemble(machine)
    maps = flux_maps(circuit, current_peak=peak, magnet_temperature=rated)
    mass = masses(machine, areas(machine, section(machine)))
    drive = prepare(machine, duty, maps, mass)
    grid = efficiency_map(drive, duty.supply.dc_voltage)
    cycle = run_cycle(grid, duty)
    result = perform(machine, duty, CircuitModel(circuit))
    parts = {
        "machine and section": lambda: areas(machine, section(build(study.baseline))),
        "network assembled": lambda: assemble(machine),
        "flux map solved": lambda: flux_maps(circuit, current_peak=peak, magnet_temperature=rated),
        "single points": lambda: [
            lowest_magnet_field(circuit, point)
            for point in solve_points(circuit, [(-peak, 0.0, hot), (-1.4 * peak, 0.0, hot)])
        ],
        "torque table": lambda: prepare(machine, duty, maps, mass),
        "efficiency map": lambda: efficiency_map(drive, duty.supply.dc_voltage),
        "cycle": lambda: run_cycle(grid, duty),
        "heat": lambda: heat(drive, grid, cycle),
        "metrics": lambda: metrics(result),
    }
    found = {name: median_ms(call) for name, call in parts.items()}
    found["flux map in all"] = found["network assembled"] + found["flux map solved"]

    rng = np.random.default_rng(5)
    times, paces = [], [pace_ms()]
    for vector in sample(study, rng, count=DESIGNS):
        parameters = decode(study, vector)
        try:
            build(parameters)
        except InfeasibleDesignError:
            continue
        begin = time.process_time()
        evaluate(parameters, duty, family=study.family)
        times.append(1e3 * (time.process_time() - begin))
        paces.append(pace_ms())
    found["full evaluation"] = statistics.median(times)
    found["evaluations per second and core"] = 1e3 / found["full evaluation"]
    # Shared machines drift: the ratio of the two tells a change of the program from one of theirs.
    found["fixed loop, median"] = statistics.median(paces)
    found["fixed loop, least"] = min(paces)
    found["full evaluation in fixed loops"] = statistics.median(
        t / pace for t, pace in zip(times, paces)
    )
    print(f"models: medians, CPU ms on one core; full evaluation over {len(times)} random designs")
    for name, value in found.items():
        print(f"  {name:34s} {value:8.2f}")
    return found


if __name__ == "__main__":
    main()
