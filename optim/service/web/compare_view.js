/** Two candidates side by side, at equal supply, cooling and prices. */

import * as api from "./api.js";
import { curves } from "./charts.js";
import { drawing, h, put } from "./elements.js";
import { changeOf, entryOf, metricNumber, plainText, title, unitText } from "./wording.js";

export async function compareView(place, _, { basket, signal }) {
  document.title = "Side by side · Paretorque";
  const items = basket.items;
  put(place, h("div", { class: "view-head" }, h("h1", {}, "Side by side")));
  if (items.length < 2) {
    place.append(
      h(
        "section",
        { class: "panel empty" },
        h(
          "p",
          {},
          items.length
            ? `${items[0]} is chosen; choose one more.`
            : "Choose two candidates in the ranking of a run.",
        ),
        h("p", {}, h("a", { class: "button main", href: "#/" }, "Runs")),
      ),
    );
    return;
  }
  const chosen = items.map((item) => {
    const cut = item.lastIndexOf(":");
    return { item, run: item.slice(0, cut), number: item.slice(cut + 1) };
  });
  const found = await api.compare(...items);
  const heads = h(
    "div",
    { class: "pair" },
    chosen.map((c, k) =>
      h(
        "section",
        { class: "panel" },
        h(
          "h2",
          {},
          `${"AB"[k]}: `,
          h(
            "a",
            { href: `#/run/${encodeURIComponent(c.run)}/candidate/${c.number}` },
            `candidate ${c.number}`,
          ),
        ),
        h("p", { class: "soft" }, c.run),
        h("div", { class: "section-drawing small" }, h("p", { class: "soft" }, "drawing the section …")),
      ),
    ),
  );
  const pictures = h("div", { class: "pictures-grid" }, h("p", { class: "soft" }, "drawing the curves …"));
  place.append(
    heads,
    pictures,
    h(
      "section",
      { class: "panel" },
      h("h2", {}, "Metrics"),
      h("div", { class: "scroll" }, table(found, "metrics")),
    ),
    h(
      "section",
      { class: "panel" },
      h("h2", {}, "Parameters that differ"),
      h("div", { class: "scroll" }, table(found, "parameters", found.differing)),
    ),
    ...ofOneFamily(found),
  );
  const [sections, details] = await Promise.all([
    Promise.allSettled(chosen.map((c) => api.section(c.run, c.number))),
    Promise.allSettled(chosen.map((c) => api.details(c.run, c.number))),
  ]);
  if (signal.aborted) return;
  const drawn = sections.map(
    ({ status, value }, k) => status === "fulfilled" && drawing(value, `Section of ${chosen[k].item}`),
  );
  toOneScale(drawn.filter(Boolean));
  [...heads.querySelectorAll(".section-drawing")].forEach((spot, k) =>
    put(spot, drawn[k] || h("p", { class: "soft" }, "no drawing")),
  );
  put(
    pictures,
    details.every((d) => d.status === "fulfilled") &&
      overlays(
        details.map((d) => d.value),
        chosen,
      ),
  );
}

/** Give drawings, each in mm, such widths that a millimetre is equally long in all. */
function toOneScale(drawings) {
  const widths = drawings.map((svg) => svg.viewBox.baseVal.width);
  drawings.forEach((svg, k) => {
    svg.style.width = `${(100 * widths[k]) / Math.max(...widths)}%`;
    svg.style.maxHeight = "none";
    svg.style.margin = "0 auto";
  });
}

function overlays(pair, chosen) {
  const names = chosen.map((c, k) => `${"AB"[k]} (${c.number})`);
  const both = (pick) =>
    pair.map((d, k) => ({ name: names[k], values: pick(d), colour: ["conductor", "magnet"][k] }));
  const speed = pair[0].torque_speed.speed_rpm;
  const isSame = pair[1].torque_speed.speed_rpm.every((v, k) => Math.abs(v - speed[k]) < 1e-6);
  if (!isSame) return [];
  const panel = (heading, picture) => h("section", { class: "panel" }, h("h2", {}, heading), picture);
  const x = { x: speed, xTitle: "Speed [r/min]" };
  return [
    panel(
      "Shaft torque",
      curves({
        ...x,
        label: "Shaft torque of both",
        yTitle: "Shaft torque [N·m]",
        series: both((d) => d.torque_speed.nominal_nm),
      }),
    ),
    panel(
      "Shaft power",
      curves({
        ...x,
        label: "Shaft power of both",
        yTitle: "Shaft power [kW]",
        series: both((d) => d.torque_speed.nominal_kw),
      }),
    ),
    panel(
      "Continuous torque",
      curves({
        ...x,
        label: "Continuous torque of both",
        yTitle: "Shaft torque [N·m]",
        series: both((d) => d.torque_speed.continuous_nm),
      }),
    ),
  ];
}

function table(found, kind, only = null) {
  const [a, b] = [found.first[kind], found.second[kind]];
  const keys = [...new Set([...Object.keys(a), ...Object.keys(b)])].filter(
    (key) => !only || only.includes(key) || only.includes(entryOf(key).name),
  );
  return h(
    "table",
    { class: "values pair-table" },
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        ["", "A", "B", kind === "metrics" ? "B against A" : ""].map((c, k) =>
          h("th", { scope: "col", class: k ? "number" : "" }, c),
        ),
      ),
    ),
    h(
      "tbody",
      {},
      keys.map((key) => row(key, a[key], b[key])),
    ),
  );
}

/** Return the panel of the parameters that only one of two families has. */
function ofOneFamily({ first, second }) {
  const [a, b] = [first.parameters, second.parameters];
  const alone = [...Object.keys(a), ...Object.keys(b)].filter((key) => !(key in a && key in b));
  if (!alone.length) return [];
  const found = { first, second };
  return [
    h(
      "section",
      { class: "panel" },
      h("h2", {}, "Parameters of one family only"),
      h("div", { class: "scroll" }, table(found, "parameters", alone)),
    ),
  ];
}

function row(key, a, b) {
  const { unit, definition, kind } = entryOf(key);
  const isText = kind === "integer" || kind === "choice";
  // parameters have a kind, metrics none
  const text = (v) =>
    v === undefined || isText ? String(v ?? "–") : kind ? plainText(v, 4) : metricNumber(key, v);
  const change = changeOf(key, a, b);
  return h(
    "tr",
    { title: definition },
    h("th", { scope: "row" }, title(key), unit && h("span", { class: "soft" }, ` ${unitText(unit)}`)),
    h("td", { class: "number" }, text(a)),
    h("td", { class: "number" }, text(b)),
    h(
      "td",
      { class: `number ${change.kind}` },
      `${change.text} `,
      h("span", { class: "word" }, { good: "▲ better", bad: "▽ worse" }[change.kind]),
    ),
  );
}
