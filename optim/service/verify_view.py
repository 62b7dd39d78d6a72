"""Verification as tables for a terminal and as documents."""

from dataclasses import asdict
from typing import Any

from rich.table import Table
from rich.text import Text

from models.nomenclature import METRICS
from optim.export.notation import metric_text
from optim.service.documents import Document, document, margin_entries, metric_entries
from optim.service.tables import plain_table
from optim.service.verified import Difference, Member, Verification, difference, difference_unit
from optim.study.change import limit_text

_STYLE = {"kept": "green", "misses a limit": "red", "failed": "red", "no machine": "red"}


def differences_view(result: Verification) -> Table:
    """Return how far the field model is from the circuit model, one row a metric."""
    table = plain_table()
    table.add_column("field less circuit")
    for name in ("mean", "median size", "largest size"):
        table.add_column(name, justify="right")
    table.add_column("at candidate", justify="right")
    for d in result.differences:
        cells = [f"{d.mean:+.2f} {d.unit}", *(_size(d, v) for v in (d.median, d.largest))]
        table.add_row(d.metric, *cells, str(d.worst))
    return table


def members_view(result: Verification, *, top: int | None = None) -> Table:
    """Return what becomes of each verified member, in the order found."""
    table = plain_table()
    table.add_column("candi-\ndate", justify="right")
    table.add_column("rank", justify="right")
    table.add_column("by field", justify="right")
    table.add_column("outcome")
    shown = result.verified[:top]
    closed = [m.candidate.metrics.get("bridge_safety_factor") for m in shown]
    has_bridges = any(factor is not None for factor in closed)
    if has_bridges:
        table.add_column("safety factor\nclosed form", justify="right")
        table.add_column("plane\nstress", justify="right")
    for member, factor in zip(shown, closed):
        factors = (_factor(factor), _factor(member.sheet_safety_factor)) if has_bridges else ()
        table.add_row(
            str(member.candidate.number),
            str(member.candidate.rank),
            "-" if member.rank is None else str(member.rank),
            Text(fate_text(member), style=_STYLE.get(member.fate, "")),
            *factors,
        )
    return table


def both_view(member: Member) -> Table:
    """Return a member's metrics by both models where they differ."""
    table = plain_table()
    table.add_column("metric")
    for name in ("circuit", "field", "difference"):
        table.add_column(name, justify="right")
    for name, value in member.metrics.items():
        first = member.candidate.metrics.get(name)
        if first is None or first == value:
            continue
        table.add_row(name, metric_text(name, first), metric_text(name, value),
                      _change(name, first, value))  # fmt: skip
    if member.sheet_safety_factor is not None:
        first = member.candidate.metrics["bridge_safety_factor"]
        second = member.sheet_safety_factor
        table.add_row("bridge_safety_factor (plane stress)", _factor(first), _factor(second),
                      _change("bridge_safety_factor", first, second))  # fmt: skip
    return table


def fate_text(member: Member) -> str:
    """Return what becomes of a member in words, with the limits it misses and by how much."""
    if member.fate == "misses a limit":
        missed = [
            f"{limit_text(m.limit)} by {-100.0 * m.share:.1f} % "
            f"({metric_text(m.limit.metric, m.value)})"
            for m in member.missed
        ]
        return "dropped: misses " + ", ".join(missed)
    if member.fate == "dominated":
        return "dominated by another member at field values"
    if member.evaluation is not None and member.evaluation.status != "ok":
        return f"dropped: {member.fate}, {member.evaluation.reason}: {member.evaluation.message}"
    return member.fate


def verification_document(result: Verification, failed: dict[int, str]) -> Document:
    """Return the document of `verify`."""
    return document("verification", **verification_entries(result), failed=[
        {"candidate": number, "message": message} for number, message in failed.items()
    ])  # fmt: skip


def verification_entries(result: Verification) -> Document:
    """Return a verification as entries of a document."""
    return {
        "run": result.front.run_id,
        "study": result.front.study.name,
        "size": len(result.members),
        "verified": len(result.verified),
        "kept": len(result.by_field.candidates),
        "differences": [asdict(d) for d in result.differences],
        "members": [member_entries(m) for m in result.verified],
    }


def member_entries(member: Member | None) -> dict[str, Any] | None:
    """Return a member's field values as entries; None if it is not verified."""
    if member is None or member.evaluation is None:
        return None
    return {
        "candidate": member.candidate.number,
        "rank": member.candidate.rank,
        "rank_by_field": member.rank,
        "outcome": member.fate,
        "reason": member.evaluation.reason,
        "message": member.evaluation.message,
        "metrics": metric_entries(member.metrics),
        "metrics_si": dict(member.metrics),
        "metrics_si_circuit": {n: member.candidate.metrics[n] for n in METRICS
                               if n in member.candidate.metrics},
        "limits": [margin_entries(m) for m in member.margins],
        "plane_stress_safety_factor": member.sheet_safety_factor,
    }  # fmt: skip


def _change(name: str, first: float, second: float) -> str:
    value = difference(name, first, second)
    return "from zero" if value is None else f"{value:+.2f} {difference_unit(name)}"


def _size(d: Difference, value: float) -> str:
    return f"{value:.2f} {d.unit}"


def _factor(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"
