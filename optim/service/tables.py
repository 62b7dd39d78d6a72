"""Tables of fronts, candidates and comparisons for a terminal of 80 columns and more."""

import math
from collections.abc import Mapping, Sequence
from textwrap import wrap

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from models.machine import ParameterValue
from models.nomenclature import METRICS, PARAMETERS, Metric, Parameter
from optim.export.notation import metric_text, name_text, number_text, parameter_text, unit_text
from optim.ranking.binding import Margin
from optim.ranking.front import Candidate
from optim.service.checking import CheckResult
from optim.service.comparing import Comparison
from optim.service.designs import Assessment
from optim.service.results import FrontResult
from optim.service.wording import count_text, duration_text, share_text
from optim.store.contract import RunRecord
from optim.study.change import limit_text
from optim.study.families import family_of, family_spaces
from optim.study.model import Objective, Study, Variable

RANKED_BY = {"weights": "weighted compromise", "goals": "goals", "knee": "knee"}
_HEADING_WIDTH = 10
_QUIET, _STRONG, _GOOD, _NEAR, _BAD = "dim", "bold", "green", "yellow", "red"


def plain_table() -> Table:
    """Return a table without lines, its headings underlined by their weight alone."""
    return Table(box=None, pad_edge=False, header_style=_STRONG, padding=(0, 2, 0, 0))


def front_view(
    front: FrontResult,
    *,
    top: int = 10,
    sources: Mapping[int, tuple[str, int]] | None = None,
    outcomes: Mapping[int, str] | None = None,
) -> Table:
    """Return the best ranked candidates as a table.

    Parameters
    ----------
    front : FrontResult
        Not empty.
    top : int
        Rows at most.
    sources : mapping, optional
        Run and number behind each candidate, where they come from several runs.
    outcomes : mapping, optional
        What the field model says of each candidate, where it was asked.
    """
    shown = front.candidates[:top]
    objectives = front.study.objectives
    table = plain_table()
    table.add_column("rank", justify="right", no_wrap=True)
    table.add_column("candi-\ndate", justify="right", no_wrap=True)
    if front.study.spaces:
        table.add_column("family", no_wrap=True)
    for objective in objectives:
        table.add_column(Text(heading(objective)), justify="right", no_wrap=True)
    if front.study.limits:
        table.add_column("tightest limit", min_width=14)
        table.add_column("margin", justify="right", no_wrap=True)
    if outcomes is not None:
        table.add_column("field\nmodel", no_wrap=True)
    columns = [aligned([METRICS[o.metric].shown(c.metrics[o.metric]) for c in shown])
               for o in objectives]  # fmt: skip
    for k, c in enumerate(shown):
        cells: list[RenderableType] = [str(c.rank), _label(c, front, sources)]
        if front.study.spaces:
            cells.append(family_of(front.study, c.parameters))
        cells += [column[k] for column in columns]
        if front.study.limits and not c.margins:
            cells += ["-", "-"]
        elif front.study.limits:
            tightest = c.margins[0]
            share = Text(f"{100.0 * tightest.share:.1f} %", style=_NEAR if tightest.binds else "")
            cells += [_lower(tightest.limit.metric), share]
        if outcomes is not None:
            cells.append(outcomes.get(c.number, "-"))
        table.add_row(*cells, style=_STRONG if k == 0 else "")
    return table


def heading(objective: Objective) -> str:
    """Return an objective's column heading with unit and the wanted direction."""
    metric = METRICS[objective.metric]
    unit = unit_text(metric.shown_unit)
    arrow = "↓" if objective.sense == "minimise" else "↑"
    words = wrap(_lower(metric.name), _HEADING_WIDTH, break_long_words=False)
    return "\n".join([*words, f"[{unit or '-'}] {arrow}"])


def counts_line(front: FrontResult) -> str:
    """Return how the evaluations of a run came out, in one line."""
    c = front.counts
    return (
        f"{count_text(c.total)} evaluations: {count_text(c.feasible)} feasible, "
        f"{count_text(c.outside_limits)} outside a limit, {count_text(c.no_machine)} no machine, "
        f"{count_text(c.failed)} failed"
    )


def stops_view(front: FrontResult) -> Table:
    """Return which limits stop how many designs."""
    table = plain_table()
    table.add_column("limit")
    table.add_column("stops", justify="right")
    table.add_column("alone", justify="right")
    table.add_column("nearest miss", justify="right")
    for stop in front.stops:
        if stop.stopped:
            table.add_row(
                limit_text(stop.limit), count_text(stop.stopped), count_text(stop.stopped_alone),
                f"{100.0 * stop.smallest_miss:.1f} %",
            )  # fmt: skip
    return table


def least_view(front: FrontResult) -> Table:
    """Return the least infeasible designs with the limits they miss."""
    table = plain_table()
    table.add_column("candidate", justify="right")
    table.add_column("limits it misses")
    for entry, judgement in front.least:
        violations = () if judgement.violations is None else tuple(judgement.violations)
        missed = [
            f"{_lower(limit.metric)} by {100.0 * float(v):.1f} %"
            for limit, v in zip(front.study.limits, violations) if v > 0.0
        ]  # fmt: skip
        table.add_row(str(entry.number), ", ".join(missed))
    return table


def margins_view(margins: Sequence[Margin]) -> Table:
    """Return the limits with value, bound and margin, tightest first."""
    table = plain_table()
    table.add_column("limit")
    table.add_column("value", justify="right")
    table.add_column("margin", justify="right")
    for margin in margins:
        table.add_row(
            limit_text(margin.limit),
            metric_text(margin.limit.metric, margin.value),
            margin_view(margin),
        )
    return table


def margin_view(margin: Margin) -> Text:
    """Return a margin in percent, told apart by word as well as colour."""
    share = f"{100.0 * margin.share:.1f} %"
    if not margin.is_met:
        return Text(f"missed {share}", style=_BAD)
    return Text(f"binds {share}", style=_NEAR) if margin.binds else Text(share, style=_GOOD)


def parameters_view(study: Study | None, parameters: Mapping[str, ParameterValue]) -> Table:
    """Return the parameters that vary with their ranges, then the fixed ones of the family."""
    varied: dict[str, Variable] = {}
    for space in family_spaces(study) if study else ():
        # of several families the one whose parameters these are
        if not (study and study.spaces) or set(space.baseline) <= set(parameters):
            varied = {v.name: v for v in space.variables}
    table = plain_table()
    table.add_column("parameter")
    table.add_column("value", justify="right")
    table.add_column("range")
    for name in sorted(parameters, key=lambda n: (n not in varied, list(PARAMETERS).index(n))):
        if name == "magnet_grade" and "bars" in parameters:  # a cage carries none
            continue
        text = parameter_text(name, parameters[name])
        if name not in varied:
            table.add_row(name, text, "fixed", style=_QUIET)
            continue
        variable = varied[name]
        if variable.kind == "choice":
            span = ", ".join(str(choice) for choice in variable.choices)
        else:
            low, high = (parameter_text(name, _typed(name, v))
                         for v in (variable.low, variable.high))  # fmt: skip
            span = f"{low.split()[0]} to {high}"
        table.add_row(name, text, span)
    return table


def metrics_view(metrics: Mapping[str, float]) -> Table:
    """Return metrics with a mark where one is outside its plausible range."""
    table = plain_table()
    table.add_column("metric")
    table.add_column("value", justify="right")
    table.add_column("")
    for name, value in metrics.items():
        table.add_row(name, metric_text(name, value), _remark(METRICS[name], value))
    return table


def cost_view(result: Assessment) -> Table:
    """Return the cost by item."""
    table = plain_table()
    table.add_column("item")
    table.add_column("EUR", justify="right")
    table.add_column("share", justify="right")
    if result.cost is not None:
        for item, value in sorted(result.cost.items.items(), key=lambda pair: -pair[1]):
            if value == 0.0:  # magnets of a rotor without
                continue
            share = share_text(value, result.cost.total)
            table.add_row(_lower(item), f"{value:.2f}", share)
        table.add_row("total", f"{result.cost.total:.2f}", "", style=_STRONG)
    return table


def comparison_view(result: Comparison) -> Table:
    """Return two designs side by side: metrics, then the parameters in which they differ."""
    a, b = result.first, result.second
    table = plain_table()
    table.add_column("", no_wrap=True)
    for label in _heads(a.design.label, b.design.label):
        table.add_column(label, justify="right", overflow="fold")
    table.add_column("change", justify="right")
    if a.design.family != b.design.family:
        table.add_row("family", a.design.family, b.design.family, "")
    for name, metric in METRICS.items():
        if name not in a.metrics and name not in b.metrics:
            continue
        first, second = (x.metrics.get(name) for x in (a, b))
        cells = ["-" if v is None else metric_text(name, v) for v in (first, second)]
        table.add_row(name, *cells, change_text(first, second, metric))
    if result.differing:
        table.add_section()
        table.add_row("parameters that differ", style=_STRONG)
        for name, (value, other) in result.differing.items():
            table.add_row(name, parameter_text(name, value), parameter_text(name, other), "")
    if result.alone:
        table.add_section()
        table.add_row("parameters of one family only", style=_STRONG)
        for name, pair in result.alone.items():
            table.add_row(name, *("-" if v is None else parameter_text(name, v) for v in pair), "")
    return table


def _heads(first: str, second: str) -> tuple[str, str]:
    """Return the headings of two designs: of one run their numbers are enough."""
    runs = [label.rpartition(":")[0] for label in (first, second)]
    if runs[0] and runs[0] == runs[1]:
        one, other = ("candidate\n" + label.rpartition(":")[2] for label in (first, second))
        return one, other
    # the run's name, its mark, the number: each on a line of its own
    heads = [
        f"{run.rpartition('-')[0]}\n{run.rpartition('-')[2]}\n{label.rpartition(':')[2]}"
        if run else label
        for run, label in zip(runs, (first, second))
    ]  # fmt: skip
    return heads[0], heads[1]


def check_view(result: CheckResult) -> Table:
    """Return size, validity and expected duration of a study."""
    study, search = result.study, result.study.search
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    table.add_column(style=_QUIET)
    table.add_column()
    grid = f", others in {_power(result.grid_log10)} combinations" if result.grid_log10 else ""
    table.add_row(
        "space",
        f"{len(study.variables)} variables, {result.real_variables} of them continuous{grid}",
    )
    named = ", ".join(f"{reason} {count}" for reason, count in result.reasons.items())
    table.add_row(
        "sections",
        f"{result.valid} of {result.sampled} random designs are valid"
        + (f"; the others: {named}" if named else ""),
    )
    table.add_row("evaluation", f"{duration_text(result.evaluation_seconds)} for one design here")
    workers = "1 worker" if result.workers == 1 else f"{result.workers} workers"
    table.add_row(
        "run",
        f"{count_text(search.budget)} evaluations, about "
        f"{duration_text(result.duration_seconds)} with {workers}",
    )
    return table


def runs_view(runs: Sequence[tuple[RunRecord, int]]) -> Table:
    """Return the runs of a store, newest first."""
    table = plain_table()
    for name in ("run", "state"):
        table.add_column(name)
    table.add_column("evaluations", justify="right")
    table.add_column("driven", justify="right")
    table.add_column("rerun of")
    for record, count in reversed(runs):
        budget = record.settings.get("budget")
        done = (
            f"{count_text(count)} of {count_text(budget)}"
            if isinstance(budget, int)
            else (count_text(count))
        )
        table.add_row(record.run_id, record.state, done, duration_text(record.elapsed),
                      record.parent)  # fmt: skip
    return table


def _lower(name: str) -> str:
    words = name_text(name)
    return words[:1].lower() + words[1:]


def aligned(values: Sequence[float], digits: int = 4) -> list[str]:
    """Return numbers with equal decimals, so many that the largest has `digits` digits."""
    largest = max((abs(v) for v in values), default=0.0)
    decimals = 0 if largest <= 0.0 else max(0, digits - 1 - math.floor(math.log10(largest)))
    return [f"{v:.{decimals}f}" for v in values]


def _label(c: Candidate, front: FrontResult, sources: Mapping[int, tuple[str, int]] | None) -> str:
    if sources is None or sources[c.number][0] == front.run_id:
        return str(c.number)
    run_id, number = sources[c.number]
    return f"{run_id}:{number}"


def _remark(metric: Metric, value: float) -> Text:
    shown = metric.shown(value)
    if metric.low <= shown <= metric.high:
        return Text("")
    return Text(f"outside {metric.low:g} to {metric.high:g}", style=_NEAR)


def change_text(first: float | None, second: float | None, metric: Metric) -> Text:
    """Return how a metric changes, with a word for better or worse; empty where it does not."""
    if first is None or second is None or first == second:
        return Text("")
    if metric.shown_unit == "%":
        text = f"{metric.shown(second - first):+.2f} points"
    elif first == 0.0 or metric.shown_unit == "degC":
        change = metric.shown(second - first)
        unit = " K" if metric.shown_unit == "degC" else ""
        text = f"{'+' if change > 0 else ''}{number_text(change, 3)}{unit}"
    else:
        text = f"{100.0 * (second - first) / abs(first):+.1f} %"
    if not text.strip("+-0. %pointsK"):
        return Text("unchanged")
    if metric.better is None:
        return Text(text)
    is_better = (second > first) == (metric.better == "more")
    return Text(f"{text} {'better' if is_better else 'worse'}", style=_GOOD if is_better else _BAD)


def _typed(name: str, value: float) -> ParameterValue:
    parameter: Parameter = PARAMETERS[name]
    return round(value) if parameter.kind == "integer" else value


def _power(log10: float) -> str:
    return count_text(round(10.0**log10)) if log10 < 6 else f"about 10^{log10:.0f}"
