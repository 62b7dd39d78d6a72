"""One design on one page: a self-contained HTML file for screen (light and dark) and A4."""

from collections.abc import Mapping
from html import escape

from matplotlib.figure import Figure

from models.machine import Machine
from models.nomenclature import CONVENTIONS, METRICS
from models.performance.summary import Performance
from optim.export import palette
from optim.export.bill import TITLES, bill
from optim.export.context import PackContext, footer
from optim.export.drawing_svg import section_svg
from optim.export.notation import metric_text, name_text, number_text, unit_text
from optim.export.outlines import drawn_poles
from optim.export.pictures import Pictures
from optim.export.plots.efficiency import draw_efficiency
from optim.export.plots.figure import svg_text
from optim.export.plots.loss_split import draw_loss_split
from optim.export.plots.torque_angle import draw_torque_angle
from optim.export.plots.torque_speed import draw_torque_speed
from optim.export.requirements import dangers, implausible, requirements
from optim.study.families import has_metric

KEY_METRICS = (
    "peak_torque", "continuous_torque", "peak_power", "continuous_power",
    "top_speed_power_low_voltage", "base_speed", "cycle_efficiency", "cycle_loss",
    "back_emf_line_peak", "characteristic_current", "winding_temperature", "magnet_temperature",
    "demagnetisation_margin", "bridge_safety_factor", "cage_temperature", "slip_at_base_speed",
    "cage_mass", "magnet_mass", "active_mass",
    "rotor_inertia", "cost",
)  # fmt: skip
OF_MAGNETS = ("back_emf_line_peak", "characteristic_current", "magnet_mass")
"""Key metrics that say nothing of a rotor without magnets."""

CAUTIONS = (
    "Design aid only: every number is computed, none is measured. Tolerances, wear and "
    "manufacture are not in it; bearings, frame and shaft are those of a sketch.",
    "High voltage (also from a turning rotor with the inverter off), rotating parts and strong "
    "magnets can kill or maim.",
    "Final design, testing and type approval belong to qualified engineers under the standards "
    "and law in force where the machine is used.",
)


def data_sheet(
    performance: Performance,
    metrics: Mapping[str, float],
    context: PackContext,
    pictures: Pictures,
) -> str:
    """Return the data sheet as HTML.

    Parameters
    ----------
    performance : Performance
        The design.
    metrics : mapping
        Its metrics with `cost` (SI).
    context : PackContext
        Provenance, limits, prices.
    pictures : Pictures
        Data of the plots (`optim.export.pictures.picture_data`).
    """
    machine, duty = performance.machine, performance.duty
    model = performance.model.name
    subtitle = (
        f"{2 * machine.pole_pairs} poles, {machine.stator.slots} slots, {machine.family} rotor, "
        f"{_active(machine, metrics)}{machine.lamination.name}, {machine.conductor.name} winding | "
        f"{duty.supply.dc_voltage:g} V DC ({duty.supply.dc_voltage_min:g} V lowest), "
        f"{duty.supply.phase_current:g} A rms"
    )
    plots = {
        "torque-speed": draw_torque_speed(pictures.torque_speed, footer="", width=92, height=60),
        "efficiency": draw_efficiency(pictures.efficiency, footer="", width=92, height=60),
        "torque-angle": draw_torque_angle(pictures.torque_angle, footer="", width=92, height=45),
        "losses": draw_loss_split(pictures.loss_split, footer="", width=92, height=45),
    }
    titles = ("Torque and power against speed", "Efficiency and drive cycle",
              "Torque against current angle", "Where the losses are")  # fmt: skip
    figures = "".join(
        _figure(name, title, figure) for (name, figure), title in zip(plots.items(), titles)
    )
    section = palette.with_page_colours(
        section_svg(
            pictures.section,
            title=f"Section of {drawn_poles(machine)}",
            foot="",
            is_annotated=False,
        )
    )
    required = _requirement_table(metrics, context, machine.family)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{escape(context.design_name)}</title>
<style>{_STYLE}</style>
</head>
<body>
<main>
<header>
<h1>{escape(context.study_title or context.study_name)}</h1>
<p class="name">{escape(context.design_name)}</p>
<p>{escape(subtitle)}</p>
</header>
<div class="top">
<section><h2>Requirements</h2>{required}{_attention(metrics)}</section>
<section><h2>Key numbers</h2>{_key_table(metrics)}</section>
<section class="pole"><h2>{drawn_poles(machine).capitalize()}</h2>{section}</section>
</div>
<div class="plots">{figures}</div>
<div class="bottom">
<section><h2>Bill of materials, prices of {escape(context.price_date)}</h2>
{_bill_table(performance, metrics, context)}</section>
<section><h2>Conventions</h2><ul>{_items(CONVENTIONS)}</ul>
<h2>Cautions</h2><ul class="cautions">{_items(CAUTIONS)}</ul></section>
</div>
<footer>{escape(footer(context, model=model))}</footer>
</main>
</body>
</html>
"""


def _active(machine: Machine, metrics: Mapping[str, float]) -> str:
    if "cage_mass" in metrics:
        return f"{machine.parameters['cage_material']} bars, "
    return f"{machine.magnet.name}, " if metrics["magnet_mass"] > 0.0 else ""


def _figure(name: str, title: str, figure: Figure) -> str:
    picture = svg_text(figure, name=name, is_page_part=True)
    picture = picture.replace("<svg ", f'<svg role="img" aria-label="{escape(title)}" ', 1)
    return f"<figure><h2>{escape(title)}</h2>{picture}</figure>"


def _requirement_table(metrics: Mapping[str, float], context: PackContext, family: str) -> str:
    # a limit on what a family does not have does not bind its designs
    limits = [limit for limit in context.limits if has_metric(family, limit.metric)]
    rows = requirements(limits, metrics)
    if not rows:
        return "<p>The study sets no limits.</p>"
    marks = {"met": "met", "binds": "● binds", "missed": "▲ missed"}
    body = "".join(
        f'<tr class="{row.state}"><td>{escape(row.name)}</td><td>{escape(row.bound_text)}</td>'
        f"<td>{escape(row.value_text)}</td><td>{100.0 * row.margin:+.1f} %</td>"
        f"<td>{marks[row.state]}</td></tr>"
        for row in rows
    )
    head = "<tr><th>Metric</th><th>Limit</th><th>Design</th><th>Margin</th><th></th></tr>"
    return f"<table><thead>{head}</thead><tbody>{body}</tbody></table>"


def _attention(metrics: Mapping[str, float]) -> str:
    found = "".join(f'<p class="look">▲ {escape(text)}.</p>' for text in dangers(metrics))
    names = implausible(metrics)
    if names:
        texts = ", ".join(f"{name_text(n).lower()} {metric_text(n, metrics[n], 3)}" for n in names)
        found += f'<p class="look">Outside the usual range, look again: {escape(texts)}.</p>'
    return found


def _key_table(metrics: Mapping[str, float]) -> str:
    body = "".join(
        f'<tr title="{escape(METRICS[name].definition)}"><td>{escape(name_text(name))}</td>'
        f"<td>{escape(metric_text(name, metrics[name]))}</td></tr>"
        for name in KEY_METRICS
        if name in metrics and (metrics["magnet_mass"] > 0.0 or name not in OF_MAGNETS)
    )
    return f'<table class="key"><tbody>{body}</tbody></table>'


def _bill_table(
    performance: Performance, metrics: Mapping[str, float], context: PackContext
) -> str:
    lines = bill(performance, metrics, context)
    body = "".join(
        f"<tr><td>{escape(TITLES.get(line.item, line.item))}</td>"
        f"<td>{escape(line.description)}</td>"
        f"<td>{_quantity(line.quantity)} {escape(unit_text(line.unit))}</td>"
        f"<td>{line.cost:.2f}</td></tr>"
        for line in lines
    )
    total = sum(line.cost for line in lines)
    head = "<tr><th>Item</th><th></th><th>Quantity</th><th>EUR</th></tr>"
    foot = f"<tr><td>Total</td><td></td><td></td><td>{total:.2f}</td></tr>"
    return (
        f'<table class="bill"><thead>{head}</thead><tbody>{body}</tbody>'
        f"<tfoot>{foot}</tfoot></table>"
    )


def _quantity(value: float) -> str:
    return f"{value:.0f}" if value == int(value) else number_text(value)


def _items(lines: tuple[str, ...]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


_STYLE = f"""
:root {{ {palette.page_variables()} }}
@media (prefers-color-scheme: dark) {{ :root {{ {palette.page_variables(palette.DARK)} }} }}
* {{ box-sizing: border-box; margin: 0; padding: 0; }}
body {{ background: var(--paper); color: var(--ink); padding: 8mm;
  font: 8pt/1.3 "DejaVu Sans", "Liberation Sans", sans-serif; }}
main {{ max-width: 192mm; margin: 0 auto; }}
header {{ border-bottom: 0.5mm solid var(--moss); padding-bottom: 1.2mm; margin-bottom: 2mm; }}
h1 {{ font-size: 13pt; font-weight: 600; }}
h2 {{ font-size: 8.5pt; font-weight: 600; color: var(--moss); margin-bottom: 0.6mm; }}
header .name {{ font-size: 9.5pt; }}
header p {{ color: var(--soft-ink); }}
.top {{ display: grid; grid-template-columns: 80mm 58mm 1fr; gap: 3mm; }}
.plots {{ display: grid; grid-template-columns: 1fr 1fr; gap: 1.5mm 4mm; margin-top: 2mm; }}
.bottom {{ display: grid; grid-template-columns: 108mm 1fr; gap: 4mm; margin-top: 1.5mm; }}
svg {{ display: block; width: 100%; height: auto; }}
table {{ border-collapse: collapse; width: 100%; font-size: 7pt; line-height: 1.25; }}
th {{ text-align: left; font-weight: 600; color: var(--soft-ink); }}
td, th {{ padding: 0.2mm 0.6mm; border-bottom: 0.15mm solid var(--grid); vertical-align: top; }}
td:nth-child(n+2), th:nth-child(n+2) {{ text-align: right; white-space: nowrap; }}
.bill td:nth-child(2) {{ text-align: left; white-space: normal; color: var(--soft-ink); }}
tfoot td {{ font-weight: 600; }}
tr.binds td {{ font-weight: 600; }}
tr.missed td {{ font-weight: 600; color: var(--warning); }}
.look {{ font-size: 7pt; color: var(--warning); margin-top: 1mm; }}
ul {{ padding-left: 3.5mm; font-size: 6.5pt; color: var(--soft-ink); margin-bottom: 1.2mm; }}
.cautions {{ color: var(--ink); }}
footer {{ margin-top: 1.5mm; font-size: 6.5pt; color: var(--soft-ink); }}
@media screen and (max-width: 700px) {{
  .top, .plots, .bottom {{ grid-template-columns: 1fr; }}
}}
@page {{ size: A4; margin: 9mm; }}
@media print {{
  :root {{ {palette.page_variables()} --paper: #ffffff; }}
  body {{ padding: 0; }}
  main {{ width: 192mm; }}
  figure, section {{ break-inside: avoid; }}
}}
"""
