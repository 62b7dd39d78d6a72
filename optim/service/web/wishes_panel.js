/** Weights and limits as sliders: the table and the pictures follow at once, nothing is stored. */

import { calmly, h, onceAFrame, put, s } from "./elements.js";
import { extent } from "./scale.js";
import { countText, percentText, plainText, title, unitText } from "./wording.js";

/** Return the panel; `onRerun(limits)` is called with the limits that were made tighter. */
export function wishesPanel(model, { onRerun, canRerun }) {
  const weights = model.objectives.map((objective) => weightRow(model, objective));
  const limits = model.limits.map((limit, k) => limitRow(model, limit, k));
  const left = h("p", { class: "left", "aria-live": "polite" });
  const again = h("div", { class: "again" });
  const reset = h(
    "button",
    { type: "button", class: "quiet", onclick: () => model.reset() },
    "as in the study",
  );
  const refresh = onceAFrame(() => {
    const total = Object.values(model.weights).reduce((a, b) => a + b, 0);
    for (const row of weights) row.refresh(total);
    const feasible = model.points.filter((p) => p.shape === "front" || p.shape === "feasible");
    for (const row of limits) row.refresh(feasible);
    const { front, feasible: count } = model.counts;
    put(
      left,
      h("b", {}, countText(count)),
      " designs hold these limits, ",
      h("b", {}, countText(front)),
      " of them are the front",
    );
  });
  const offer = calmly(again, () =>
    put(again, model.tightened.length > 0 && rerunBox(model, onRerun, canRerun())),
  );
  for (const renew of [refresh, offer]) {
    model.addEventListener("change", renew);
    renew();
  }
  return h(
    "section",
    { class: "panel wishes" },
    h("div", { class: "panel-head" }, h("h2", {}, "What counts"), reset),
    h("h3", {}, "Weights"),
    weights.map((row) => row.element),
    h("h3", {}, "Limits"),
    left,
    again,
    limits.map((row) => row.element),
  );
}

function rerunBox(model, onRerun, can) {
  return [
    h(
      "p",
      {},
      "Search again under ",
      model.tightened.map((text, k) => [k ? ", " : "", h("code", {}, pretty(text))]),
      ": what is evaluated already is judged anew and not evaluated again.",
    ),
    h(
      "button",
      {
        type: "button",
        class: "main",
        "data-part": "rerun",
        "data-focus": "rerun",
        disabled: !can,
        onclick: () => onRerun(model.tightened),
      },
      "Rerun with these limits",
    ),
  ];
}

const pretty = (text) =>
  text.replace("N*m", "N·m").replace("degC", "°C").replace(">=", "≥").replace("<=", "≤");

function weightRow(model, { metric, sense }) {
  const share = h("output", { class: "share" });
  const input = h("input", {
    type: "range",
    min: 0,
    max: 5,
    step: 0.1,
    "aria-label": `weight of ${title(metric)}`,
    "data-weight": metric,
    oninput: (event) => model.setWeight(metric, Number(event.target.value)),
  });
  const element = h(
    "label",
    { class: "slider" },
    h(
      "span",
      { class: "slider-name" },
      `${title(metric)} `,
      h("span", { class: "soft" }, sense === "minimise" ? "low" : "high"),
    ),
    share,
    input,
  );
  function refresh(total) {
    input.value = model.weights[metric];
    const part = total > 0 ? (100 * model.weights[metric]) / total : 100 / model.objectives.length;
    put(share, percentText(part, 0));
    input.setAttribute("aria-valuetext", percentText(part, 0));
  }
  return { element, refresh };
}

/** A limit's slider runs from the study's bound to the tightest that leaves a feasible design. */
function limitRow(model, limit, k) {
  const isLeast = limit.relation === ">=";
  const value = h("output", { class: "share" });
  const rug = s("svg", {
    class: "rug",
    viewBox: "0 0 100 8",
    preserveAspectRatio: "none",
    "aria-hidden": "true",
  });
  const input = h("input", {
    type: "range",
    min: 0,
    max: 200,
    step: 1,
    "aria-label": `limit of ${title(limit.metric)}`,
    "data-limit": limit.metric,
    oninput: (event) => model.setBound(k, boundAt(Number(event.target.value))),
  });
  const element = h(
    "label",
    { class: "slider limit" },
    h("span", { class: "slider-name" }, title(limit.metric)),
    value,
    rug,
    input,
  );
  let tightest = limit.bound;

  function boundAt(step) {
    if (step === 0) return limit.bound;
    return round(
      limit.bound + ((tightest - limit.bound) * step) / 200,
      Math.abs(tightest - limit.bound) / 200,
    );
  }

  function refresh(feasible) {
    const known = extent(
      model.points.filter((p) => p.outcome === "feasible").map((p) => p.values[limit.metric]),
    );
    const end = known ? (isLeast ? known[1] : known[0]) : limit.bound;
    // the range must not shrink under a moved slider while designs come in
    if (isLeast ? end > tightest : end < tightest) tightest = end;
    const bound = model.bounds[k];
    const width = tightest - limit.bound;
    input.value = width ? Math.round((200 * (bound - limit.bound)) / width) : 0;
    input.disabled = width === 0;
    const isMoved = bound !== limit.bound;
    element.classList.toggle("moved", isMoved);
    const text = `${isLeast ? "≥" : "≤"} ${plainText(bound)} ${unitText(limit.unit)}`;
    put(value, text);
    input.setAttribute("aria-valuetext", text);
    if (width) drawRug(feasible, width);
  }

  function drawRug(feasible, width) {
    const places = new Set(
      feasible
        .filter((p) => p.values[limit.metric] !== undefined)
        .map((p) => Math.round((100 * (p.values[limit.metric] - limit.bound)) / width)),
    );
    put(rug, s("path", { d: [...places].map((x) => `M${x} 0V8`).join("") }));
  }

  return { element, refresh };
}

/** Return a value as short as its step allows, so that a limit reads well in a study file. */
function round(value, step) {
  const digits = Math.max(0, 1 - Math.floor(Math.log10(step || 1)));
  return Number(value.toFixed(Math.min(digits, 8)));
}
