/** The front in order of preference, the best first. */

import * as api from "./api.js";
import { calmly, h, notice, put } from "./elements.js";
import { memberMark } from "./marks.js";
import { BINDING } from "./judging.js";
import { axisText, countText, numberText, percentText, title } from "./wording.js";

const STEP = 25;

export function rankedTable(model, { link, basket }) {
  let count = STEP;
  const body = h("tbody");
  const caption = h("p", { class: "strip" });
  const more = h(
    "button",
    { type: "button", class: "quiet", onclick: () => ((count += 100), refresh()) },
    "more rows",
  );
  const csv = h("button", { type: "button", class: "quiet", onclick: () => save() }, "Front as CSV");
  async function save() {
    try {
      await api.saveFront(model.run, model.weightsText, model.tightened);
    } catch (error) {
      notice(error.message, "wrong");
    }
  }
  const arrows = (o) => (o.sense === "minimise" ? "↓" : "↑");
  const head = h(
    "tr",
    {},
    h("th", { scope: "col" }, "Rank"),
    h("th", { scope: "col" }, "Candidate"),
    model.families.length > 1 && h("th", { scope: "col" }, "Family"),
    model.objectives.map((o) =>
      h("th", { scope: "col", class: "number" }, `${axisText(o.metric)} ${arrows(o)}`),
    ),
    h("th", { scope: "col" }, "Tightest limit"),
    h("th", { scope: "col", class: "number" }, "Margin"),
    h("th", { scope: "col" }, "Side by side"),
  );

  const refresh = calmly(body, () => {
    const shown = model.shown;
    put(
      body,
      shown.slice(0, count).map((member) => row(member)),
    );
    more.hidden = shown.length <= count;
    put(
      caption,
      shown.length === 0
        ? emptyText(model)
        : `${countText(Math.min(count, shown.length))} of ${countText(shown.length)}, by weighted compromise on the study's fixed ranges`,
    );
  });

  function row({ number, rank }) {
    const point = model.byNumber.get(number);
    const [tight] = model.marginsOf(point);
    return h(
      "tr",
      {
        class: number === model.picked ? "picked" : "",
        "data-candidate": number,
        onclick: (event) => event.target.closest("a, input") || model.pick(number),
      },
      h("td", { class: "rank" }, String(rank)),
      h(
        "th",
        { scope: "row" },
        h("a", { href: link(number), "data-focus": `open-${number}` }, String(number)),
      ),
      model.families.length > 1 &&
        h("td", {}, memberMark(model.markOf(point)), ` ${point.family}`),
      model.objectives.map((o) => h("td", { class: "number" }, numberText(point.values[o.metric]))),
      h(
        "td",
        {},
        tight
          ? [title(tight.limit.metric), tight.share < BINDING && h("span", { class: "binds" }, " binds")]
          : "–",
      ),
      h("td", { class: "number" }, tight ? percentText(100 * tight.share) : "–"),
      h(
        "td",
        {},
        h("input", {
          type: "checkbox",
          "aria-label": `candidate ${number} side by side`,
          "data-focus": `side-${number}`,
          checked: basket.has(model.run, number),
          onchange: () => (basket.toggle(model.run, number), refresh()),
        }),
      ),
    );
  }

  model.addEventListener("change", refresh);
  model.addEventListener("pick", refresh);
  refresh();
  return h(
    "section",
    { class: "panel table-panel" },
    h("h2", {}, "Ranking"),
    h(
      "div",
      { class: "scroll", tabindex: 0, role: "region", "aria-label": "Ranked candidates" },
      h("table", { class: "ranking" }, h("thead", {}, head), body),
    ),
    h("div", { class: "panel-foot" }, caption, h("div", { class: "actions" }, csv, more)),
  );
}

function emptyText(model) {
  if (!model.points.length) return "nothing is evaluated yet";
  if (model.counts.feasible) return "nothing lies within the ranges";
  return "nothing holds every limit yet; the limits missed most often:  " + stops(model).join(", ");
}

function stops(model) {
  const missed = new Map();
  for (const point of model.points) {
    for (const { limit, share } of model.marginsOf(point)) {
      if (share < 0) missed.set(limit.metric, (missed.get(limit.metric) ?? 0) + 1);
    }
  }
  const most = [...missed].sort((a, b) => b[1] - a[1]).slice(0, 4);
  return most.map(([name, count]) => `${title(name)} (${countText(count)})`);
}
