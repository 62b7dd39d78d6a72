/** Why a candidate is as it is: its envelope in numbers and its neighbours, on a button since it evaluates. */

import * as api from "./api.js";
import { h, put } from "./elements.js";
import { changeOf, entryOf, numberText, percentText, title, unitText, words } from "./wording.js";

/** Return the panel; `metrics` are the candidate's own, by key. */
export function explanationPanel(run, number, metrics, signal) {
  const ask = h(
    "button",
    { type: "button", "data-part": "explain", onclick: () => fetchAll() },
    "Evaluate the neighbours",
  );
  const body = h("div", { "aria-live": "polite" });
  put(
    body,
    h(
      "p",
      { class: "soft" },
      "What one more pole pair, turn or magnet piece would change. Each is evaluated, which takes some seconds.",
    ),
    ask,
  );

  async function fetchAll() {
    put(body, h("p", { class: "soft busy" }, "evaluating the neighbours …"));
    try {
      const found = await api.explanation(run, number);
      if (!signal.aborted) put(body, content(found, metrics));
    } catch (error) {
      put(body, h("p", { class: "wrong" }, error.message), ask);
    }
  }

  return h("section", { class: "panel", "data-part": "explanation" }, h("h2", {}, "One step away"), body);
}

function content({ steps, by_speed: speeds }, metrics) {
  return [
    h("div", { class: "scroll" }, stepsTable(steps, metrics)),
    h("h3", {}, "Along the envelope at nominal DC voltage"),
    h("div", { class: "scroll" }, speedTable(speeds)),
  ];
}

function stepsTable(steps, metrics) {
  // What a family has not is zero throughout: the back-EMF of a cage, say.
  const keys = [...new Set(steps.flatMap((step) => Object.keys(step.metrics)))].filter(
    (key) => metrics[key] || steps.some((step) => step.metrics[key]),
  );
  const row = (head, unit, here, cells) =>
    h(
      "tr",
      {},
      h("th", { scope: "row" }, head, unit && h("span", { class: "soft" }, ` ${unit}`)),
      h("td", { class: "number" }, here),
      cells,
    );
  return h(
    "table",
    { class: "values steps" },
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, ""),
        h("th", { scope: "col", class: "number" }, "This design"),
        steps.map((step) =>
          h(
            "th",
            { scope: "col", class: "number" },
            step.step,
            h("div", { class: "soft" }, setsText(step.sets)),
          ),
        ),
      ),
    ),
    h(
      "tbody",
      {},
      keys.map((key) =>
        row(
          title(key),
          unitText(entryOf(key).unit),
          numberText(metrics[key]),
          steps.map((step) => changeCell(key, metrics[key], step)),
        ),
      ),
      row(
        "Tightest limit",
        "",
        "",
        steps.map((step) => h("td", { class: "number" }, tightestText(step))),
      ),
    ),
  );
}

function changeCell(key, here, step) {
  const there = step.metrics[key];
  if (there === undefined) return h("td", { class: "number soft" }, "–");
  const { text, kind } = changeOf(key, here, there);
  const sign = { good: "▲ ", bad: "▽ " }[kind] ?? "";
  return h(
    "td",
    { class: `number ${kind}` },
    numberText(there),
    h("div", { class: "word" }, `${sign}${text}`, h("span", { class: "sr-only" }, kindText(kind))),
  );
}

const kindText = (kind) => ({ good: ", better", bad: ", worse" })[kind] ?? "";

const setsText = (sets) =>
  Object.entries(sets)
    .map(([name, value]) => `${title(name).toLowerCase()} ${value}`)
    .join(", ");

function tightestText({ status, reason, tightest_limit: limit, margin_share: share }) {
  if (status !== "ok") return h("span", { class: "wrong" }, words(reason));
  if (!limit) return "–";
  const isMissed = share < 0;
  const margin = share < -1 ? "missed by far" : `${percentText(100 * share)}${isMissed ? " missed" : ""}`;
  return [title(limit), h("div", { class: isMissed ? "wrong" : "soft" }, margin)];
}

function speedTable(speeds) {
  const rows = [
    ["Back-EMF between lines, peak, warm magnets", "V", "back_emf_line_peak_v"],
    ["Phase current", "A rms", "phase_current_a"],
    ["of it on the d axis", "A peak", "i_d_a"],
    ["Shaft torque", "N·m", "shaft_torque_nm"],
  ].filter(([, , key]) => speeds.some((s) => s[key]));
  return h(
    "table",
    { class: "values steps" },
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, "Speed [r/min]"),
        speeds.map((s) => h("th", { scope: "col", class: "number" }, s.speed_rpm.toFixed(0))),
      ),
    ),
    h(
      "tbody",
      {},
      rows.map(([head, unit, key]) =>
        h(
          "tr",
          {},
          h("th", { scope: "row" }, head, h("span", { class: "soft" }, ` ${unit}`)),
          speeds.map((s) => h("td", { class: "number" }, numberText(s[key], 3))),
        ),
      ),
    ),
  );
}
