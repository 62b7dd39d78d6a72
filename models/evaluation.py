"""The outcome of putting a design through a model."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Status = Literal["ok", "infeasible", "failed"]


@dataclass(frozen=True)
class Evaluation:
    """Outcome of one design through one model.

    Attributes
    ----------
    status : {"ok", "infeasible", "failed"}
        `ok`: metrics are complete. `infeasible`: no such machine, see reason. `failed`: an error
        occurred, see reason and message.
    model : str
        `circuit`, `field` or `surrogate`.
    metrics : mapping of str to float
        SI values by metric name; empty unless ok. Every value is finite. `cost` is not among
        them: it is priced from the stored quantities with a study's price list
        (`models.cost.price`), so that a new price list needs no new evaluation.
    reason : str
        Stable short name of the reason (`magnet_too_short`), empty when ok.
    message : str
        One sentence for people, empty when ok.
    """

    status: Status
    model: str
    metrics: Mapping[str, float] = field(default_factory=dict)
    reason: str = ""
    message: str = ""
