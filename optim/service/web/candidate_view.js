/** A candidate in full: what it is, what it does, what binds it, and its hand-over pack. */

import * as api from "./api.js";
import { curves, stacked } from "./charts.js";
import { efficiencyMap } from "./efficiency_map.js";
import { drawing, h, notice, put } from "./elements.js";
import { marginLine } from "./picked_card.js";
import { entryOf, numberText, plainText, symbolPieces, title, unitText, words } from "./wording.js";

const PART_WORDS = { winding_dc: "winding DC", winding_ac: "winding AC", iron: "iron", magnet: "magnets", mechanical: "friction" };

export async function candidateView(place, { run, number }, { basket, signal }) {
  document.title = `Candidate ${number} · Paretorque`;
  const found = await api.candidate(run, number);
  const pictures = h("div", { class: "pictures-grid" }, h("p", { class: "soft busy" }, "drawing the curves …"));
  const section = h("div", { class: "section-drawing" });
  const side = h("button", { type: "button", class: "quiet", onclick: () => (basket.toggle(run, Number(number)), label()) });
  const label = () => {
    const isIn = basket.has(run, Number(number));
    side.setAttribute("aria-pressed", isIn);
    put(side, isIn ? "Not side by side" : "Side by side");
  };
  label();
  put(place,
    h("div", { class: "view-head" },
      h("div", {}, h("p", { class: "trail" }, h("a", { href: `#/run/${encodeURIComponent(run)}` }, `← ${run}`)),
        h("h1", {}, `Candidate ${number} `, h("span", { class: "soft" }, found.rank ? `rank ${found.rank} of ${found.of}` : "not on the front"))),
      h("div", { class: "actions" }, side,
        h("button", { type: "button", class: "main", "data-part": "pack", onclick: (event) => save(event.target) }, "Hand-over pack (zip)"))),
    h("div", { class: "candidate-top" },
      h("section", { class: "panel" }, h("h2", {}, "Section of a pole"), section),
      h("section", { class: "panel" }, h("h2", {}, "Margins"), h("div", { class: "in-words" }),
        h("ul", { class: "margins" }, found.limits.map((l) => marginLine({ limit: l, value: l.value, share: l.margin_percent / 100 })))),
      h("section", { class: "panel" }, h("h2", {}, "Cost"), costTable(found.cost_items_eur))),
    pictures,
    h("section", { class: "panel" }, h("h2", {}, "Parameters"), valueList(found.parameters, (v) => plainText(v, 4))),
    h("section", { class: "panel" }, h("h2", {}, "Metrics"), valueList(found.metrics, numberText)),
    verified(found.verification),
    h("section", { class: "panel cautions" }, h("h2", {}, "Cautions"), h("ul")));

  async function save(button) {
    button.disabled = true;
    put(button, "making the pack …");
    try {
      await api.savePack(run, number);
    } catch (error) {
      notice(error.message, "wrong");
    }
    button.disabled = false;
    put(button, "Hand-over pack (zip)");
  }

  const [shape, details] = await Promise.allSettled([api.section(run, number), api.details(run, number)]);
  if (signal.aborted) return;
  const svg = shape.status === "fulfilled" && drawing(shape.value, `Section of one pole of candidate ${number}`);
  put(section, svg || h("p", { class: "soft" }, "no drawing of this section"));
  if (details.status === "rejected") {
    put(pictures, h("p", { class: "wrong" }, details.reason.message));
    return;
  }
  const d = details.value;
  put(place.querySelector(".in-words"), d.in_words.map((line) => h("p", {}, line.replaceAll("_", " "))),
    [...d.attention, ...d.dangers].map((line) => h("p", { class: "look" }, `▲ ${line}`)));
  put(place.querySelector(".cautions ul"), d.cautions.map((line) => h("li", {}, line)));
  put(pictures, panels(d));
}

/** Return the panels of a candidate's curves. */
export function panels(d) {
  const panel = (heading, picture) => h("section", { class: "panel" }, h("h2", {}, heading), picture);
  const { torque_angle: angle, torque_speed: speed, back_emf: emf, loss_split: loss } = d;
  return [
    panel("Torque against speed",
      curves({ label: "Shaft torque against speed", x: speed.speed_rpm, xTitle: "Speed [r/min]", yTitle: "Shaft torque [N·m]",
        series: [{ name: `${speed.dc_voltage_v} V`, values: speed.nominal_nm, colour: "conductor" },
          { name: `${speed.dc_voltage_min_v} V`, values: speed.lowest_nm, colour: "magnet" },
          { name: "without end", values: speed.continuous_nm, colour: "moss" }] })),
    panel("Power against speed",
      curves({ label: "Shaft power against speed", x: speed.speed_rpm, xTitle: "Speed [r/min]", yTitle: "Shaft power [kW]",
        series: [{ name: `${speed.dc_voltage_v} V`, values: speed.nominal_kw, colour: "conductor" },
          { name: `${speed.dc_voltage_min_v} V`, values: speed.lowest_kw, colour: "magnet" },
          { name: "without end", values: speed.continuous_kw, colour: "moss" }] })),
    panel("Efficiency", efficiencyMap(d.efficiency)),
    panel("Torque against current angle", curves({ label: "Air-gap torque against current angle, split into magnets and reluctance",
      x: angle.angle_deg, xTitle: "Current angle from q towards −d [°]", yTitle: "Air-gap torque [N·m]",
      series: [{ name: `total, ${plainText(angle.phase_current_a)} A rms`, values: angle.total_nm, colour: "ink" },
        { name: "magnets", values: angle.magnet_nm, colour: "magnet" },
        { name: "reluctance", values: angle.reluctance_nm, colour: "iron" }],
      marks: [{ x: angle.best_angle_deg, y: angle.best_torque_nm, text: `${numberText(angle.best_torque_nm)} N·m` }] })),
    panel("Back-EMF, inverter off", curves({ label: "Back-EMF between lines against speed", x: emf.speed_rpm, xTitle: "Speed [r/min]", yTitle: "Line voltage [V peak]",
      series: [{ name: `magnets at ${plainText(emf.cold_temperature_c)} °C`, values: emf.cold_line_peak_v, colour: "conductor" },
        { name: `magnets at ${plainText(emf.rated_temperature_c)} °C`, values: emf.rated_line_peak_v, colour: "magnet" }],
      levels: [emf.limit_v !== null && { value: emf.limit_v, text: `limit ${plainText(emf.limit_v)} V` }, { value: emf.dc_voltage_v, text: `supply ${plainText(emf.dc_voltage_v)} V` }].filter(Boolean) })),
    panel("Losses", stacked({ label: "Losses by part", unit: "W",
      parts: loss.parts.map((name) => ({ name: name.replace("_", "-"), text: PART_WORDS[name] ?? words(name) })),
      cases: loss.cases.map((c) => ({ name: c.name, condition: c.condition, total: c.total_w, values: c.parts_w })) })),
    panel("Three-phase short circuit, steady", curves({ label: "Short-circuit current and braking torque against speed", x: emf.speed_rpm, xTitle: "Speed [r/min]", yTitle: "[A rms], [N·m]",
      series: [{ name: "current [A rms]", values: emf.short_circuit_current_a, colour: "conductor" },
        { name: "braking torque [N·m]", values: emf.braking_torque_nm, colour: "iron" }] })),
  ];
}

function valueList(values, textOf) {
  return h("dl", { class: "values" }, Object.entries(values).map(([key, value]) => {
    const { symbol, definition, unit, kind } = entryOf(key);
    const text = kind === "integer" || kind === "choice" ? String(value) : textOf(value);
    return h("div", { title: definition },
      h("dt", {}, `${title(key)} `, symbol && h("span", { class: "soft symbol" }, symbolPieces(symbol).map(([t, isLow]) => (isLow ? h("sub", {}, t) : t)))),
      h("dd", {}, text, h("span", { class: "soft" }, ` ${unitText(unit)}`)));
  }));
}

function costTable(items) {
  const rows = Object.entries(items).sort((a, b) => b[1] - a[1]);
  const total = rows.reduce((sum, [, v]) => sum + v, 0);
  return h("table", { class: "values cost" },
    h("tbody", {}, rows.map(([name, value]) => h("tr", {}, h("th", { scope: "row" }, words(name)), h("td", { class: "number" }, value.toFixed(2)),
      h("td", { class: "bar-cell" }, h("meter", { min: 0, max: rows[0]?.[1] || 1, value, "aria-label": "share" }))))),
    h("tfoot", {}, h("tr", {}, h("th", { scope: "row" }, "All, EUR"), h("td", { class: "number" }, total.toFixed(2)), h("td"))));
}

function verified(member) {
  if (!member) return null;
  return h("section", { class: "panel" }, h("h2", {}, "Verified by the field model"), h("p", {}, member.fate ?? member.text ?? ""));
}

