"""Random designs of the demo study by the field model, on the usual and on a finer mesh."""

from dataclasses import dataclass
from math import cos, pi, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from models.errors import InfeasibleDesignError, ModelError, SolverError
from models.field import Factor, FieldModel, Resolution, field_model
from models.field.march import averaging_positions, solve_positions
from models.field.waves import torque_wave
from models.geometry.build import build
from models.machine import Machine
from optim.study.load import load
from optim.study.model import Study
from optim.study.space import decode, sample

STUDY = Path(__file__).parents[1] / "studies" / "island-post-van.toml"
FINER = Resolution(
    segments_per_pole=108, largest=3.5, growth=0.2, thickness_share=0.5, harmonics=48
)
"""More than four times the unknowns of the usual mesh, and more harmonics in the gap."""
CURRENT_SHARES = ((0.5, 0.0), (0.5, 45.0), (1.0, 0.0), (1.0, 35.0), (1.0, 60.0), (1.0, 90.0))
"""Operating points: share of the largest current, angle from the q axis [degrees]."""


def demo_study() -> Study:
    return load(STUDY)


def random_machines(study: Study, count: int, seed: int) -> list[Machine]:
    """Return the first `count` machines among random vectors that resolve to one."""
    rng = np.random.default_rng(seed)
    out: list[Machine] = []
    while len(out) < count:
        for vector in sample(study, rng, count=count):
            try:
                out.append(build(decode(study, vector), family=study.family))
            except InfeasibleDesignError:
                continue
    return out[:count]


@dataclass(frozen=True, eq=False)
class Reading:
    """What one mesh says: psi (points, 2), torque (points), ripple and self-check at one point."""

    psi: NDArray[np.float64]
    torque: NDArray[np.float64]
    ripple: float
    wave_mean: float
    difference: float
    unknowns: int


def read(machine: Machine, current: float, temperature: float, resolution=None) -> Reading:
    """Solve the operating points over the averaging positions, and one torque wave."""
    model = field_model(machine, magnet_temperature=temperature, resolution=resolution)
    factor = Factor(model.system.columns, model.system.rows, model.system.plan)
    psi, torque = [], []
    for share, degrees in CURRENT_SHARES:
        i_d, i_q = dq(share * current, degrees)
        found = mean_linkages(model, i_d, i_q, machine, factor)
        psi.append(found)
        torque.append(1.5 * model.pole_pairs * (found[0] * i_q - found[1] * i_d))
    i_d, i_q = dq(current, 40.0)
    wave = torque_wave(model, i_d=i_d, i_q=i_q, remanence=model.remanence, factor=factor)
    return Reading(
        np.array(psi), np.array(torque), wave.ripple, wave.mean, wave.torque_difference,
        model.system.size,
    )  # fmt: skip


def dq(current: float, degrees: float) -> tuple[float, float]:
    angle = degrees * pi / 180.0
    return -current * sin(angle), current * cos(angle)


def mean_linkages(
    model: FieldModel, i_d: float, i_q: float, machine: Machine, factor: Factor
) -> NDArray[np.float64]:
    angles = averaging_positions(model.sector.passings)
    solutions = solve_positions(
        model, i_d=i_d, i_q=i_q, rotor_angles=angles, remanence=model.remanence, factor=factor
    )
    pairs = [model.linkages(s.potential, a) for s, a in zip(solutions, angles.tolist())]
    return np.mean(pairs, axis=0)


@dataclass(frozen=True)
class MeshError:
    """Errors of the usual mesh against the finer one, relative."""

    linkage: float
    torque: float
    ripple: float
    difference: float
    unknown_ratio: float


def mesh_error(machine: Machine, study: Study) -> MeshError:
    """Compare both meshes: linkages to the largest linkage, torque to the largest torque."""
    current = study.duty.supply.current_peak
    temperature = study.duty.temperatures.magnet_rated
    # inner products of the finer mesh are just long enough for BLAS to share, at a great loss
    with threadpool_limits(1):
        usual = read(machine, current, temperature)
        finer = read(machine, current, temperature, FINER)
    return MeshError(
        linkage=float(np.abs(usual.psi - finer.psi).max() / np.abs(finer.psi).max()),
        torque=float(
            max(
                np.abs(usual.torque - finer.torque).max() / np.abs(finer.torque).max(),
                abs(usual.wave_mean / finer.wave_mean - 1.0),
            )
        ),
        ripple=abs(usual.ripple / finer.ripple - 1.0),
        difference=max(usual.difference, finer.difference),
        unknown_ratio=finer.unknowns / usual.unknowns,
    )


def outcome(parameters, study: Study) -> str:
    """Solve one design at full current; return `ok`, or the named reason it has no result."""
    try:
        machine = build(parameters, family=study.family)
    except InfeasibleDesignError as error:
        return f"geometry: {error.reason}"
    current = study.duty.supply.current_peak
    try:
        model = field_model(machine, magnet_temperature=study.duty.temperatures.magnet_rated)
        factor = Factor(model.system.columns, model.system.rows, model.system.plan)
        torque = 0.0
        for share, degrees in ((0.0, 0.0), (1.0, 40.0), (1.0, 90.0)):
            i_d, i_q = dq(share * current, degrees)
            psi_d, psi_q = mean_linkages(model, i_d, i_q, machine, factor)
            torque = max(torque, psi_d * i_q - psi_q * i_d)
    except InfeasibleDesignError as error:
        return f"infeasible: {error.reason}"
    except SolverError as error:
        return f"failed: {str(error).split(':')[0]}"
    except ModelError as error:
        return f"unnamed: {error}"
    return "ok" if np.isfinite(torque) and torque > 0.0 else "unnamed: no torque"
