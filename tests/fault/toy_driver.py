"""The driver of a job with a model that takes a few milliseconds and fails now and then.

Everything else is the real thing: study, search, database, cluster, supervision.
"""

import os
import sys
import time
from functools import partial
from hashlib import sha256
from pathlib import Path
from unittest import mock

from models.evaluation import Evaluation
from optim.service import job_driver

MEAN_SECONDS = float(os.environ.get("PARETORQUE_TOY_SECONDS", "0.02"))
QUANTITIES = (
    "conductor_mass", "purchased_sheet_mass", "stator_sheet_mass", "rotor_sheet_mass",
    "magnet_mass", "heavy_rare_earth_mass", "insulation_area", "shaft_mass",
)  # fmt: skip


def evaluate(parameters, *, bounds, log):
    """Metrics that pull against each other; a log file for each design and process counts."""
    key = sha256(repr(sorted(parameters.items())).encode()).hexdigest()
    with Path(log, f"{key[:20]}.{os.getpid()}").open("a") as file:
        file.write("x")
    share = int(key[:8], 16) / 2**32
    time.sleep(MEAN_SECONDS * (0.2 + 1.6 * share))
    if share < 0.05:
        raise ArithmeticError("no solution at this point")
    if share < 0.15:
        return Evaluation("infeasible", "circuit", reason="magnet_too_short", message="too short")
    metrics = {
        **dict.fromkeys(QUANTITIES, 1.0),
        **bounds,
        "magnet_mass": 0.6 + 100.0 * parameters["magnet_thickness"] + 0.2 * share,
        "peak_torque": 205.0 + 8000.0 * parameters["magnet_thickness"] - 10.0 * share,
        "cycle_efficiency": 0.95 - 0.02 * share,
    }
    return Evaluation("ok", "circuit", metrics)


def evaluator(study, *, log):
    return partial(evaluate, bounds={limit.metric: limit.bound for limit in study.limits}, log=log)


def main():
    log = os.environ["PARETORQUE_TOY_LOG"]
    with (
        mock.patch("optim.service.running.evaluator", partial(evaluator, log=log)),
        mock.patch("optim.service.job_driver.compile_models"),  # nothing of it is compiled
    ):
        return job_driver.main()


if __name__ == "__main__":
    # By its own name, not as the main module, so that workers can import what is sent to them.
    from tests.fault import toy_driver

    sys.exit(toy_driver.main())
