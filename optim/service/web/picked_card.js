/** What is known at a glance of the design that is picked in a picture or in the table. */

import * as api from "./api.js";
import { calmly, h, notice, put } from "./elements.js";
import { BINDING } from "./judging.js";
import { numberText, percentText, plainText, title, unitText, valueText } from "./wording.js";

export function pickedCard(model, { address, basket }) {
  const card = h("section", { class: "panel tray", "aria-live": "polite", "data-part": "picked" });
  const refresh = calmly(card, () => {
    const point = model.byNumber.get(model.picked);
    card.hidden = !point;
    if (point) put(card, content(point));
  });

  function content(point) {
    const rank = model.rankOf.get(point.number);
    const margins = model.marginsOf(point);
    const what = rank
      ? `rank ${rank} of ${model.counts.front}`
      : { feasible: "feasible, dominated", infeasible: "infeasible", failed: "failed" }[point.shape];
    return [
      h(
        "div",
        { class: "panel-head" },
        h("h2", {}, rank ? `Candidate ${point.number}` : `Design ${point.number}`),
        h("span", { class: "soft" }, model.families.length > 1 ? `${what}, ${point.family}` : what),
        h(
          "div",
          { class: "actions" },
          point.hasPlace && buttons(point),
          h(
            "button",
            { type: "button", class: "quiet", "aria-label": "put away", onclick: () => model.pick(null) },
            "×",
          ),
        ),
      ),
      h(
        "div",
        { class: "tray-body" },
        point.hasPlace
          ? h(
              "dl",
              { class: "figures" },
              model.objectives.map(({ metric }) =>
                h(
                  "div",
                  {},
                  h("dt", {}, title(metric)),
                  h("dd", {}, valueText(metric, point.values[metric])),
                ),
              ),
            )
          : h("p", {}, point.reason.replaceAll("_", " ")),
        margins.length > 0 && h("ul", { class: "margins" }, margins.slice(0, 2).map(marginLine)),
      ),
    ];
  }

  function buttons(point) {
    const isIn = basket.has(model.run, point.number);
    return [
      h(
        "button",
        {
          type: "button",
          class: "quiet",
          "data-focus": "side",
          "aria-pressed": isIn,
          onclick: () => {
            basket.toggle(model.run, point.number);
            model.pick(point.number);
          },
        },
        isIn ? "Not side by side" : "Side by side",
      ),
      h(
        "button",
        {
          type: "button",
          class: "quiet",
          "data-focus": "pack",
          onclick: (event) => save(event.target, point.number),
        },
        "Pack",
      ),
      h(
        "a",
        { class: "button main", href: address(point.number), "data-part": "open", "data-focus": "open" },
        "Open",
      ),
    ];
  }

  async function save(button, number) {
    button.disabled = true;
    try {
      await api.savePack(model.run, number);
    } catch (error) {
      notice(error.message, "wrong");
    }
    button.disabled = false;
  }

  model.addEventListener("pick", refresh);
  model.addEventListener("change", refresh);
  refresh();
  return card;
}

/** Return a line of a limit: its name, value, bound and margin as a bar. */
export function marginLine({ limit, value, share }) {
  const kind = share < 0 ? "missed" : share < BINDING ? "binding" : "kept";
  const words = { missed: "missed", binding: "binds", kept: "" }[kind];
  const sign = limit.relation === ">=" ? "≥" : "≤";
  return h(
    "li",
    { class: kind },
    h("span", {}, title(limit.metric)),
    h(
      "span",
      { class: "soft number" },
      `${numberText(value)} ${sign} ${plainText(limit.bound)} ${unitText(limit.unit)}`,
    ),
    h("meter", { min: 0, max: 50, value: Math.max(0, Math.min(50, 100 * share)), "aria-label": "margin" }),
    h("b", { class: "number" }, percentText(100 * share)),
    h("span", { class: "kind" }, words),
  );
}
