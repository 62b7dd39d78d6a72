"""A driver's progress as text in the database, and back."""

import json
import math
from dataclasses import asdict, fields

from optim.jobs.progress import Progress

NO_PROGRESS = Progress(
    told=0,
    asked=0,
    budget=0,
    feasible=0,
    infeasible=0,
    failed=0,
    rate=math.nan,
    front_size=0,
    hypervolume=math.nan,
    elapsed=0.0,
    eta=math.nan,
)
"""What is known of a job before its driver's first report."""


def progress_to_text(progress: Progress) -> str:
    """Return progress as JSON; numbers that are not known are left out."""
    values = {
        name: value
        for name, value in asdict(progress).items()
        if not (isinstance(value, float) and not math.isfinite(value))
    }
    return json.dumps(values, separators=(",", ":"))


def progress_from_text(text: str) -> Progress:
    """Return the progress that a text holds; an empty text is no progress yet."""
    if not text:
        return NO_PROGRESS
    values = json.loads(text)
    names = [field.name for field in fields(Progress)]
    return Progress(**{name: values.get(name, getattr(NO_PROGRESS, name)) for name in names})
