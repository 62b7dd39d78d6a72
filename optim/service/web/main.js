/** Starts the page: which view an address shows, access, and what all views share. */

import * as api from "./api.js";
import { Basket } from "./basket.js";
import { candidateView } from "./candidate_view.js";
import { compareView } from "./compare_view.js";
import { h, put } from "./elements.js";
import { runView } from "./run_view.js";
import { runsView } from "./runs_view.js";
import { studyView } from "./study_view.js";
import { learn } from "./wording.js";

/** Addresses of the page: [pattern, name in the menu, view]. Each view gets (place, match, shared). */
const VIEWS = [
  [/^\/?$/, "runs", runsView],
  [/^\/new(?:\?from=(?<run>[^&]+))?$/, "new", studyView],
  [/^\/run\/(?<run>[^/]+)$/, "runs", runView],
  [/^\/run\/(?<run>[^/]+)\/candidate\/(?<number>\d+)$/, "runs", candidateView],
  [/^\/compare$/, "compare", compareView],
];

const place = document.getElementById("content");
const basket = new Basket(document.getElementById("basket-count"));
const shared = { basket, models: new Map(), session: null };
let leave = new AbortController();
let hasShown = false;

async function show() {
  if (location.hash && !location.hash.startsWith("#/")) return;
  leave.abort();
  leave = new AbortController();
  const address = location.hash.slice(1);
  for (const [pattern, name, view] of VIEWS) {
    const match = pattern.exec(address);
    if (!match) continue;
    for (const link of document.querySelectorAll("nav a")) {
      if (link.dataset.page === name) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
    const found = Object.fromEntries(
      Object.entries(match.groups ?? {}).map(([k, v]) => [k, v && decodeURIComponent(v)]),
    );
    const fresh = h("div", { class: "view" });
    put(place, fresh);
    scrollTo(0, 0);
    if (hasShown) place.focus({ preventScroll: true }); // a new view is read from its beginning
    hasShown = true;
    try {
      await view(fresh, found, { ...shared, signal: leave.signal });
    } catch (error) {
      if (error.name !== "AbortError") put(fresh, wrong(error));
    }
    return;
  }
  put(place, wrong(new Error(`there is no page ${address}`)));
}

function wrong(error) {
  return h(
    "section",
    { class: "panel wrong", role: "alert" },
    h("h1", {}, error.status === 404 ? "Not there" : "That did not work"),
    h("p", {}, error.message),
    h("p", {}, h("a", { href: "#/" }, "All runs")),
  );
}

const dialog = document.getElementById("access-dialog");
const field = document.getElementById("access-token");

/** Ask for a token; resolves to whether one was given. */
function askForToken(wasWrong) {
  put(
    document.getElementById("access-text"),
    wasWrong
      ? "The service does not know this token. Its keeper makes one with: paretorque token add NAME"
      : "The service knows people by a token. Its keeper makes one with: paretorque token add NAME",
  );
  field.value = "";
  if (!dialog.open) dialog.showModal();
  field.focus();
  return new Promise((done) => {
    dialog.addEventListener(
      "close",
      () => {
        const isGiven = dialog.returnValue === "use" && field.value.trim() !== "";
        if (isGiven || dialog.returnValue === "forget") api.keepToken(isGiven ? field.value.trim() : "");
        field.value = "";
        done(isGiven);
      },
      { once: true },
    );
  });
}

// Enter in the field means the token is given, not the first button of the form.
field.addEventListener("keydown", (event) => {
  if (event.key === "Enter") {
    event.preventDefault();
    dialog.close("use");
  }
});

let asking = null;
api.onTokenWanted((wasWrong) => {
  asking ??= askForToken(wasWrong).finally(() => (asking = null));
  return asking;
});

document.getElementById("access").addEventListener("click", async () => {
  if (await askForToken(false)) await start();
});

async function start() {
  try {
    shared.session = await api.session();
    learn(await api.nomenclature());
    const { owner, version, physics_version: physics } = shared.session;
    put(document.getElementById("access"), owner);
    put(document.getElementById("version"), `Paretorque ${version}, physics version ${physics}`);
    await show();
  } catch (error) {
    put(place, wrong(error));
  }
}

addEventListener("hashchange", () => shared.session && show());
await start();
