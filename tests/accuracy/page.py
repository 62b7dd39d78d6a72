"""The page docs/accuracy.md as text."""

from collections.abc import Sequence
from textwrap import dedent

from tests.accuracy.differences import Row
from tests.accuracy.known import known_section
from tests.accuracy.outside import Comparisons


def page(
    *,
    study: str,
    count: int,
    searched: int,
    step: float,
    seed: int,
    version: str,
    physics: int,
    metric_rows: Sequence[Row],
    map_rows: Sequence[Row],
    failed: Sequence[str],
    outside: Sequence[Comparisons],
) -> str:
    """Return the page."""
    rows = [*metric_rows, *map_rows]
    with_bars = [row for row in rows if row.bars is not None]
    others = [row for row in rows if row.bars is None]
    parts = [
        dedent(f"""\
            # Accuracy

            Made by `make accuracy`; do not edit. Paretorque {version}, physics version {physics},
            {count} designs, seed {seed}.

            ## Circuit model against field model

            The circuit model searches, the field model (second-order finite elements) verifies.
            Both are put through the same chain of control, losses, cycle and heat.

            Designs of the study `{study}`: all evaluations of a search ({searched} evaluations,
            the study's own seed) that the circuit model calls feasible; half of the designs are
            drawn from these without repeats, the other half are such designs with every real
            variable moved at random (standard deviation {100 * step:g} % of its range), kept if
            the circuit model calls them feasible. None was chosen or left out by its error.

            Differences are circuit less field. Percent are of the field model's value; shares and
            efficiencies differ in points, temperatures in K, flux densities in T. Maps are
            compared at every current of the field model's grid (both models solved there, nothing
            interpolated), in percent of the design's largest value; the grid's corner lies beyond
            the inverter's current, so the circle of usable currents is stated too. The
            demagnetisation field is, in both models, the flux density along the magnetisation
            that 2 % of the magnet area lies below, hot, at full current against the magnets: in
            the field model from the elements, in the circuit model from the lowest mean of a
            magnet third and a conformal map of the pocket's corner.
            """),
        "### Where a bar is set\n",
        _bars(with_bars),
        _verdict(with_bars),
        "### Everything else\n",
        _plain(others),
    ]
    if failed:
        parts.append(
            f"{len(failed)} designs gave no result by the field model: {'; '.join(failed)}\n"
        )
    parts += [
        dedent("""\
            The chain behind the maps is the same for both models, so this table does not speak
            of errors in losses, heat or control; the next section does. The 2-D field model knows
            no end effects but the end-winding inductance, which both models take from one formula.
            """),
        _outside_section(outside),
        known_section(),
    ]
    return "\n".join(parts)


def _bars(rows: Sequence[Row]) -> str:
    lines = ["| | unit | median | 95 % | worst | mean | bar: median / 95 % | |",
             "|---|---|---|---|---|---|---|---|"]  # fmt: skip
    for r in rows:
        assert r.bars is not None
        lines.append(
            f"| {r.title} | {r.unit} | {_n(r.median)} | {_n(r.high)} | {_n(r.worst)} | "
            f"{_signed(r.mean)} | {r.bars[0]:g} / {r.bars[1]:g} | "
            f"{'met' if r.is_met else '**missed**'} |"
        )
    return "\n".join(lines) + "\n"


def _verdict(rows: Sequence[Row]) -> str:
    missed = [r.title for r in rows if not r.is_met]
    if not missed:
        return "Every bar is met.\n"
    return f"Missed: {', '.join(missed)}.\n"


def _plain(rows: Sequence[Row]) -> str:
    lines = ["| | unit | median | 95 % | worst | mean |", "|---|---|---|---|---|---|"]
    lines += [
        f"| {r.title} | {r.unit} | {_n(r.median)} | {_n(r.high)} | {_n(r.worst)} | "
        f"{_signed(r.mean)} |"
        for r in rows
    ]
    return "\n".join(lines) + "\n"


def _outside_section(tests: Sequence[Comparisons]) -> str:
    lines = [
        "## Against the outside\n",
        "What the tests in `tests/published` compare with a number, the largest relative deviation "
        "found in this run, and\nthe deviation that the test allows there. Tests that compare by "
        'bounds or exactly are not listed. Values\nmarked "from memory" or "computed apart" '
        "were not read from the named source when the test was written.\n",
        "| test | compares with | numbers | largest deviation | allowed |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {t.test.removeprefix('test_').replace(': test_', ': ').replace('_', ' ')} | "
        f"{t.says.replace('|', '/')} | {t.count} | {_percent(t.worst)} | "
        f"{_percent(t.tolerance)} |"
        for t in tests
        if t.count
    ]
    return "\n".join(lines) + "\n"


def _n(value: float) -> str:
    if value == 0.0:
        return "0"
    return f"{value:.3f}" if value < 0.2 else f"{value:.2f}" if value < 10.0 else f"{value:.0f}"


def _signed(value: float) -> str:
    return ("+" if value >= 0 else "-") + _n(abs(value))


def _percent(share: float) -> str:
    if share != share:
        return "-"
    percent = 100.0 * share
    return f"{percent:.2g} %" if percent >= 1e-3 else f"{percent:.0e} %" if percent else "0"
