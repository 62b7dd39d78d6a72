/** A candidate in full: what it is, what it does, what binds it, and its hand-over pack. */

import * as api from "./api.js";
import { panels } from "./candidate_pictures.js";
import { drawing, h, notice, put } from "./elements.js";
import { explanationPanel } from "./explanation_panel.js";
import { marginLine } from "./picked_card.js";
import {
  entryOf,
  metricNumber,
  numberText,
  percentText,
  plainText,
  symbolPieces,
  title,
  unitText,
  words,
} from "./wording.js";

/** Stands at once; the service's own cautions take its place. */
const CAUTION =
  "Design aid only. High voltage (also from a turning rotor with the inverter off), rotating parts and " +
  "strong magnets can kill or maim.";

/** A cage carries no magnets, of whatever grade. */
function parametersOf({ family, parameters }) {
  const { magnet_grade: _, ...others } = parameters;
  return family === "cage" ? others : parameters;
}

export async function candidateView(place, { run, number }, { basket, signal }) {
  document.title = `Candidate ${number} · Paretorque`;
  const found = await api.candidate(run, number);
  const pictures = h(
    "div",
    { class: "pictures-grid" },
    h("p", { class: "soft busy" }, "drawing the curves …"),
  );
  const section = h("div", { class: "section-drawing" }, h("p", { class: "soft" }, "drawing the section …"));
  const side = h("button", {
    type: "button",
    class: "quiet",
    onclick: () => (basket.toggle(run, Number(number)), label()),
  });
  const label = () => {
    const isIn = basket.has(run, Number(number));
    side.setAttribute("aria-pressed", isIn);
    put(side, isIn ? "Not side by side" : "Side by side");
  };
  label();
  put(
    place,
    h(
      "div",
      { class: "view-head" },
      h(
        "div",
        {},
        h("p", { class: "trail" }, h("a", { href: `#/run/${encodeURIComponent(run)}` }, `← ${run}`)),
        h(
          "h1",
          {},
          `Candidate ${number} `,
          h(
            "span",
            { class: "soft" },
            `${found.rank ? `rank ${found.rank} of ${found.of}` : "not on the front"}, ${found.family}`,
          ),
        ),
      ),
      h(
        "div",
        { class: "actions" },
        side,
        h(
          "button",
          { type: "button", class: "main", "data-part": "pack", onclick: (event) => save(event.target) },
          "Hand-over pack (zip)",
        ),
      ),
    ),
    h(
      "div",
      { class: "candidate-top" },
      h("section", { class: "panel" }, h("h2", {}, "Section"), section),
      h(
        "section",
        { class: "panel" },
        h("h2", {}, "Margins"),
        h("div", { class: "in-words" }),
        h(
          "ul",
          { class: "margins" },
          found.limits.map((l) => marginLine({ limit: l, value: l.value, share: l.margin_percent / 100 })),
        ),
      ),
      h("section", { class: "panel" }, h("h2", {}, "Cost"), costTable(found.cost_items_eur)),
    ),
    pictures,
    explanationPanel(run, number, found.metrics, signal),
    h(
      "section",
      { class: "panel" },
      h("h2", {}, "Parameters"),
      valueList(parametersOf(found), (_, v) => plainText(v, 4)),
    ),
    h("section", { class: "panel" }, h("h2", {}, "Metrics"), valueList(found.metrics, metricNumber)),
    verified(found.verification, found.metrics),
    h("section", { class: "panel cautions" }, h("h2", {}, "Cautions"), h("ul", {}, h("li", {}, CAUTION))),
  );

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
  const svg =
    shape.status === "fulfilled" && drawing(shape.value, `Section of candidate ${number}`);
  put(section, svg || h("p", { class: "soft" }, "no drawing of this section"));
  if (details.status === "rejected") {
    put(pictures, h("p", { class: "wrong" }, details.reason.message));
    return;
  }
  const d = details.value;
  put(
    place.querySelector(".in-words"),
    d.in_words.map((line) => h("p", {}, line.replaceAll("_", " "))),
    [...d.attention, ...d.dangers].map((line) => h("p", { class: "look" }, `▲ ${line}`)),
  );
  put(
    place.querySelector(".cautions ul"),
    d.cautions.map((line) => h("li", {}, line)),
  );
  put(pictures, panels(d, found.family));
}

function valueList(values, textOf) {
  return h(
    "dl",
    { class: "values" },
    Object.entries(values).map(([key, value]) => {
      const { symbol, definition, unit, kind } = entryOf(key);
      const text = kind === "integer" || kind === "choice" ? String(value) : textOf(key, value);
      return h(
        "div",
        { title: definition },
        h(
          "dt",
          {},
          `${title(key)} `,
          symbol &&
            h(
              "span",
              { class: "soft symbol" },
              symbolPieces(symbol).map(([t, isLow]) => (isLow ? h("sub", {}, t) : t)),
            ),
        ),
        h("dd", {}, text, h("span", { class: "soft" }, ` ${unitText(unit)}`)),
      );
    }),
  );
}

function costTable(items) {
  const rows = Object.entries(items)
    .filter(([, v]) => v > 0)
    .sort((a, b) => b[1] - a[1]);
  const total = rows.reduce((sum, [, v]) => sum + v, 0);
  return h(
    "table",
    { class: "values cost" },
    h(
      "tbody",
      {},
      rows.map(([name, value]) =>
        h(
          "tr",
          {},
          h("th", { scope: "row" }, words(name)),
          h("td", { class: "number" }, value.toFixed(2)),
          h(
            "td",
            { class: "bar-cell" },
            h("meter", { min: 0, max: rows[0]?.[1] || 1, value, "aria-label": "share" }),
          ),
        ),
      ),
    ),
    h(
      "tfoot",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "row" }, "All, EUR"),
        h("td", { class: "number" }, total.toFixed(2)),
        h("td"),
      ),
    ),
  );
}

/** What the field model says of the candidate, beside what the circuit model had said. */
function verified(member, circuit) {
  if (!member) return null;
  const head = ["", "Field", "Circuit", "", "Difference"].map((text, k) =>
    h("th", { scope: "col", class: k ? "number" : "" }, text),
  );
  const rows = Object.entries(member.metrics).map(([key, value]) => {
    const before = circuit[key];
    const difference = before ? percentText((100 * (value - before)) / Math.abs(before)) : "–";
    return h(
      "tr",
      {},
      h("th", { scope: "row" }, title(key)),
      h("td", { class: "number" }, numberText(value)),
      h("td", { class: "number" }, numberText(before)),
      h("td", { class: "soft" }, unitText(entryOf(key).unit)),
      h("td", { class: "number" }, difference),
    );
  });
  return h(
    "section",
    { class: "panel" },
    h("h2", {}, "Verified by the field model"),
    h(
      "p",
      {},
      [member.outcome, member.reason, member.message].filter(Boolean).join(": ").replaceAll("_", " "),
    ),
    h(
      "details",
      {},
      h("summary", {}, "Every metric of both models"),
      h(
        "div",
        { class: "scroll" },
        h("table", { class: "values pair-table" }, h("thead", {}, h("tr", {}, head)), h("tbody", {}, rows)),
      ),
    ),
  );
}
