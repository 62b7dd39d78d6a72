"""The only door to the models: a table of parameters and a duty in, an `Evaluation` out."""

from collections.abc import Callable, Mapping
from math import isfinite

from models.circuit.model import CircuitModel
from models.duty import Duty
from models.errors import InfeasibleDesignError, InvalidInputError, ModelError
from models.evaluation import Evaluation
from models.field import FieldMagnetics
from models.field.cage_maps import CageFieldModel
from models.geometry.build import build
from models.induction.model import CageModel
from models.machine import Machine, ParameterValue
from models.magnetics import MagneticModel
from models.performance.summary import Performance, metrics, perform

MODELS: tuple[str, ...] = ("circuit", "field")

_MAKERS: Mapping[str, Callable[[Machine], MagneticModel]] = {
    "circuit": CircuitModel.of,
    "field": FieldMagnetics.of,
}
_OWN_MAKERS: Mapping[tuple[str, str], Callable[[Machine], MagneticModel]] = {
    # (family, model) of families whose rotor carries currents: they bring their own
    ("cage", "circuit"): CageModel.of,
    ("cage", "field"): CageFieldModel.of,
}


def evaluate(
    parameters: Mapping[str, ParameterValue],
    duty: Duty,
    *,
    family: str = "interior",
    model: str = "circuit",
) -> Evaluation:
    """Put a design through a model.

    Parameters
    ----------
    parameters : mapping
        Machine parameters in SI by name of `models.nomenclature.PARAMETERS`; missing ones take
        their defaults.
    duty : Duty
        What the machine must do.
    family : str
        Rotor family.
    model : {"circuit", "field"}
        Magnetic model.

    Returns
    -------
    Evaluation
        `ok` with every metric but the cost, `infeasible` with a named reason when there is no
        such machine, or `failed` when a solution broke down.

    Raises
    ------
    InvalidInputError
        The caller's mistake: unknown parameter, material, family or model.
    """
    try:
        result = perform_design(parameters, duty, family=family, model=model)
        values = metrics(result)
    except InfeasibleDesignError as error:
        return Evaluation("infeasible", model, reason=error.reason, message=error.message)
    except InvalidInputError:
        raise
    except (ModelError, ArithmeticError) as error:
        return Evaluation(
            "failed", model, reason="solver", message=f"{type(error).__name__}: {error}"
        )
    unusable = sorted(name for name, value in values.items() if not isfinite(value))
    if unusable:
        # Thermal runaway at the continuous load is the one way to an infinite metric.
        return Evaluation(
            "infeasible",
            model,
            reason="thermal_runaway" if "temperature" in unusable[0] else "metric_not_finite",
            message=f"not finite: {', '.join(unusable)}; the losses exceed what can be cooled away",
        )
    return Evaluation("ok", model, metrics=values)


def perform_design(
    parameters: Mapping[str, ParameterValue],
    duty: Duty,
    *,
    family: str = "interior",
    model: str = "circuit",
) -> Performance:
    """Return everything about a design, for reports and exports.

    Raises
    ------
    InfeasibleDesignError, InvalidInputError, SolverError
        See `evaluate`, which turns all but the second into outcomes.
    """
    machine = build(parameters, family=family)
    return perform(machine, duty, magnetic_model(machine, model))


def magnetic_model(machine: Machine, model: str) -> MagneticModel:
    """Return the magnetic model of that name for a machine."""
    if model not in MODELS:
        raise InvalidInputError(f"unknown model {model!r}; allowed: {', '.join(MODELS)}")
    return _OWN_MAKERS.get((machine.family, model), _MAKERS[model])(machine)
