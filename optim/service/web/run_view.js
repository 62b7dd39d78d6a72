/** One run: its live front, trade-offs, ranking, and the way to a tighter one. */

import * as api from "./api.js";
import { h, notice, put } from "./elements.js";
import { frontPlot } from "./front_plot.js";
import { ladderPlot } from "./ladder_plot.js";
import { pickedCard } from "./picked_card.js";
import { rankedTable } from "./ranked_table.js";
import { RunModel } from "./run_model.js";
import { progress } from "./runs_view.js";
import { wishesPanel } from "./wishes_panel.js";
import { countText, durationText, numberText, percentText, stateText } from "./wording.js";

const ACTIONS = { pause: "Pause", resume: "Go on", cancel: "Cancel", delete: "Delete" };

export async function runView(place, { run }, { basket, models, signal }) {
  document.title = `${run} · Paretorque`;
  const [status, { study, text }] = await Promise.all([api.status(run), api.studyOf(run)]);
  const name = status.run;
  // Weights, limits and stops stay as they were when the person comes back from a candidate.
  const model = models.get(name) ?? new RunModel(name, study);
  models.set(name, model);
  const address = (number) => `#/run/${encodeURIComponent(name)}/candidate/${number}`;
  const onOpen = (number) => (location.hash = address(number));
  const block = h("dl", { class: "title-block" });
  const actions = h("div", { class: "actions" });
  const line = h(
    "p",
    { class: "line", role: "status", hidden: true },
    "the line to the service is broken; trying again",
  );
  put(
    place,
    h("div", { class: "view-head" }, h("h1", {}, study.title || study.name), actions),
    line,
    block,
    h(
      "div",
      { class: "bench" },
      h("div", { class: "pictures" }, frontPlot(model, { onOpen }), ladderPlot(model, { onOpen })),
      wishesPanel(model, { onRerun, canRerun: () => model.status?.allowed.includes("rerun") ?? false }),
    ),
    rankedTable(model, { link: address, basket }),
    aside(name, text),
    pickedCard(model, { address, basket }),
  );
  take(status);

  function take(fresh) {
    model.status = fresh;
    put(block, cells(fresh, model));
    put(
      actions,
      Object.entries(ACTIONS).map(
        ([action, words]) =>
          fresh.allowed.includes(action) &&
          h(
            "button",
            { type: "button", class: "quiet", "data-action": action, onclick: () => act(action, words) },
            words,
          ),
      ),
      h("a", { class: "button quiet", href: `#/new?from=${encodeURIComponent(name)}` }, "Change the study"),
    );
    model.dispatchEvent(new Event("change"));
  }

  async function act(action, words) {
    const isFinal = action === "cancel" || action === "delete";
    if (isFinal && !confirm(`${words} run ${name}?`)) return;
    try {
      if (action === "delete") {
        await api.remove(name);
        models.delete(name);
        location.hash = "#/";
        return;
      }
      take(await api.act(name, action));
      if (!isFollowing) await follow(); // a run that had ended goes on
    } catch (error) {
      notice(error.message, "wrong");
    }
  }

  async function onRerun(limits) {
    try {
      const fresh = await api.rerun(name, limits);
      notice(`run ${fresh.run} started; it knows everything evaluated so far`);
      location.hash = `#/run/${encodeURIComponent(fresh.run)}`;
    } catch (error) {
      notice(
        [error.message, ...error.problems.map((p) => `${p.where} ${p.given}: allowed ${p.allowed}`)].join(
          "; ",
        ),
        "wrong",
      );
    }
  }

  function onEvent(kind, content, id) {
    model.last = id; // who comes back is told only what is new
    if (kind === "points") model.add(content.points);
    else if (kind === "progress") {
      const isNew = content.state !== model.status.state;
      model.status = { ...model.status, state: content.state, evaluations: content.told, progress: content };
      put(block, cells(model.status, model));
      if (isNew) refresh();
    } else if (kind === "end") take(content);
  }

  async function refresh() {
    try {
      take(await api.status(name));
    } catch (error) {
      if (error.status !== 0) notice(error.message, "wrong");
    }
  }

  let isFollowing = false;
  async function follow() {
    isFollowing = true;
    const onLine = (isWhole) => (line.hidden = isWhole);
    await api.follow(name, { last: model.last, onEvent, onLine, signal });
    isFollowing = false;
  }
  await follow();
}

/** Return the cells of the title block: what a sheet says of itself. */
function cells(status, model) {
  const [sign, state] = stateText(status.state);
  const p = status.progress ?? {};
  const told = p.told ?? status.evaluations;
  const isRunning = status.state === "running";
  const cell = (name, ...content) => h("div", {}, h("dt", {}, name), h("dd", {}, content));
  return [
    cell("run", status.run),
    cell(
      "state",
      h(
        "span",
        { class: `state ${status.state}`, "data-state": status.state },
        h("span", { "aria-hidden": "true" }, sign),
        ` ${state}`,
      ),
      status.reason && h("span", { class: "soft" }, ` (${status.reason})`),
    ),
    cell("evaluations", progress(told, p.budget ?? status.budget)),
    isRunning && cell("speed", p.rate ? `${numberText(p.rate, 2)} /s` : "–"),
    isRunning && cell("left", durationText(p.eta ?? NaN)),
    cell("front", countText(p.front_size ?? 0)),
    cell("feasible", told ? percentText((100 * (p.feasible ?? 0)) / told) : "–"),
    cell("failed", countText(p.failed ?? 0)),
    cell("hypervolume", p.hypervolume ? numberText(p.hypervolume) : "–"),
    cell("family, model", `${model.families.join(", ")}; ${model.study.model}`),
    cell("seed", String(model.study.seed)),
    status.parent &&
      cell("from", h("a", { href: `#/run/${encodeURIComponent(status.parent)}` }, status.parent)),
  ];
}

function aside(run, text) {
  const log = h("pre", { class: "text", tabindex: 0 });
  const open = async (event) => {
    if (!event.target.open) return;
    try {
      const { lines } = await api.logOf(run);
      put(
        log,
        lines.length
          ? lines.map((l) => `${new Date(1000 * l.unix_s).toISOString().slice(0, 19)}Z  ${l.text}`).join("\n")
          : "nothing yet",
      );
    } catch (error) {
      put(log, error.message);
    }
  };
  return h(
    "section",
    { class: "panel aside" },
    h("details", {}, h("summary", {}, "Study of this run"), h("pre", { class: "text", tabindex: 0 }, text)),
    h("details", { ontoggle: open }, h("summary", {}, "Log"), log),
  );
}
