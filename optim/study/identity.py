"""Names of designs and studies that depend on their content only.

Keys are SHA-256 over JSON with sorted names and shortest round-trip floats, so they are the same
on every machine, and differ as soon as one bit of a number differs.
"""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from hashlib import sha256
from math import isfinite

import numpy as np

from models import PHYSICS_VERSION
from models.duty import DriveCycle, Duty
from models.machine import ParameterValue
from models.nomenclature import PARAMETERS
from optim.errors import VectorError
from optim.study.model import Study


def design_key(
    family: str, parameters: Mapping[str, ParameterValue], *, duty: Duty, model: str
) -> str:
    """Return the key under which an evaluation is stored, 64 hexadecimal digits.

    It covers everything that changes the metrics: family, parameters, duty, model and the version
    of the physics. Limits, objectives, prices and budget are left out, so that a tighter study
    finds what is already known.

    Parameters
    ----------
    family : str
        Rotor family.
    parameters : mapping
        Full parameter table (SI). Whole numbers given as float are the same design.
    duty : Duty
        What the machine must do; the cycle's name does not matter, its values do.
    model : str
        Name of the model.

    Raises
    ------
    VectorError
        If a number is not finite.
    """
    content = {
        "physics": PHYSICS_VERSION,
        "family": family,
        "parameters": {name: _parameter(name, value) for name, value in parameters.items()},
        "duty": duty_digest(duty),
        "model": model,
    }
    return _digest(content)


def study_digest(study: Study) -> str:
    """Return a digest of everything that decides a run's result, 64 hexadecimal digits.

    Name, title and the text of the file are left out.
    """
    content = {
        "physics": PHYSICS_VERSION,
        **{
            f.name: _plain(getattr(study, f.name))
            for f in fields(study)
            if f.name not in ("name", "title", "text", "duty")
            and (f.name != "spaces" or study.spaces)
        },
        "duty": duty_digest(study.duty),
    }
    return _digest(content)


@lru_cache(maxsize=64)
def duty_digest(duty: Duty) -> str:
    """Return a digest of a duty's values, 64 hexadecimal digits; the cycle's name is left out."""
    # A duty is frozen and compared by identity, so it can be its own cache key: a cycle of
    # thousands of values is written out once, not for every design.
    return _digest(_plain(duty))


def _digest(content: object) -> str:
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return sha256(text.encode()).hexdigest()


def _parameter(name: str, value: ParameterValue) -> object:
    known = PARAMETERS.get(name)
    if known is not None and known.kind == "real" and not isinstance(value, str):
        return _plain(float(value))
    if known is not None and known.kind == "integer" and float(value) == int(value):
        return int(value)
    return _plain(value)


def _plain(value: object) -> object:
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        if not isfinite(value):
            raise VectorError(f"given {value} in a design; allowed: finite numbers")
        return float(value) + 0.0  # -0.0 is 0.0
    if isinstance(value, np.ndarray):
        return [_plain(v) for v in value.tolist()]
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    if is_dataclass(value):
        skip = {"name"} if isinstance(value, DriveCycle) else set()
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.name not in skip}
    raise VectorError(f"given a {type(value).__name__} in a design; allowed: numbers and words")
