/** All runs that the person may see, the newest first, their progress kept up to date. */

import * as api from "./api.js";
import { h, put } from "./elements.js";
import { countText, dateText, durationText, stateText } from "./wording.js";

const EVERY = 2000;

export async function runsView(place, _, { session, signal }) {
  document.title = "Runs · Paretorque";
  const body = h("tbody");
  const isAdmin = session.is_admin && session.needs_token;
  const columns = ["Run", "State", "Evaluations", isAdmin && "Owner", "Time driven", "Submitted", "Rerun of"];
  const table = h(
    "table",
    { class: "runs" },
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        columns.filter(Boolean).map((c) => h("th", { scope: "col" }, c)),
      ),
    ),
    body,
  );
  const more = h(
    "button",
    { type: "button", class: "quiet", onclick: () => ((pages += 1), refresh()) },
    "older runs",
  );
  const none = h(
    "div",
    { class: "empty", hidden: true },
    h(
      "p",
      {},
      "No runs yet. A study says what may vary, what is wanted and what must hold; a run of it fills a front.",
    ),
    h("p", {}, h("a", { class: "button main", href: "#/new" }, "Write a study")),
  );
  put(
    place,
    h(
      "div",
      { class: "view-head" },
      h("h1", {}, "Runs"),
      h("a", { class: "button main", href: "#/new" }, "New study"),
    ),
    h(
      "section",
      { class: "panel" },
      none,
      h("div", { class: "scroll" }, table),
      h("div", { class: "panel-foot" }, more),
    ),
  );
  let pages = 1;

  async function refresh() {
    const answers = [];
    for (let k = 0; k < pages; k += 1) answers.push(await api.runs(50 * k, signal));
    const found = answers.flatMap((a) => a.runs);
    none.hidden = found.length > 0;
    table.hidden = found.length === 0;
    more.hidden = found.length >= answers[0].total;
    put(
      body,
      found.map((run) => row(run, isAdmin)),
    );
  }

  await refresh();
  while (!signal.aborted) {
    await api.pause(EVERY);
    if (signal.aborted || document.hidden) continue;
    try {
      const focused = document.activeElement?.getAttribute?.("href");
      await refresh();
      if (focused) place.querySelector(`a[href="${CSS.escape(focused)}"]`)?.focus();
    } catch (error) {
      if (error.name === "AbortError") return;
      if (error.status !== 0) throw error;
    }
  }
}

function row(run, isAdmin) {
  const [sign, text] = stateText(run.state);
  const address = `#/run/${encodeURIComponent(run.run)}`;
  return h(
    "tr",
    {},
    h("th", { scope: "row" }, h("a", { href: address }, run.run), h("div", { class: "soft" }, run.study)),
    h(
      "td",
      { class: `state ${run.state}` },
      h("span", { "aria-hidden": "true" }, sign),
      ` ${text}`,
      run.position ? h("span", { class: "soft" }, ` place ${run.position}`) : null,
    ),
    h("td", {}, progress(run.evaluations, run.budget)),
    isAdmin && h("td", {}, run.owner),
    h("td", {}, run.driven_s ? durationText(run.driven_s) : "–"),
    h("td", {}, dateText(run.created_unix_s)),
    h("td", {}, run.parent ? h("a", { href: `#/run/${encodeURIComponent(run.parent)}` }, run.parent) : "–"),
  );
}

/** Return a bar with its numbers. */
export function progress(done, all) {
  return h(
    "div",
    { class: "progress" },
    h("progress", { max: all || 1, value: done, "aria-label": "evaluations" }),
    h("span", {}, `${countText(done)} of ${countText(all)}`),
  );
}
