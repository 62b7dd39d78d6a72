"""Two-dimensional finite-element field model: mesh, harmonic air gap, Newton, results."""

from models.field.factor import Factor
from models.field.machine_field import (
    FieldModel,
    FieldPoint,
    field_model,
    model_of_section,
    solve_point,
)
from models.field.magnetics import FieldMagnetics
from models.field.sizing import Resolution

__all__ = [
    "Factor",
    "FieldMagnetics",
    "FieldModel",
    "FieldPoint",
    "Resolution",
    "field_model",
    "model_of_section",
    "solve_point",
]
