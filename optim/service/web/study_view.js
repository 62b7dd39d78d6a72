/** Write or bring a study, see its mistakes at their lines, and submit it. */

import * as api from "./api.js";
import { h, notice, put } from "./elements.js";
import { countText, durationText, plainText, title, unitText, valueText } from "./wording.js";

const WAIT = 350;

export async function studyView(place, { run }, { session, signal }) {
  document.title = "New study · Paretorque";
  const text = run
    ? (await api.studyOf(run)).text
    : (sessionStorage.getItem("paretorque.draft") ?? (await api.template()));
  const editor = h("textarea", {
    class: "editor",
    spellcheck: "false",
    autocapitalize: "off",
    autocomplete: "off",
    wrap: "off",
    "aria-label": "Study, TOML",
    "aria-describedby": "findings",
    value: text,
    oninput: () => later(),
    onscroll: () => (gutter.scrollTop = editor.scrollTop),
  });
  const gutter = h("div", { class: "gutter", "aria-hidden": "true" });
  const findings = h("div", { id: "findings", class: "findings", "aria-live": "polite" });
  const submit = h(
    "button",
    { type: "button", class: "main", "data-part": "submit", disabled: true, onclick: send },
    "Submit",
  );
  const trial = h(
    "button",
    { type: "button", class: "quiet", disabled: true, onclick: tryBaseline },
    "Try the baseline",
  );
  const baseline = h("div", { class: "baseline", "aria-live": "polite" });
  const upload = h("input", {
    type: "file",
    accept: ".toml,text/plain,application/toml",
    class: "sr-only",
    id: "upload",
    onchange: (event) => take(event.target.files[0]),
  });
  put(
    place,
    h(
      "div",
      { class: "view-head" },
      h("h1", {}, "New study"),
      h(
        "div",
        { class: "actions" },
        upload,
        h("label", { class: "button quiet", for: "upload" }, "Open a file"),
        h(
          "button",
          { type: "button", class: "quiet", onclick: async () => replace(await api.template()) },
          "Start from the example",
        ),
        h(
          "button",
          {
            type: "button",
            class: "quiet",
            onclick: () => api.saveAs(new Blob([editor.value]), "study.toml"),
          },
          "Save as a file",
        ),
      ),
    ),
    h(
      "div",
      { class: "desk" },
      h(
        "section",
        { class: "panel sheet", ondragover: (event) => event.preventDefault(), ondrop: dropped },
        h("div", { class: "editing" }, gutter, editor),
      ),
      h(
        "section",
        { class: "panel findings-panel" },
        findings,
        h("div", { class: "actions" }, trial, submit),
        baseline,
      ),
    ),
  );

  let timer = 0;
  let asking = new AbortController();
  const later = () => {
    clearTimeout(timer);
    submit.disabled = trial.disabled = true;
    timer = setTimeout(examine, WAIT);
  };

  function replace(fresh) {
    editor.value = fresh;
    put(baseline);
    examine();
  }

  async function take(file) {
    if (!file) return;
    if (file.size > session.limits.study_bytes) {
      notice(
        `${file.name} has ${countText(file.size)} bytes; allowed: ${countText(session.limits.study_bytes)}`,
        "wrong",
      );
      return;
    }
    replace(await file.text());
    upload.value = "";
  }

  function dropped(event) {
    event.preventDefault();
    take(event.dataTransfer.files[0]);
  }

  async function examine() {
    asking.abort();
    asking = new AbortController();
    signal.addEventListener("abort", () => asking.abort(), { once: true });
    sessionStorage.setItem("paretorque.draft", editor.value);
    try {
      const { is_valid: isValid, problems, study } = await api.validate(editor.value, asking.signal);
      mark(problems);
      submit.disabled = trial.disabled = !isValid;
      put(findings, isValid ? summary(study) : mistakes(problems));
    } catch (error) {
      if (error.name === "AbortError") return;
      put(findings, h("p", { class: "wrong" }, error.message), mistakes(error.problems ?? []));
    }
  }

  /** Number the lines, those with a mistake marked. */
  function mark(problems) {
    const lines = new Set(problems.map((p) => p.line));
    const count = editor.value.split("\n").length;
    put(
      gutter,
      Array.from({ length: count }, (_, k) =>
        h("div", { class: lines.has(k + 1) ? "bad" : "" }, lines.has(k + 1) ? `▸ ${k + 1}` : String(k + 1)),
      ),
    );
    gutter.scrollTop = editor.scrollTop;
  }

  function mistakes(problems) {
    return [
      h("h2", {}, problems.length === 1 ? "One mistake" : `${problems.length} mistakes`),
      h(
        "ol",
        { class: "mistakes" },
        problems.map((p) =>
          h(
            "li",
            {},
            p.line
              ? h("button", { type: "button", class: "at", onclick: () => goTo(p.line) }, `line ${p.line}`)
              : null,
            " ",
            h("code", {}, p.where),
            h("p", {}, "given ", h("b", {}, p.given), "; allowed: ", p.allowed, p.hint ? `. ${p.hint}` : ""),
          ),
        ),
      ),
    ];
  }

  function goTo(line) {
    const lines = editor.value.split("\n");
    const start = lines.slice(0, line - 1).reduce((sum, l) => sum + l.length + 1, 0);
    editor.focus();
    editor.setSelectionRange(start, start + lines[line - 1].length);
    const height = parseFloat(getComputedStyle(editor).lineHeight);
    editor.scrollTop = Math.max(0, (line - 4) * height);
  }

  async function tryBaseline() {
    trial.disabled = true;
    put(baseline, h("p", { class: "soft" }, "evaluating the baseline design …"));
    try {
      put(baseline, baselineText(await api.check(editor.value)));
    } catch (error) {
      put(baseline, h("p", { class: "wrong" }, error.message));
    }
    trial.disabled = false;
  }

  async function send() {
    submit.disabled = true;
    try {
      const fresh = await api.submit(editor.value);
      sessionStorage.removeItem("paretorque.draft");
      location.hash = `#/run/${encodeURIComponent(fresh.run)}`;
    } catch (error) {
      notice(error.message, "wrong");
      mark(error.problems);
      if (error.problems.length) put(findings, mistakes(error.problems));
      submit.disabled = false;
    }
  }

  await examine();
}

function summary(study) {
  return [
    h("h2", {}, "Ready"),
    h("p", {}, study.title || study.name),
    h(
      "dl",
      { class: "figures" },
      [
        ["family, model", `${study.family.split("+").join(", ")}; ${study.model}`],
        ["variables", countText(study.variables.length)],
        ["evaluations", countText(study.budget)],
        ["seed", String(study.seed)],
      ].map(([name, text]) => h("div", {}, h("dt", {}, name), h("dd", {}, text))),
    ),
    h("h3", {}, "Wanted"),
    h(
      "ul",
      { class: "plain" },
      study.objectives.map((o) =>
        h("li", {}, `${title(o.metric)} ${o.sense === "minimise" ? "low" : "high"}`),
      ),
    ),
    h("h3", {}, "Must hold"),
    h(
      "ul",
      { class: "plain" },
      study.limit_table.map((l) =>
        h(
          "li",
          {},
          `${title(l.metric)} ${l.relation === ">=" ? "≥" : "≤"} ${plainText(l.bound)} ${unitText(l.unit)}`,
        ),
      ),
    ),
  ];
}

function baselineText(found) {
  const { baseline } = found;
  const missed = baseline.limits.filter((l) => !l.is_met);
  return [
    h("h3", {}, "Baseline"),
    h(
      "p",
      {},
      baseline.status === "ok"
        ? missed.length
          ? `misses ${missed.map((l) => `${title(l.metric).toLowerCase()} (${valueText(l.metric, l.value)})`).join(", ")}`
          : "holds every limit"
        : `${baseline.status}: ${baseline.message}`,
    ),
    h(
      "p",
      { class: "soft" },
      `about ${durationText(found.expected_seconds)} on ${found.workers} workers; ` +
        `${countText(found.random_designs.valid)} of ${countText(found.random_designs.tried)} random designs are machines`,
    ),
  ];
}
