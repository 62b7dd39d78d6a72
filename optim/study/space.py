"""Designs as rows of one numeric matrix, and back to parameter tables.

A vector has one entry per variable, in the study's order: the SI value of a real or integer
variable, the index of a choice. Equal designs have equal canonical vectors, bit for bit.
"""

from collections.abc import Mapping
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.machine import ParameterValue
from models.nomenclature import PARAMETERS
from optim.errors import VectorError
from optim.study.model import Variable

Array = NDArray[np.float64]

FAMILY = "family"
"""Name under which a parameter table of a study of several families carries its family."""

GRID_TOLERANCE = 1e-6
"""Share of a step by which a value may miss the grid of an integer variable and still be it."""


class DesignSpace(Protocol):
    """One family's variables and fixed parameters. A `Study` is one."""

    @property
    def family(self) -> str:
        """Rotor family."""

    @property
    def fixed(self) -> Mapping[str, ParameterValue]:
        """Parameters that do not vary, SI."""

    @property
    def variables(self) -> tuple[Variable, ...]:
        """Variables in the order of the vector."""


def bounds(space: DesignSpace) -> tuple[Array, Array]:
    """Return lowest and highest vector, each of shape (n_variables,)."""
    low = np.array([v.low for v in space.variables], dtype=float)
    high = np.array([v.high for v in space.variables], dtype=float)
    return low, high


def levels(variable: Variable) -> int:
    """Return the number of values a variable can take; 0 for a real one."""
    if variable.kind == "real":
        return 0
    step = 1.0 if variable.kind == "choice" else variable.step
    return round((variable.high - variable.low) / step) + 1


def canonical(space: DesignSpace, vectors: ArrayLike) -> Array:
    """Return vectors moved into bounds and onto the grid.

    Parameters
    ----------
    space : DesignSpace
        The study.
    vectors : array_like, shape (n_variables,) or (n, n_variables)
        Finite numbers.

    Returns
    -------
    ndarray
        Same shape. Applying the function again changes nothing.

    Raises
    ------
    VectorError
        For a wrong length or a value that is not finite.
    """
    out = np.array(vectors, dtype=float)
    if out.ndim not in (1, 2) or out.shape[-1] != len(space.variables):
        raise VectorError(
            f"design vector: given shape {out.shape}; allowed: {len(space.variables)} values, "
            f"one for each of {', '.join(v.name for v in space.variables)}"
        )
    if not np.all(np.isfinite(out)):
        raise VectorError("design vector: given a value that is not finite; allowed: numbers")
    low, high = bounds(space)
    out = np.asarray(np.clip(out, low, high), dtype=float)
    for k, variable in enumerate(space.variables):
        if variable.kind != "real":
            step = 1.0 if variable.kind == "choice" else variable.step
            count = np.rint((out[..., k] - variable.low) / step)
            # The sum may pass the bound by a rounding error: the bound itself is the last value.
            out[..., k] = np.minimum(variable.low + count * step, variable.high)
    out += 0.0  # turns -0.0 into 0.0
    return out


def decode(space: DesignSpace, vector: ArrayLike) -> dict[str, ParameterValue]:
    """Return the full parameter table of a vector.

    Parameters
    ----------
    space : DesignSpace
        The study.
    vector : array_like, shape (n_variables,)
        Any finite numbers; the canonical form is decoded.

    Returns
    -------
    dict
        Every parameter of the family: int, float (SI) or str by its kind.

    Raises
    ------
    VectorError
        For a wrong length or a value that is not finite.
    """
    spaces = _spaces(space)
    if spaces:
        whole = np.asarray(vector, dtype=float)
        k = _place(spaces, whole)
        return {FAMILY: spaces[k].family, **decode(spaces[k], whole[1:])}
    row = canonical(space, vector)
    if row.ndim != 1:
        raise VectorError(f"design vector: given shape {row.shape}; allowed: one row")
    out = dict(space.fixed)
    for variable, value in zip(space.variables, row):
        if variable.kind == "choice":
            out[variable.name] = variable.choices[int(value)]
        else:
            out[variable.name] = typed(variable.name, float(value))
    return out


def encode(space: DesignSpace, parameters: Mapping[str, ParameterValue]) -> Array:
    """Return the canonical vector of a parameter table, shape (n_variables,).

    Raises
    ------
    VectorError
        If a value is missing, out of bounds, off the grid or not among the choices.
    """
    spaces = _spaces(space)
    if spaces:
        names = [s.family for s in spaces]
        if parameters.get(FAMILY) not in names:
            raise VectorError(
                f"family: given {parameters.get(FAMILY)!r}; allowed: {', '.join(names)}"
            )
        place = names.index(str(parameters[FAMILY]))
        return np.concatenate([[float(place)], encode(spaces[place], parameters)])
    out = np.empty(len(space.variables))
    for k, variable in enumerate(space.variables):
        if variable.name not in parameters:
            raise VectorError(f"{variable.name}: given nothing; allowed: {allowed(variable)}")
        out[k] = _encode_one(variable, parameters[variable.name])
    return canonical(space, out)


def contains(space: DesignSpace, parameters: Mapping[str, ParameterValue]) -> bool:
    """Return whether a parameter table is a design of this space, fixed parameters included."""
    for own in _spaces(space):
        if own.family == parameters.get(FAMILY):
            return contains(own, parameters)
    if any(parameters.get(name) != value for name, value in space.fixed.items()):
        return False
    try:
        encode(space, parameters)
    except VectorError:
        return False
    return True


def _spaces(space: DesignSpace) -> tuple[DesignSpace, ...]:
    """Return the spaces of a study of several families, else nothing."""
    return tuple(getattr(space, "spaces", ()))


def _place(spaces: tuple[DesignSpace, ...], vector: Array) -> int:
    """Return the place of a vector's family."""
    if vector.ndim != 1 or not len(vector) or vector[0] not in range(len(spaces)):
        raise VectorError(
            f"design vector: given shape {vector.shape} beginning {vector.ravel()[:1]}; allowed: "
            f"one row that begins with the place of its family, 0 to {len(spaces) - 1}"
        )
    return int(vector[0])


def sample(space: DesignSpace, generator: np.random.Generator, *, count: int) -> Array:
    """Return independent uniform random designs, shape (count, n_variables), canonical.

    Grid values and choices are equally likely each.
    """
    out = np.empty((count, len(space.variables)))
    for k, variable in enumerate(space.variables):
        if variable.kind == "real":
            out[:, k] = generator.uniform(variable.low, variable.high, count)
        else:
            step = 1.0 if variable.kind == "choice" else variable.step
            out[:, k] = variable.low + step * generator.integers(0, levels(variable), count)
    return canonical(space, out)


def typed(name: str, value: float) -> ParameterValue:
    """Return a parameter's value as int where its kind is integer, else as float."""
    return round(value) if PARAMETERS[name].kind == "integer" else float(value)


def allowed(variable: Variable) -> str:
    """Return in words, with units, what a variable may be."""
    if variable.kind == "choice":
        return "one of " + ", ".join(str(c) for c in variable.choices)
    parameter = PARAMETERS[variable.name]
    low, high = variable.low * parameter.shown_factor, variable.high * parameter.shown_factor
    text = f"{low:g} to {high:g} {parameter.shown_unit}".rstrip()
    if variable.kind == "integer":
        text += f" in steps of {variable.step * parameter.shown_factor:g}"
    return text


def _encode_one(variable: Variable, value: ParameterValue) -> float:
    if variable.kind == "choice":
        if value in variable.choices:
            return float(variable.choices.index(value))
    elif isinstance(value, (int, float, np.integer, np.floating)):
        slack = GRID_TOLERANCE * (variable.step or (variable.high - variable.low) * 1e-6)
        if variable.low - slack <= value <= variable.high + slack:
            offset = (float(value) - variable.low) / variable.step if variable.step else 0.0
            if abs(offset - round(offset)) <= GRID_TOLERANCE:
                return float(value)
    raise VectorError(f"{variable.name}: given {value!r}; allowed: {allowed(variable)}")
