"""An explanation as tables for a terminal and as entries of a document."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from models.nomenclature import METRICS
from optim.export.drive_tables import RPM
from optim.export.notation import parameter_text
from optim.export.plots.loss_split import PARTS
from optim.service.documents import metric_entries, parameter_shown
from optim.service.explaining import ANGLES, Explanation, Step
from optim.service.tables import change_text, margin_view, plain_table
from optim.study.model import Study

_PART_NAMES = {
    "winding_dc": "winding DC",
    "winding_ac": "winding AC",
    "iron": "iron",
    "mechanical": "friction",
}
ALSO = ("peak_torque", "base_speed", "back_emf_line_peak", "cycle_efficiency", "cycle_loss_magnet")
"""Metrics of a step that are shown beside the study's objectives."""


def explanation_view(found: Explanation, study: Study) -> list[RenderableType]:
    """Return the tables of an explanation with a line above each."""
    return [
        "",
        "torque at the largest current, against the current angle from the q to the d axis",
        "",
        _torque_table(found),
        "",
        "along the envelope at nominal DC voltage",
        "",
        _speed_table(found),
        "",
        "loss by part [W]",
        "",
        _loss_table(found),
        "",
        "one step away, each evaluated",
        "",
        *_steps_tables(found, study),
    ]


def explanation_entries(found: Explanation, study: Study) -> dict[str, Any]:
    """Return an explanation as entries of a document, in the units of the keys."""
    torque, speeds = found.torque, found.speeds
    return {
        "torque_by_angle": [
            {"angle_deg": a, "total_nm": t, "magnet_nm": m, "reluctance_nm": r}
            for a, t, m, r in zip(
                _rounded(np.degrees(torque.angle)), _rounded(torque.total),
                _rounded_or_none(torque.magnet), _rounded_or_none(torque.reluctance),
            )
        ],
        "by_speed": [
            {"speed_rpm": n, "back_emf_line_peak_v": e, "phase_current_a": i, "i_d_a": d,
             "shaft_torque_nm": t}
            for n, e, i, d, t in zip(
                _rounded(speeds.speed * RPM), _rounded(speeds.back_emf), _rounded(speeds.current),
                _rounded(speeds.field_current), _rounded(speeds.torque),
            )
        ],
        "losses_w": [
            {"at": case.name, "condition": case.condition,
             **dict(zip(PARTS, _rounded(case.parts))), "total": case.total}
            for case in found.losses
        ],
        "steps": [_step_entries(step, study) for step in found.steps],
    }  # fmt: skip


def shown_metrics(study: Study, metrics: Mapping[str, float]) -> tuple[str, ...]:
    """Return the metrics a step is told by: the objectives, then the ever telling ones."""
    names = dict.fromkeys((*(o.metric for o in study.objectives), *ALSO))
    return tuple(name for name in names if name in metrics)


def _rounded(values: Sequence[float] | np.ndarray[Any, Any]) -> list[float]:
    return [float(f"{float(v):.6g}") for v in values]


def _rounded_or_none(values: np.ndarray[Any, Any] | None) -> Sequence[float | None]:
    return [None] * ANGLES if values is None else _rounded(values)


def _whole(value: float) -> str:
    return f"{round(value)}"  # no minus before a zero


def _torque_table(found: Explanation) -> Table:
    table = plain_table()
    parts = found.torque
    table.add_column("angle [deg]")
    for degrees in np.degrees(parts.angle):
        table.add_column(f"{degrees:.0f}", justify="right")
    best = int(np.argmax(parts.total))
    rows = (("total", parts.total), ("magnets", parts.magnet), ("reluctance", parts.reluctance))
    for name, values in rows:
        if values is None:
            continue
        cells = [_whole(v) for v in values]
        marked = [
            Text(cell, style="bold" if name == "total" and k == best else "")
            for k, cell in enumerate(cells)
        ]
        table.add_row(f"{name} [N·m]", *marked)
    return table


def _speed_table(found: Explanation) -> Table:
    line = found.speeds
    table = plain_table()
    table.add_column("speed [r/min]")
    for speed in line.speed * RPM:
        table.add_column(f"{speed:.0f}", justify="right")
    for name, values in (
        ("back-EMF, line peak, warm magnets [V]", line.back_emf),
        ("phase current [A rms]", line.current),
        ("of it on the d axis [A peak]", line.field_current),
        ("shaft torque [N·m]", line.torque),
        ("shaft power [kW]", line.torque * line.speed / 1e3),
    ):
        if np.any(values):  # a cage has no back-EMF
            table.add_row(name, *(_whole(v) for v in values))
    return table


def _loss_table(found: Explanation) -> Table:
    table = plain_table()
    table.add_column("state")
    for part in PARTS:
        table.add_column(_PART_NAMES.get(part, found.losses[0].rotor), justify="right")
    table.add_column("total", justify="right")
    for case in found.losses:
        cells = [f"{v:.0f}" for v in case.parts]
        table.add_row(f"{case.name.lower()}\n  {case.condition}", *cells, f"{case.total:.0f}")
    return table


def _steps_tables(found: Explanation, study: Study) -> list[RenderableType]:
    table = plain_table()
    table.add_column("")
    base = found.base.metrics
    for step in found.steps:
        table.add_column(step.name, justify="right", max_width=14)
    for name in shown_metrics(study, base):
        # what a family has not is zero throughout
        if not (base[name] or any(step.result.metrics.get(name) for step in found.steps)):
            continue
        cells = [
            change_text(base[name], step.result.metrics.get(name), METRICS[name])
            for step in found.steps
        ]
        table.add_row(name, *cells)
    table.add_row("tightest limit", *(_tightest(step) for step in found.steps))
    return [table, "", *(f"{step.name}: {_sets(step)}" for step in found.steps)]


def _sets(step: Step) -> str:
    return ", ".join(f"{n} {parameter_text(n, v)}" for n, v in step.changed.items())


def _tightest(step: Step) -> RenderableType:
    result = step.result
    if result.evaluation.status != "ok":
        return result.evaluation.reason.replace("_", " ")
    if not result.margins:
        return "-"
    tightest = result.margins[0]
    name = METRICS[tightest.limit.metric].name.replace("_", " ")
    if tightest.share < -1.0:  # far outside: the share says nothing any more
        return Text.assemble((f"{name}\n", ""), ("missed by far", "red"))
    return Text.assemble((f"{name}\n", ""), margin_view(tightest))


def _step_entries(step: Step, study: Study) -> dict[str, Any]:
    result = step.result
    return {
        "step": step.name,
        "sets": parameter_shown(step.changed),
        "status": result.evaluation.status,
        "reason": result.evaluation.reason,
        "metrics": metric_entries(
            {n: result.metrics[n] for n in shown_metrics(study, result.metrics)}
        ),
        "tightest_limit": result.margins[0].limit.metric if result.margins else None,
        "margin_share": result.margins[0].share if result.margins else None,
    }
