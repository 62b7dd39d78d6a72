"""One design through both models, read at the same currents."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.circuit.model import CircuitModel
from models.circuit.solution import linkages, solve
from models.duty import Duty
from models.errors import ModelError
from models.evaluate import magnetic_model
from models.geometry.build import build
from models.induction.model import CageModel
from models.machine import ParameterValue
from models.magnetics import MagneticModel
from models.performance.summary import metrics, perform

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class BothModels:
    """What both models say of one design.

    Attributes
    ----------
    i_d, i_q : ndarray, shapes (n_d,), (n_q,)
        Currents of the field model's map, at which the circuit is solved too [A].
    circuit_psi, field_psi : ndarray, shape (2, n_d, n_q)
        psi_d and psi_q [Wb].
    circuit_torque, field_torque : ndarray, shape (n_d, n_q)
        Air-gap torque by the cross product of linkages and currents [N*m].
    circuit_metrics, field_metrics : mapping
        Every metric [SI], each from the model's own map.
    """

    i_d: Array
    i_q: Array
    circuit_psi: Array
    field_psi: Array
    circuit_torque: Array
    field_torque: Array
    circuit_metrics: Mapping[str, float]
    field_metrics: Mapping[str, float]


def both_models(parameters: Mapping[str, ParameterValue], duty: Duty, family: str) -> BothModels:
    """Put a design through both models."""
    machine = build(parameters, family=family)
    circuit, field = (magnetic_model(machine, name) for name in ("circuit", "field"))
    by_circuit, by_field = perform(machine, duty, circuit), perform(machine, duty, field)
    maps = by_field.drive.maps
    i_d, i_q = maps.i_d, maps.i_q
    psi = circuit_linkages(circuit, i_d, i_q, maps.magnet_temperature)
    field_psi = np.stack((maps.psi_d, maps.psi_q))

    def torque(linkage: Array) -> Array:
        cross = linkage[0] * i_q - linkage[1] * i_d[:, None]
        return np.asarray(1.5 * machine.pole_pairs * cross)

    return BothModels(
        i_d=i_d,
        i_q=i_q,
        circuit_psi=psi,
        field_psi=field_psi,
        circuit_torque=torque(psi),
        field_torque=torque(field_psi),
        circuit_metrics=metrics(by_circuit),
        field_metrics=metrics(by_field),
    )


def circuit_linkages(model: MagneticModel, i_d: Array, i_q: Array, temperature: float) -> Array:
    """Return psi_d and psi_q [Wb] of a circuit model at given currents, shape (2, n_d, n_q)."""
    if isinstance(model, CageModel):
        maps = model.maps_over((i_d, i_q), temperature=temperature).maps
        return np.stack((maps.psi_d, maps.psi_q))
    assert isinstance(model, CircuitModel)
    solution = solve(model.circuit, i_d, i_q, magnet_temperature=temperature)
    return np.mean(linkages(model.circuit, solution.potentials, i_d, i_q), axis=1)


def both_or_reason(
    parameters: Mapping[str, ParameterValue], *, duty: Duty, family: str
) -> BothModels | str:
    """Return the result of `both_models`, or what went wrong where a model has no result."""
    try:
        return both_models(parameters, duty, family)
    except ModelError as error:
        return f"{type(error).__name__}: {error}"
