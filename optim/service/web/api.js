/** Speaks with the service. The only module that knows its routes and where the token is kept. */

import { EventReader } from "./event_reader.js";

const BASE = "/api/v1";
const TOKEN = "paretorque.token";

/** What the service refuses, with the mistakes of a study if there are some. */
export class ServiceError extends Error {
  constructor(status, detail, problems = []) {
    super(detail);
    this.status = status;
    this.problems = problems;
  }
}

let askForToken = async () => false;

/** Tell what to do when the service wants a token; the function resolves to whether to try again. */
export function onTokenWanted(action) {
  askForToken = action;
}

/** Keep a token for this tab only: never in a URL, gone when the tab closes. */
export function keepToken(token) {
  if (token) sessionStorage.setItem(TOKEN, token);
  else sessionStorage.removeItem(TOKEN);
}

export function hasToken() {
  return sessionStorage.getItem(TOKEN) !== null;
}

function headers(more = {}) {
  const token = sessionStorage.getItem(TOKEN);
  return token ? { ...more, Authorization: `Bearer ${token}` } : more;
}

async function ask(path, { method = "GET", body, type = "application/json", signal, accept } = {}) {
  const send = () =>
    fetch(BASE + path, {
      method,
      body,
      signal,
      headers: headers({ ...(body ? { "Content-Type": type } : {}), ...(accept ? { Accept: accept } : {}) }),
    });
  let answer = await reach(send);
  while (answer.status === 401 && (await askForToken(hasToken()))) answer = await reach(send);
  if (answer.status === 429) {
    await pause(1000 * Math.min(5, Number(answer.headers.get("Retry-After")) || 1));
    answer = await reach(send);
  }
  if (!answer.ok) throw await refusal(answer);
  return answer;
}

async function reach(send) {
  try {
    return await send();
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new ServiceError(0, "the service does not answer; it may be restarting: try again");
  }
}

async function refusal(answer) {
  try {
    const { detail, title, problems } = await answer.json();
    return new ServiceError(answer.status, detail || title, problems ?? []);
  } catch {
    return new ServiceError(answer.status, `the service answered ${answer.status}`);
  }
}

export const pause = (milliseconds) => new Promise((done) => setTimeout(done, milliseconds));

const json = async (path, options) => (await ask(path, options)).json();
const post = (path, content) => json(path, { method: "POST", body: JSON.stringify(content) });
const of = (run) => `/runs/${encodeURIComponent(run)}`;
const member = (run, candidate) => `${of(run)}/candidates/${encodeURIComponent(candidate)}`;

export const session = () => json("/session");
export const nomenclature = () => json("/nomenclature");
export const template = async () => (await json("/study-template")).text;
export const validate = (study, signal) =>
  json("/studies/validate", { method: "POST", body: JSON.stringify({ study }), signal });
export const check = (study) => post("/studies/check", { study });
export const runs = (offset = 0, signal = undefined) => json(`/runs?limit=50&offset=${offset}`, { signal });
export const submit = (study) => post("/runs", { study });
export const status = (run) => json(of(run));
export const act = (run, action) => json(`${of(run)}/${action}`, { method: "POST" });
export const remove = (run) => ask(of(run), { method: "DELETE" });
export const studyOf = (run) => json(`${of(run)}/study`);
export const logOf = (run) => json(`${of(run)}/log`);
export const rerun = (run, limits) => post(`${of(run)}/rerun`, { limits });
export const candidate = (run, number) => json(member(run, number));
export const details = (run, number) => json(`${member(run, number)}/details`);
export const explanation = (run, number) => json(`${member(run, number)}/explanation`);
export const section = async (run, number) =>
  (await ask(`${member(run, number)}/section.svg?annotated=false`, { accept: "image/svg+xml" })).text();
export const compare = (first, second) =>
  json(`/compare?first=${encodeURIComponent(first)}&second=${encodeURIComponent(second)}`);

/** Let the browser save a candidate's hand-over pack. */
export async function savePack(run, number) {
  const answer = await ask(`${member(run, number)}/pack.zip`);
  saveAs(await answer.blob(), `${run}-${number}.zip`);
}

/** Let the browser save a run's front as a table, under weights and limits as people write them. */
export async function saveFront(run, weights, limits) {
  const query = new URLSearchParams({ weights });
  for (const limit of limits) query.append("limit", limit);
  const answer = await ask(`${of(run)}/front.csv?${query}`, { accept: "text/csv" });
  saveAs(await answer.blob(), `${run}-front.csv`);
}

/** Let the browser save something under a name. */
export function saveAs(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

/**
 * Follow a run's events until it ends or `signal` aborts, after the event whose id is `last`.
 *
 * Read by fetch, since EventSource can send no token. A broken line is taken up again after the last
 * event that came whole, so nothing is lost or told twice.
 */
export async function follow(run, { last = "", onEvent, onLine, signal }) {
  for (let wait = 500; !signal.aborted; wait = Math.min(2 * wait, 8000)) {
    try {
      const answer = await fetch(`${BASE}${of(run)}/events`, {
        signal,
        headers: headers({ Accept: "text/event-stream", ...(last ? { "Last-Event-ID": last } : {}) }),
      });
      if (!answer.ok) throw await refusal(answer);
      onLine(true);
      const reader = new EventReader();
      const stream = answer.body.pipeThrough(new TextDecoderStream()).getReader();
      for (let part = await stream.read(); !part.done; part = await stream.read()) {
        wait = 500;
        for (const event of reader.read(part.value)) {
          last = event.id || last;
          onEvent(event.name, JSON.parse(event.data), last);
          if (event.name === "end") return;
        }
      }
    } catch (error) {
      if (signal.aborted) return;
      if (error.status === 401 && (await askForToken(hasToken()))) continue;
      if (error.status >= 400 && error.status < 500 && error.status !== 429) throw error;
    }
    onLine(false);
    await pause(wait);
  }
}
